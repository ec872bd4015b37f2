"""Frames per joule against frame rate: what each step of power buys."""

from __future__ import annotations

from dataclasses import dataclass
from functools import partial

from builder.charts.base import Chart, ChartTable, cell
from builder.charts.frame import COMPACT
from builder.charts.palette import Slot
from builder.charts.said import Axis
from builder.charts.scatter import Group, Point, ScatterChart, draw_scatter
from builder.quantity import Estimate, format_estimate


@dataclass(frozen=True, kw_only=True)
class SweepPoint:
    """A test point of the sweep: board power in W, frame rate in 1/s, frames per joule in 1/J."""

    name: str
    power: Estimate
    frame_rate: Estimate
    per_joule: Estimate
    joined: bool = True  # the line joins it to its neighbours in power: a step of the limit and nothing else


@dataclass(frozen=True, kw_only=True)
class Sweep:
    """What the chart of efficiency shows."""

    id: str
    title: str
    points: tuple[SweepPoint, ...]


def efficiency_chart(sweep: Sweep) -> Chart:
    """Return the chart of frames per joule against frame rate; bars are 95 %, a line joins the steps of the limit."""
    ordered = tuple(sorted(sweep.points, key=lambda point: point.power.value))
    return Chart(
        id=sweep.id,
        title=sweep.title,
        description=_describe(ordered),
        table=_table(sweep.title, ordered),
        frames=(COMPACT,),
        draw=partial(draw_scatter, _scatter(sweep.title, ordered)),
    )


def _describe(ordered: tuple[SweepPoint, ...]) -> str:
    if not ordered:
        return "No test point has both a frame rate and a board power."
    best = max(ordered, key=lambda point: point.per_joule.value)
    fastest = max(ordered, key=lambda point: point.frame_rate.value)
    return f"Most frames per joule: {_said(best)}. Highest frame rate: {_said(fastest)}."


def _said(point: SweepPoint) -> str:
    return f"{point.name}, {format_estimate(point.per_joule)} at {format_estimate(point.frame_rate)}"


def _table(title: str, ordered: tuple[SweepPoint, ...]) -> ChartTable:
    rows = tuple((p.name, cell(p.power), cell(p.frame_rate), cell(p.per_joule)) for p in ordered)
    return ChartTable(caption=title, columns=("Test point", "Board power", "Frame rate", "Frames per joule"), rows=rows)


def _scatter(title: str, ordered: tuple[SweepPoint, ...]) -> ScatterChart:
    points = tuple(_point(p) for p in ordered)
    group = Group(name="", slot=Slot.POWER, points=points)
    x, y = Axis(words="Frame rate, {}", unit="1/s"), Axis(words="Frames per joule", unit="1/J")
    return ScatterChart(title=title, x_axis=x, y_axis=y, groups=(group,))


def _point(point: SweepPoint) -> Point:
    words = f"{_said(point)}, {format_estimate(point.power)}"
    return Point(name=point.name, x=point.frame_rate, y=point.per_joule, words=words, joined=point.joined)
