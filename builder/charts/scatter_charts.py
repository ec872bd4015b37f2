"""Rise against board power: points with uncertainty in both, the fitted line, and its band inside the tested range."""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass
from functools import partial

from builder.charts.chart import Chart, ChartTable, Reading, cell, plain, two_units
from builder.charts.frame import COMPACT
from builder.charts.scatter import Curve, Group, Point, ScatterChart, draw_scatter
from builder.charts.style import Slot
from builder.charts.two_units import Axis, Turn, as_it_is, exact, turned
from builder.core.quantity import Estimate, format_estimate

STEPS = 24  # parts in which the band is drawn


@dataclass(frozen=True, kw_only=True)
class PowerPoint:
    """A test point: board power in W and rise in K."""

    name: str
    power: Estimate
    rise: Estimate


@dataclass(frozen=True, kw_only=True)
class FittedLine:
    """A sensor's points and the line rise = intercept + slope * power through them, inside [low_w, high_w] only.

    `covariance` is that of intercept and slope in K²/W; `straight` is False where a test rejects the line.
    """

    name: str
    slot: Slot
    points: tuple[PowerPoint, ...]
    intercept: Estimate
    slope: Estimate
    covariance: float
    low_w: float
    high_w: float
    straight: bool = True

    def rise(self, power_w: float) -> Estimate:
        """Return the line's rise in K at a power, with the uncertainty of the line.

        u² = u²(a) + 2 P u(a, b) + P² u²(b): JCGM 100:2008, H.3.4. Raises ValueError outside the tested range, to
        which a line says nothing.
        """
        if not self.low_w <= power_w <= self.high_w:
            raise ValueError(f"{power_w} W is outside {self.low_w} to {self.high_w} W")
        variance = self.intercept.u**2 + 2 * power_w * self.covariance + (power_w * self.slope.u) ** 2
        value = self.intercept.value + self.slope.value * power_w
        dof = min(self.intercept.dof, self.slope.dof)
        return Estimate(value=value, u=math.sqrt(max(variance, 0.0)), unit="K", dof=dof)


@dataclass(frozen=True, kw_only=True)
class PowerLines:
    """What the chart of rise against power shows."""

    id: str
    title: str
    lines: tuple[FittedLine, ...]


def power_chart(lines: PowerLines) -> Chart:
    """Return the chart of rise against power; bars and bands are 95 %."""
    return Chart(
        id=lines.id,
        title=lines.title,
        description=_describe(lines),
        table=_table(lines),
        frames=(COMPACT,),
        there=Reading(description=_describe(lines), table=_table(lines, turned)),
        draw=partial(draw_scatter, _scatter(lines)),
        fahrenheit=two_units((partial(_words, line, p), p.rise) for line in lines.lines for p in line.points),
    )


def _span(line: FittedLine) -> str:
    return " to ".join(plain(exact(end, "W"), 0) for end in (line.low_w, line.high_w))


def _describe(lines: PowerLines) -> str:
    return " ".join(_sentence(line) for line in lines.lines) or "Too few test points for a line of rise on power."


def _sentence(line: FittedLine) -> str:
    found = f"{line.name} over ambient grows by {format_estimate(line.slope)} between {_span(line)}"
    return f"{found}." if line.straight else f"{found}, but a straight line does not describe the points."


def _table(lines: PowerLines, turn: Turn = as_it_is) -> ChartTable:
    columns = ("Test point", "Board power", *(f"{line.name} over ambient" for line in lines.lines))
    return ChartTable(caption=lines.title, columns=columns, rows=(*_point_rows(lines, turn), *_line_rows(lines)))


def _point_rows(lines: PowerLines, turn: Turn) -> Iterator[tuple[str, ...]]:
    powers = {point.name: point.power for line in lines.lines for point in line.points}
    for name, power in powers.items():
        rises = (next((p.rise for p in line.points if p.name == name), None) for line in lines.lines)
        yield name, cell(power), *(cell(rise, turn) for rise in rises)


def _line_rows(lines: PowerLines) -> Iterator[tuple[str, ...]]:
    for line in lines.lines:
        slopes = (cell(line.slope) if other is line else "" for other in lines.lines)
        yield f"Line, {line.name.lower()}", _span(line), *slopes


def _scatter(lines: PowerLines) -> ScatterChart:
    groups = tuple(_group(line) for line in lines.lines)
    x, y = Axis(words="Board power, {}", unit="W"), Axis(words="{} over ambient", unit="K")
    return ScatterChart(title=lines.title, x_axis=x, y_axis=y, groups=groups)


def _group(line: FittedLine) -> Group:
    points = tuple(Point(name=p.name, x=p.power, y=p.rise, words=_words(line, p, p.rise)) for p in _in_order(line))
    return Group(name=line.name, slot=line.slot, points=points, curve=_curve(line))


def _in_order(line: FittedLine) -> list[PowerPoint]:
    # Arrow keys go through the marks as they are drawn: along the line.
    return sorted(line.points, key=lambda point: point.power.value)


def _words(line: FittedLine, point: PowerPoint, rise: Estimate) -> str:
    return f"{point.name}, {line.name.lower()}: {format_estimate(rise)} at {format_estimate(point.power)}"


def _curve(line: FittedLine) -> Curve:
    share = (index / STEPS for index in range(STEPS + 1))
    powers = tuple(min(line.low_w + part * (line.high_w - line.low_w), line.high_w) for part in share)
    rises = [line.rise(power) for power in powers]
    return Curve(
        x=powers,
        y=tuple(rise.value for rise in rises),
        low=tuple(rise.value - rise.expanded() for rise in rises),
        high=tuple(rise.value + rise.expanded() for rise in rises),
    )


# --- Frames per joule against frame rate: what each step of power buys


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
        description=_efficiency_describe(ordered),
        table=_efficiency_table(sweep.title, ordered),
        frames=(COMPACT,),
        draw=partial(draw_scatter, _efficiency_scatter(sweep.title, ordered)),
    )


def _efficiency_describe(ordered: tuple[SweepPoint, ...]) -> str:
    if not ordered:
        return "No test point has both a frame rate and a board power."
    best = max(ordered, key=lambda point: point.per_joule.value)
    fastest = max(ordered, key=lambda point: point.frame_rate.value)
    return f"Most frames per joule: {_said(best)}. Highest frame rate: {_said(fastest)}."


def _said(point: SweepPoint) -> str:
    return f"{point.name}, {format_estimate(point.per_joule)} at {format_estimate(point.frame_rate)}"


def _efficiency_table(title: str, ordered: tuple[SweepPoint, ...]) -> ChartTable:
    rows = tuple((p.name, cell(p.power), cell(p.frame_rate), cell(p.per_joule)) for p in ordered)
    return ChartTable(caption=title, columns=("Test point", "Board power", "Frame rate", "Frames per joule"), rows=rows)


def _efficiency_scatter(title: str, ordered: tuple[SweepPoint, ...]) -> ScatterChart:
    points = tuple(_point(p) for p in ordered)
    group = Group(name="", slot=Slot.POWER, points=points)
    x, y = Axis(words="Frame rate, {}", unit="1/s"), Axis(words="Frames per joule", unit="1/J")
    return ScatterChart(title=title, x_axis=x, y_axis=y, groups=(group,))


def _point(point: SweepPoint) -> Point:
    words = f"{_said(point)}, {format_estimate(point.power)}"
    return Point(name=point.name, x=point.frame_rate, y=point.per_joule, words=words, joined=point.joined)
