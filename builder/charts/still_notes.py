"""What a still carries because no page stands around it: heading, foot note, mark of runs that had not settled."""

from __future__ import annotations

from dataclasses import replace
from functools import partial

from builder.charts.chart import Chart, Spec
from builder.charts.frame import HEADING, Frame, Plot
from builder.charts.labels import clean_text, shorten, text_width
from builder.charts.vega import Note

_PAD = 1.6  # text sizes from the edge of a still to what stands there
_LONGEST_MARK = 0.45  # of a still's width


def heading(frame: Frame, plot: Plot, title: str) -> list[Note]:
    """Return the heading of a still; nothing for a page, which has a caption."""
    if not frame.still:
        return []
    y = frame.em(_PAD) + frame.em(0.6) - plot.top
    text = shorten(clean_text(title), plot.outer_width - frame.em(2 * _PAD), frame.text * HEADING)
    return [Note(x=frame.em(_PAD) - plot.left, y=y, text=text, style="heading")]


def foot(frame: Frame, plot: Plot, text: str) -> list[Note]:
    """Return a note at the left of a still's foot, beside the name of the axis; nothing for a page or without text."""
    if not frame.still or not text:
        return []
    y = frame.height - frame.em(_PAD) - frame.em(0.9) - plot.top
    return [Note(x=frame.em(_PAD) - plot.left, y=y, text=text, style="strong")]


def marked(chart: Chart, mark: str) -> Chart:
    """Return a chart whose stills carry a mark at the right of their heading, which makes room for it."""
    return replace(
        chart, draw=partial(_draw_marked, chart, clean_text(mark)), description=f"{chart.description} {mark}"
    )


def _draw_marked(chart: Chart, mark: str, frame: Frame) -> Spec:
    spec = chart.draw(frame)
    datasets, padding, edge = spec["datasets"], spec["padding"], frame.em(_PAD)
    text = shorten(mark, frame.width * _LONGEST_MARK, frame.text)
    room = frame.width - 2 * edge - text_width(text, frame.text) - frame.em(1)
    headings = [{**row, "t": shorten(str(row["t"]), room, frame.text * HEADING)} for row in datasets["headings"]]
    x, y = frame.width - edge - padding["left"], edge + frame.em(0.6) - padding["top"]
    strongs = [*datasets["strongs"], Note(x=x, y=y, text=text, align="right").row]
    return {**spec, "datasets": {**datasets, "headings": headings, "strongs": strongs}}
