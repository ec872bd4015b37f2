"""Charts of what each step of power does: rise against board power with fitted lines, frames per joule."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from functools import partial

from builder.charts.chart import Chart, ChartTable, Reading, cell, chart_of, plain
from builder.charts.scatter import Curve, Group, Point, ScatterChart, draw_scatter
from builder.charts.style import Slot
from builder.charts.two_units import Axis, Turn, exact
from builder.comparison import RoomModel, evaluate
from builder.core.quantity import Estimate, format_estimate

STEPS = 24  # parts in which the band is drawn


# --- rise against board power ----------------------------------------------------------------------------------


@dataclass(frozen=True, kw_only=True)
class PowerPoint:
    """A test point: board power in W and rise in K."""

    name: str
    power: Estimate
    rise: Estimate


@dataclass(frozen=True, kw_only=True)
class FittedLine:
    """A sensor's points, and what is said between them: the band of `model`, inside [low_w, high_w] only.

    `model` is that of the room calculator, with the line or curve, the instruments and one more mount; None where
    neither describes the points. `slopes` are the slope of a line, or those of a curve's two ends.
    """

    name: str
    slot: Slot
    points: tuple[PowerPoint, ...]
    low_w: float
    high_w: float
    slopes: tuple[Estimate, ...] = ()
    model: RoomModel | None = None


@dataclass(frozen=True, kw_only=True)
class PowerLines:
    """What the chart of rise against power shows."""

    id: str
    title: str
    lines: tuple[FittedLine, ...]


def power_chart(lines: PowerLines) -> Chart:
    """Return the chart of rise against power; bars are 95 %, bands the claims of the room calculator."""
    marks = ((partial(_words, line, p), p.rise) for line in lines.lines for p in line.points)
    return chart_of(
        lines.id, lines.title, partial(_read_lines, lines), partial(draw_scatter, _lines_scatter(lines)), marks=marks
    )


def _read_lines(lines: PowerLines, turn: Turn) -> Reading:
    sentences = [*(_sentence(line) for line in lines.lines), _band_sentence(lines)]
    columns = ("Test point", "Board power", *(f"{line.name} over ambient" for line in lines.lines))
    rows = (*_point_rows(lines, turn), *_line_rows(lines))
    return Reading(
        description=" ".join(filter(None, sentences)) or "Too few test points for a line of rise on power.",
        table=ChartTable(caption=lines.title, columns=columns, rows=rows),
    )


def _span(line: FittedLine) -> str:
    return " to ".join(_watts(line))


def _watts(line: FittedLine) -> tuple[str, str]:
    low, high = (plain(exact(end, "W"), 0) for end in (line.low_w, line.high_w))
    return low, high


def _sentence(line: FittedLine) -> str:
    if line.model is None:
        return f"{line.name} over ambient from {_span(line)}: neither a line nor a curve describes the points."
    if len(line.slopes) == 1:
        return f"{line.name} over ambient grows by {format_estimate(line.slopes[0])} from {_span(line)}."
    ends = (f"{format_estimate(slope)} at {end}" for slope, end in zip(line.slopes, _watts(line), strict=True))
    return f"{line.name} over ambient follows a curve: it grows by {' and by '.join(ends)}."


_BAND = "A band is where another mount of this cooler would be, 95 %, as the room calculator gives it"


def _band_sentence(lines: PowerLines) -> str:
    models = [line.model for line in lines.lines if line.model]
    unknown = any(not model.mounts_known for model in models)
    return f"{_BAND}{'; the mounting spread is unknown and not in it' if unknown else ''}." if models else ""


def _point_rows(lines: PowerLines, turn: Turn) -> Iterator[tuple[str, ...]]:
    powers = {point.name: point.power for line in lines.lines for point in line.points}
    for name, power in powers.items():
        rises = (next((p.rise for p in line.points if p.name == name), None) for line in lines.lines)
        yield name, cell(power), *(cell(rise, turn) for rise in rises)


def _line_rows(lines: PowerLines) -> Iterator[tuple[str, ...]]:
    for line in lines.lines:
        slope = " to ".join(map(cell, line.slopes)) if line.model else "no line or curve"
        slopes = (slope if other is line else "" for other in lines.lines)
        yield f"{'Curve' if len(line.slopes) > 1 else 'Line'}, {line.name.lower()}", _span(line), *slopes


def _lines_scatter(lines: PowerLines) -> ScatterChart:
    groups = tuple(_group(line) for line in lines.lines)
    x, y = Axis(words="Board power, {}", unit="W"), Axis(words="{} over ambient", unit="K")
    return ScatterChart(title=lines.title, x_axis=x, y_axis=y, groups=groups)


def _group(line: FittedLine) -> Group:
    # Arrow keys go through the marks as they are drawn: along the line.
    ordered = sorted(line.points, key=lambda point: point.power.value)
    points = tuple(Point(name=p.name, x=p.power, y=p.rise, words=_words(line, p, p.rise)) for p in ordered)
    return Group(name=line.name, slot=line.slot, points=points, curve=_curve(line.model) if line.model else None)


def _words(line: FittedLine, point: PowerPoint, rise: Estimate) -> str:
    return f"{point.name}, {line.name.lower()}: {format_estimate(rise)} at {format_estimate(point.power)}"


def _curve(model: RoomModel) -> Curve:
    low, high = model.low_w, model.high_w
    powers = tuple(min(low + step / STEPS * (high - low), high) for step in range(STEPS + 1))
    rises = [evaluate(model, 0.0, power) for power in powers]
    return Curve(
        x=powers,
        y=tuple(rise.value for rise in rises),
        low=tuple(rise.value - rise.half_width for rise in rises),
        high=tuple(rise.value + rise.half_width for rise in rises),
    )


# --- frames per joule against frame rate -----------------------------------------------------------------------


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
    return chart_of(
        sweep.id,
        sweep.title,
        partial(_read_sweep, sweep.title, ordered),
        partial(draw_scatter, _sweep_scatter(sweep.title, ordered)),
    )


def _read_sweep(title: str, ordered: tuple[SweepPoint, ...], turn: Turn) -> Reading:
    columns = ("Test point", "Board power", "Frame rate", "Frames per joule")
    rows = tuple((p.name, *(cell(e, turn) for e in (p.power, p.frame_rate, p.per_joule))) for p in ordered)
    return Reading(description=_best(ordered), table=ChartTable(caption=title, columns=columns, rows=rows))


def _best(ordered: tuple[SweepPoint, ...]) -> str:
    if not ordered:
        return "No test point has both a frame rate and a board power."
    best = max(ordered, key=lambda point: point.per_joule.value)
    fastest = max(ordered, key=lambda point: point.frame_rate.value)
    return f"Most frames per joule: {_said(best)}. Highest frame rate: {_said(fastest)}."


def _said(point: SweepPoint) -> str:
    return f"{point.name}, {format_estimate(point.per_joule)} at {format_estimate(point.frame_rate)}"


def _sweep_scatter(title: str, ordered: tuple[SweepPoint, ...]) -> ScatterChart:
    points = tuple(
        Point(
            name=p.name,
            x=p.frame_rate,
            y=p.per_joule,
            words=f"{_said(p)}, {format_estimate(p.power)}",
            joined=p.joined,
        )
        for p in ordered
    )
    x, y = Axis(words="Frame rate, {}", unit="1/s"), Axis(words="Frames per joule", unit="1/J")
    return ScatterChart(title=title, x_axis=x, y_axis=y, groups=(Group(name="", slot=Slot.POWER, points=points),))
