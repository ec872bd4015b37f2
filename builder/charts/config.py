"""Colours, lines and text sizes of all charts: everything that a palette or a picture size decides."""

from __future__ import annotations

from typing import Any

from builder.charts.frame import HEADING, PAGE_TEXT
from builder.charts.palette import Palette

# Embedded in the renderer and metric-compatible with the fallbacks, so a picture is the same on every machine.
FONT = "Liberation Sans, Arial, Helvetica, sans-serif"
SHAPES = ("circle", "diamond", "square", "triangle-up", "cross", "triangle-down")


def config(palette: Palette, text: float) -> dict[str, Any]:
    """Return the Vega-Lite configuration for a palette and a text size in picture units."""
    unit = text / PAGE_TEXT
    return {
        "background": "transparent",
        "font": FONT,
        "view": {"stroke": None},
        "range": {"category": list(palette.series), "symbol": list(SHAPES)},
        "axis": _axis(palette, text, unit),
        "axisY": {"domain": False, "ticks": False},
        "style": _styles(palette, text, unit),
    }


def _axis(palette: Palette, text: float, unit: float) -> dict[str, Any]:
    return {
        "domainColor": palette.ink_soft,
        "domainWidth": unit,
        "gridColor": palette.line,
        "gridWidth": 0.7 * unit,
        "labelColor": palette.ink_soft,
        "labelFlush": False,
        "labelFontSize": text,
        "labelOverlap": False,
        "labelPadding": 4 * unit,
        "tickColor": palette.ink_soft,
        "tickSize": 4 * unit,
        "tickWidth": unit,
    }


def _styles(palette: Palette, text: float, unit: float) -> dict[str, Any]:
    return {
        **_text_styles(palette, text),
        "window": {"color": palette.window, "fill": palette.window},
        "edge": {"color": palette.ink_soft, "strokeWidth": unit, "strokeDash": [2 * unit, 2 * unit]},
        "band": {"fillOpacity": 0.28, "strokeWidth": 0},
        "trace": {"strokeWidth": 1.7 * unit, "strokeJoin": "round"},
        "guide": {"color": palette.line, "strokeWidth": unit},
        "zero": {"color": palette.ink_soft, "strokeWidth": unit},
        "interval": {"strokeWidth": 1.8 * unit},
        "dot": {"size": 62 * unit * unit, "strokeWidth": 0, "opacity": 1},
        "key": {"size": 62 * unit * unit, "strokeWidth": 0, "opacity": 1},
        "swatch": {"opacity": 1, "size": (1.2 * text) ** 2, "strokeWidth": 1.9 * unit},
        "fit": {"strokeWidth": 1.8 * unit},
        "path": {"strokeWidth": unit, "strokeDash": [3 * unit, 2.5 * unit]},
        "limit": {"color": palette.ink_soft, "strokeWidth": 1.2 * unit, "strokeDash": [6 * unit, 3 * unit]},
        "bar": {"fillOpacity": 0.75},
    }


def _text_styles(palette: Palette, text: float) -> dict[str, Any]:
    base = {"fontSize": text, "baseline": "middle"}
    return {
        "label": base | {"color": palette.ink, "fill": palette.ink},
        "strong": base | {"color": palette.ink, "fill": palette.ink, "fontWeight": "bold"},
        "soft": base | {"color": palette.ink_soft, "fill": palette.ink_soft},
        "heading": base | {"color": palette.ink, "fill": palette.ink, "fontSize": text * HEADING},
    }
