"""The charts of a bundle as stills, marked where a run had not settled."""

from __future__ import annotations

from dataclasses import replace
from functools import partial

from builder.charts.chart import Chart, Spec, tenth
from builder.charts.frame import HEADING, Frame
from builder.charts.labels import clean_text, shorten, text_width

_PAD = 1.6  # text sizes from the edge of a still to its heading
_LONGEST_MARK = 0.45  # of a still's width


# --- a note ---------------------------------------------------------------------------------------------------


def noted(chart: Chart, note: str) -> Chart:
    """Return a chart whose stills carry a note at the left of their foot, beside the name of the axis."""
    return replace(chart, draw=partial(_draw_noted, chart, note))


def _draw_noted(chart: Chart, note: str, frame: Frame) -> Spec:
    spec = chart.draw(frame)
    edge = frame.em(_PAD)
    place = {
        "px": tenth(edge - spec["padding"]["left"]),
        "py": tenth(frame.height - edge - frame.em(0.9) - spec["padding"]["top"]),
        "a": "left",
        "t": note,
        "f": "",
    }
    return {**spec, "datasets": {**spec["datasets"], "strongs": [*spec["datasets"]["strongs"], place]}}


# --- the mark --------------------------------------------------------------------------------------------------


def marked(chart: Chart, mark: str) -> Chart:
    """Return a chart whose stills carry a mark at the right of their heading, which makes room for it."""
    return replace(
        chart, draw=partial(_draw_marked, chart, clean_text(mark)), description=f"{chart.description} {mark}"
    )


def _draw_marked(chart: Chart, mark: str, frame: Frame) -> Spec:
    spec = chart.draw(frame)
    edge = frame.em(_PAD)
    text = shorten(mark, frame.width * _LONGEST_MARK, frame.text)
    room = frame.width - 2 * edge - text_width(text, frame.text) - frame.em(1)
    headings = [
        {**row, "t": shorten(str(row["t"]), room, frame.text * HEADING)} for row in spec["datasets"]["headings"]
    ]
    place = {
        "px": tenth(frame.width - edge - spec["padding"]["left"]),
        "py": tenth(edge + frame.em(0.6) - spec["padding"]["top"]),
        "a": "right",
        "t": text,
        "f": "",
    }
    strongs = [*spec["datasets"]["strongs"], place]
    return {**spec, "datasets": {**spec["datasets"], "headings": headings, "strongs": strongs}}
