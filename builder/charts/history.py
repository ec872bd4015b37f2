"""Retests of the reference cooler over the years: single values with their mean and limits."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterator
from dataclasses import dataclass, replace
from functools import cache, partial

from builder.charts import chart
from builder.charts.chart import (
    Chart,
    ChartTable,
    Content,
    Note,
    Reading,
    Row,
    Spec,
    axis_room,
    axis_values,
    finish,
    heading,
    plain,
    said_note,
    two_units,
)
from builder.charts.frame import COMPACT, Frame, Margins, Plot, Scale, plot_area, scale
from builder.charts.labels import clean_text, spread, text_width
from builder.charts.style import Slot
from builder.charts.two_units import Axis, Said, Turn, as_it_is, exact, said, turned
from builder.comparison.stability import FEW
from builder.core.quantity import Estimate, format_estimate
from builder.core.results import FIGURES

MONTHS = ("Jan", "Feb", "Mar", "Apr", "May", "Jun", "Jul", "Aug", "Sep", "Oct", "Nov", "Dec")
MONTH_STEPS = (1, 2, 3, 6, 12, 24, 60, 120)
INSIDE, OUTSIDE = Slot.MEMORY, Slot.CORE


@dataclass(frozen=True, kw_only=True)
class RetestPoint:
    """One test of the reference cooler; `outside` says that it lies outside the limits."""

    tested: dt.date
    estimate: Estimate
    outside: bool = False
    bench: str = ""


@dataclass(frozen=True, kw_only=True)
class BenchHistory:
    """What the chart of the bench shows: one figure kind (id of `FIGURES`), oldest test first, mean and limits.

    `provisional` says that the limits rest on few tests, so that the next one may move them.
    """

    id: str
    title: str
    figure: str
    retests: tuple[RetestPoint, ...]
    mean: float
    lower: float
    upper: float
    provisional: bool


def history_chart(history: BenchHistory) -> Chart:
    """Return the individuals chart of a bench; the limits are those given, the bars 95 % of each test."""
    return Chart(
        id=history.id,
        title=history.title,
        description=_describe(history),
        table=_table(history),
        frames=(COMPACT,),
        there=Reading(description=_describe(history, turned), table=_table(history, turned)),
        draw=partial(_draw, history),
        fahrenheit=two_units((partial(_words, retest), retest.estimate) for retest in history.retests),
    )


def _unit(history: BenchHistory) -> str:
    return FIGURES[history.figure].unit


def _describe(history: BenchHistory, turn: Turn = as_it_is) -> str:
    mean, low, high = (plain(turn(exact(v, _unit(history))), 1) for v in (history.mean, history.lower, history.upper))
    outside = [retest.tested.isoformat() for retest in history.retests if retest.outside]
    finding = f"Outside the limits: {', '.join(outside)}." if outside else "All lie inside the limits."
    few = f" The limits are provisional: they rest on fewer than {FEW} tests." if history.provisional else ""
    return f"{len(history.retests)} tests of the reference cooler: mean {mean}, limits {low} and {high}. {finding}{few}"


def _table(history: BenchHistory, turn: Turn = as_it_is) -> ChartTable:
    rows = tuple(
        (r.tested.isoformat(), r.bench, format_estimate(turn(r.estimate)), "outside" if r.outside else "inside")
        for r in history.retests
    )
    return ChartTable(
        caption=history.title, columns=("Tested", "Bench", FIGURES[history.figure].name, "Limits"), rows=rows
    )


# --- drawing ---------------------------------------------------------------------------------------------------


def _draw(history: BenchHistory, frame: Frame) -> Spec:
    y = scale(_heights(history), pad=0.08).of(_unit(history))
    right = max(frame.room(*(level.words for level in _levels(history))) + frame.em(0.9), frame.em(7))
    margins = Margins(left=axis_room(y, frame), top=frame.em(2), right=right, bottom=frame.em(2.2))
    plot = plot_area(frame, margins, frame.em(13))
    days = [float(retest.tested.toordinal()) for retest in history.retests]
    x = scale(days, pad=0.05)
    dates = list(_date_ticks(x, plot, frame))
    ticks = tuple(float(day.toordinal()) for day in dates)
    content = Content(
        values={**axis_values("x", replace(x, ticks=ticks)), **axis_values("y", y)},
        data=_data(history),
        notes=[
            said_note(_axis(history).name, x=-frame.em(2.6), y=-frame.em(1.1), style="soft"),
            *_date_notes(dates, x, plot, frame),
            *_level_notes(history, y, plot, frame),
            *heading(frame, plot, history.title),
        ],
        across=(x,),
        upright=(y,),
    )
    return finish(_template(), plot, content)


def _axis(history: BenchHistory) -> Axis:
    return Axis(words=f"{FIGURES[history.figure].name}, {{}}", unit=_unit(history))


def _heights(history: BenchHistory) -> Iterator[float]:
    yield from (history.mean, history.lower, history.upper)
    for retest in history.retests:
        half = retest.estimate.expanded()
        yield from (retest.estimate.value - half, retest.estimate.value + half)


def _data(history: BenchHistory) -> dict[str, list[Row]]:
    return {
        "mean": [{"y": history.mean}],
        "limits": [{"y": history.lower}, {"y": history.upper}],
        "points": [_point_row(retest) for retest in history.retests],
    }


def _point_row(retest: RetestPoint) -> Row:
    value, half = retest.estimate.value, retest.estimate.expanded()
    return {
        "x": float(retest.tested.toordinal()),
        "y": value,
        "lo": value - half,
        "hi": value + half,
        "c": str(int(OUTSIDE if retest.outside else INSIDE)),
        "d": clean_text(_words(retest, retest.estimate)),
    }


def _words(retest: RetestPoint, figure: Estimate) -> str:
    place = ", outside the limits" if retest.outside else ""
    return f"{retest.tested.isoformat()}: {format_estimate(figure)}{place}"


@dataclass(frozen=True, kw_only=True)
class _Level:
    value: float
    words: Said


def _levels(history: BenchHistory) -> list[_Level]:
    levels = (("limit", history.upper), ("mean", history.mean), ("limit", history.lower))
    return [_Level(value=value, words=_level_words(name, exact(value, _unit(history)))) for name, value in levels]


def _level_words(name: str, level: Estimate) -> Said:
    return said(lambda turn: f"{name} {plain(turn(level), 1)}")


def _level_notes(history: BenchHistory, y: Scale, plot: Plot, frame: Frame) -> Iterator[Note]:
    levels = _levels(history)
    wishes = [plot.height - y.place(level.value, plot.height) for level in levels]
    for level, height in zip(levels, spread(wishes, frame.em(1.25), 0, plot.height), strict=True):
        yield said_note(level.words, x=plot.width + frame.em(0.6), y=height, style="soft")


# --- dates -----------------------------------------------------------------------------------------------------


def _date_ticks(x: Scale, plot: Plot, frame: Frame) -> list[dt.date]:
    """Return first days of months, as many as their names have room for."""
    most = max(int(plot.width / text_width("Mmm 2000 ", frame.text)), 1)
    return next((days for step in MONTH_STEPS if len(days := _firsts(x, step)) <= most), [])


def _firsts(x: Scale, months: int) -> list[dt.date]:
    start, end = dt.date.fromordinal(round(x.low)), dt.date.fromordinal(round(x.high))
    count = range(start.year * 12, end.year * 12 + 12, months)
    days = (dt.date(month // 12, month % 12 + 1, 1) for month in count)
    return [day for day in days if x.low <= day.toordinal() <= x.high]


def _date_notes(dates: list[dt.date], x: Scale, plot: Plot, frame: Frame) -> Iterator[Note]:
    for day in dates:
        place = x.place(day.toordinal(), plot.width)
        text = f"{MONTHS[day.month - 1]} {day.year}"
        yield Note(x=place, y=plot.height + frame.em(1.1), text=text, align="center", style="soft")


# --- template --------------------------------------------------------------------------------------------------


@cache
def _template() -> Spec:
    import altair as alt

    x = alt.X("x:Q", scale=chart.scale("x"), axis=chart.axis("x", labels=False))
    y = alt.Y("y:Q", scale=chart.scale("y"), axis=chart.axis("y"))
    points = chart.named("points")
    parts = [
        chart.named("mean").mark_rule(style="zero", aria=False).encode(y=y),
        chart.named("limits").mark_rule(style="limit", aria=False).encode(y=y),
        points.mark_line(style="guide", aria=False).encode(x=x, y=y),
        points.mark_rule(style="interval", aria=False).encode(x=x, y="lo:Q", y2="hi:Q", color=chart.slot_colour()),
        points.mark_point(style="dot", filled=True).encode(
            x=x, y=y, color=chart.slot_colour(), shape=chart.slot_shape(), description="d:N"
        ),
    ]
    return alt.layer(*parts, *chart.texts()).to_dict()
