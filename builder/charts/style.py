"""Colours of the charts for both modes: the single source of the theme's chart variables."""

from __future__ import annotations

from dataclasses import dataclass
from enum import IntEnum
from typing import Any

from builder.charts.frame import HEADING, PAGE_TEXT
from builder.core.results import SENSORS


class Slot(IntEnum):
    """Place of a series in the palette: the same thing has the same colour, shape and dash in every chart."""

    CORE = 1
    HOTSPOT = 2
    MEMORY = 3
    AMBIENT = 4
    COOLANT = 5
    POWER = 6
    FRAMES = 7
    SUBJECT = 8
    OTHERS = 9


# What each colour means, on the whole site. A test holds the charts of the demo against it.
MEANINGS = {
    Slot.CORE: "the card's core",
    Slot.HOTSPOT: "the card's hotspot",
    Slot.MEMORY: "the card's memory",
    Slot.AMBIENT: "the room",
    Slot.COOLANT: "the coolant",
    Slot.POWER: "board power",
    Slot.FRAMES: "frame rate",
    Slot.SUBJECT: "what the page is about; a retest outside its limits",
    Slot.OTHERS: "what it is compared with; a retest inside its limits",
}

SENSOR_SLOTS = dict(zip(SENSORS, (Slot.CORE, Slot.HOTSPOT, Slot.MEMORY), strict=True))


@dataclass(frozen=True, kw_only=True)
class Palette:
    """Colours of one mode; `series` holds one colour for each slot, in order."""

    name: str
    paper: str
    ink: str
    ink_soft: str
    line: str
    window: str
    series: tuple[str, ...]


# Found by a search that keeps every pair apart for full, protan and deutan vision (the tests state the distances).
LIGHT = Palette(
    name="light",
    paper="#fbfaf5",
    ink="#23261f",
    ink_soft="#5a5e54",
    line="#c9c8bd",
    window="#ece8d8",
    series=("#d35765", "#7e5b00", "#5e7ce1", "#374036", "#1b919c", "#853f9c", "#0e2a63", "#54378a", "#7f827a"),
)
DARK = Palette(
    name="dark",
    paper="#15181c",
    ink="#eceae1",
    ink_soft="#a9ada6",
    line="#434850",
    window="#282d33",
    series=("#ff8a78", "#a87e10", "#7a9bff", "#e4eadd", "#58c9bd", "#9a66bd", "#b5e04a", "#c5b2f3", "#858a83"),
)
# On a page the colours are the theme's, so that one picture serves both modes.
PAGE = Palette(
    name="page",
    paper="var(--paper)",
    ink="var(--ink)",
    ink_soft="var(--ink-soft)",
    line="var(--line)",
    window="var(--window)",
    series=tuple(f"var(--chart-{int(slot)})" for slot in Slot),
)


def variables(palette: Palette) -> dict[str, str]:
    """Return the palette as CSS custom properties, name to value."""
    named = {
        "--paper": palette.paper,
        "--ink": palette.ink,
        "--ink-soft": palette.ink_soft,
        "--line": palette.line,
        "--window": palette.window,
    }
    return named | {f"--chart-{slot}": colour for slot, colour in enumerate(palette.series, start=1)}


def css_variables(palette: Palette) -> str:
    """Return the palette as CSS declarations, one a line, to stand inside a rule.

    >>> css_variables(LIGHT).splitlines()[0]
    '--paper: #fbfaf5;'
    """
    return "\n".join(f"{name}: {value};" for name, value in variables(palette).items())


# --- Colours, lines and text sizes of all charts: everything that a palette or a picture size decides


# Embedded in the renderer and metric-compatible with the fallbacks, so a picture is the same on every machine.
FONT = "Liberation Sans, Arial, Helvetica, sans-serif"
SHAPES = (
    *("circle", "diamond", "square", "triangle-up", "cross", "triangle-down"),  # quantities
    *("triangle-right", "square", "circle"),  # frame rate, coolers
)


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
        "interval": {"strokeWidth": 3.4 * unit, "strokeOpacity": 0.65},
        "tie": {"color": palette.ink, "strokeWidth": 2.2 * unit},
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
