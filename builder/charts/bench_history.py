"""Retests of the reference cooler over the years: single values with their mean and limits."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from functools import cache, partial
from itertools import chain

from builder.charts import vega
from builder.charts.chart import Chart, ChartTable, Reading, Row, Spec, chart_of, interval, plain
from builder.charts.frame import Frame, Margins, Plot, Scale, plot_area, scale
from builder.charts.labels import clean_text, spread, text_width
from builder.charts.still_notes import heading
from builder.charts.style import Slot
from builder.charts.two_units import Axis, Said, Turn, exact, said
from builder.charts.vega import Content, Note, axis_room, axis_values, finish, said_note
from builder.comparison.bench_stability import FEW
from builder.core.quantity import Estimate, format_estimate
from builder.core.results import FIGURES

MONTHS = ("Jan", "Feb", "Mar", "Apr", "May", "Jun", "Jul", "Aug", "Sep", "Oct", "Nov", "Dec")
MONTH_STEPS = (1, 2, 3, 6, 12, 24, 60, 120)
INSIDE, OUTSIDE = Slot.OTHERS, Slot.SUBJECT


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
    marks = ((partial(_words, retest), retest.estimate) for retest in history.retests)
    return chart_of(history.id, history.title, partial(_read, history), partial(_draw, history), marks=marks)


def _read(history: BenchHistory, turn: Turn) -> Reading:
    figure = FIGURES[history.figure]
    mean, low, high = (plain(turn(exact(v, figure.unit)), 1) for v in (history.mean, history.lower, history.upper))
    outside = [retest.tested.isoformat() for retest in history.retests if retest.outside]
    finding = f"Outside the limits: {', '.join(outside)}." if outside else "All lie inside the limits."
    few = f" The limits are provisional: they rest on fewer than {FEW} tests." if history.provisional else ""
    tests = f"{len(history.retests)} tests of the reference cooler"
    rows = tuple(
        (r.tested.isoformat(), r.bench, format_estimate(turn(r.estimate)), "outside" if r.outside else "inside")
        for r in history.retests
    )
    return Reading(
        description=f"{tests}: mean {mean}, limits {low} and {high}. {finding}{few}",
        table=ChartTable(caption=history.title, columns=("Tested", "Bench", figure.name, "Limits"), rows=rows),
    )


# --- drawing ---------------------------------------------------------------------------------------------------


def _draw(history: BenchHistory, frame: Frame) -> Spec:
    figure, levels = FIGURES[history.figure], _levels(history)
    reach = chain((history.mean, history.lower, history.upper), *(interval(r.estimate) for r in history.retests))
    y = scale(reach, pad=0.08).of(figure.unit)
    right = max(frame.room(*(level.words for level in levels)) + frame.em(0.9), frame.em(7))
    margins = Margins(left=axis_room(y, frame), top=frame.em(2), right=right, bottom=frame.em(2.2))
    plot = plot_area(frame, margins, frame.em(13))
    x = scale([float(retest.tested.toordinal()) for retest in history.retests], pad=0.05)
    dates = _date_ticks(x, plot, frame)
    dated = replace(x, ticks=tuple(float(day.toordinal()) for day in dates))
    name = Axis(words=f"{figure.name}, {{}}", unit=figure.unit).name
    content = Content(
        values={**axis_values("x", dated), **axis_values("y", y)},
        data={
            "mean": [{"y": history.mean}],
            "limits": [{"y": history.lower}, {"y": history.upper}],
            "points": [_point_row(retest) for retest in history.retests],
        },
        notes=[
            said_note(name, x=-frame.em(2.6), y=-frame.em(1.1), style="soft"),
            *_date_notes(dates, x, plot, frame),
            *_level_notes(levels, y, plot, frame),
            *heading(frame, plot, history.title),
        ],
        across=(x,),
        upright=(y,),
    )
    return finish(_template(), plot, content)


def _point_row(retest: RetestPoint) -> Row:
    low, high = interval(retest.estimate)
    return {
        "x": float(retest.tested.toordinal()),
        "y": retest.estimate.value,
        "lo": low,
        "hi": high,
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
    def level(name: str, value: float) -> _Level:
        number = exact(value, FIGURES[history.figure].unit)
        return _Level(value=value, words=said(lambda turn: f"{name} {plain(turn(number), 1)}"))

    return [level("limit", history.upper), level("mean", history.mean), level("limit", history.lower)]


def _level_notes(levels: Sequence[_Level], y: Scale, plot: Plot, frame: Frame) -> Iterator[Note]:
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

    x = alt.X("x:Q", scale=vega.scale("x"), axis=vega.axis("x", labels=False))
    y = alt.Y("y:Q", scale=vega.scale("y"), axis=vega.axis("y"))
    points = vega.named("points")
    parts = [
        vega.named("mean").mark_rule(style="zero", aria=False).encode(y=y),
        vega.named("limits").mark_rule(style="limit", aria=False).encode(y=y),
        points.mark_line(style="guide", aria=False).encode(x=x, y=y),
        points.mark_rule(style="interval", aria=False).encode(x=x, y="lo:Q", y2="hi:Q", color=vega.slot_colour()),
        vega.dots("points", x, y),
    ]
    return alt.layer(*parts, *vega.texts()).to_dict()
