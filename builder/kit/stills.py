"""The charts of a bundle as stills, marked where a run had not settled."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from functools import partial

from builder.charts import (
    Chart,
    Frame,
    NamedCooler,
    changes_chart,
    cooler_figures,
    coolers_chart,
    efficiency_chart,
    fitted_lines,
    point_changes,
    point_rises,
    points_chart,
    power_chart,
    power_sweep,
    run_chart,
    run_traces,
)
from builder.charts.base import Spec, tenth
from builder.charts.frame import HEADING
from builder.charts.text import clean_text, shorten, text_width
from builder.compare import Ranking, Tested, group_of, ranking
from builder.figures import Quantity
from builder.model import PointRole
from builder.views.subject import Subject, settled
from builder.views.text import count

_ENOUGH = 2  # a chart of one value says no more than the value
_PAD = 1.6  # text sizes from the edge of a still to its heading
_LONGEST_MARK = 0.45  # of a still's width
_TIES = "The same letter: too close to call"  # a page says so in the words beside its chart


def unsettled_mark(subject: Subject) -> str:
    """Return what every still of a result says where a run under load had not settled; empty where all had."""
    points = [p for p in subject.result.points if not settled(p) and subject.role(p.point) is not PointRole.IDLE]
    if not points:
        return ""
    more = f" and {count(len(points) - 1, 'more', 'more')}" if len(points) > 1 else ""
    return f"run not settled: {points[0].name}{more}"


def still_charts(subject: Subject, tested: Tested) -> tuple[Chart, ...]:
    """Return the charts that a result's figures suffice for; ids name the files."""
    mark = unsettled_mark(subject)
    charts = [chart for chart in _charts(subject, tested) if chart]
    return tuple(marked(chart, mark) if mark else chart for chart in charts)


def _charts(subject: Subject, tested: Tested) -> Iterator[Chart | None]:
    yield _coolers(subject, tested)
    rises = point_rises(subject.result, id="points", title=f"{subject.title}: rise over ambient")
    measured = [p for p in rises.points if p.core or p.hotspot or p.memory]
    yield points_chart(replace(rises, points=tuple(measured))) if len(measured) >= _ENOUGH else None
    yield _changes(subject)
    yield _power(subject)
    sweep = power_sweep(
        subject.result, subject.protocol, id="efficiency", title=f"{subject.title}: frames per joule and frame rate"
    )
    yield efficiency_chart(sweep) if len(sweep.points) >= _ENOUGH else None
    yield _run(subject)


def _coolers(subject: Subject, tested: Tested) -> Chart | None:
    if subject.stock is None:
        return None
    found = ranking(tested, group_of(tested, subject.id, subject.stock.point), "core_rise")
    if len(found.rows) < _ENOUGH or subject.id not in {row.bundle for row in found.rows}:
        return None
    title = f"Core over ambient on the {subject.card.name} at {found.group.name}"
    figures = cooler_figures(found, _names(found, tested), id="coolers", title=title, here=subject.id)
    tied = any(cooler.tie for cooler in figures.coolers)
    return noted(coolers_chart(figures), _TIES) if tied else coolers_chart(figures)


def _names(found: Ranking, tested: Tested) -> dict[str, NamedCooler]:
    return {
        row.bundle: NamedCooler(name=short_name(row.bundle, tested), kind=tested.cooler(row.bundle).kind)
        for row in found.rows
    }


def short_name(bundle: str, tested: Tested) -> str:
    """Return the cooler's name, with the month where the full label carries a day."""
    name = tested.cooler(bundle).name
    return name if tested.label(bundle) == name else f"{name}, {tested.bundle(bundle).tested:%Y-%m}"


def _changes(subject: Subject) -> Chart | None:
    changes = point_changes(subject.result, id="changes", title=f"{subject.title}: change from stock")
    closing = {p.name for p in subject.protocol.points if p.role is PointRole.CLOSING}
    shown = [
        p
        for p in changes.points
        if p.name not in closing and any(c and c.percent for c in (p.power, p.core_rise, p.frame_rate))
    ]
    return changes_chart(replace(changes, points=tuple(shown))) if shown else None


def _power(subject: Subject) -> Chart | None:
    lines = fitted_lines(subject.result, id="power", title=f"{subject.title}: rise against board power")
    drawn = tuple(line for line in lines.lines if len(line.points) >= _ENOUGH)
    return power_chart(replace(lines, lines=drawn)) if drawn else None


def _run(subject: Subject) -> Chart | None:
    stock = subject.stock
    run = stock.runs[0] if stock and stock.runs else None
    temperatures = {Quantity.CORE_TEMPERATURE, Quantity.HOTSPOT_TEMPERATURE, Quantity.MEMORY_TEMPERATURE}
    if stock is None or run is None or not temperatures & set(run.traces):
        return None
    return run_chart(run_traces(run, id="run", title=f"{subject.title}: the run at {stock.name}"))


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
