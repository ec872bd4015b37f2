"""From results to what the chart kinds show."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from builder.charts.changes import PointChange, PointChanges
from builder.charts.coolers import CoolerFigure, CoolerFigures
from builder.charts.efficiency import Sweep, SweepPoint
from builder.charts.history import BenchHistory, RetestPoint
from builder.charts.palette import Slot
from builder.charts.points import PointRise, PointRises
from builder.charts.power import FittedLine, PowerLines, PowerPoint
from builder.charts.run import RunTrace, RunTraces
from builder.compare import Ranking, Stability
from builder.figures import (
    STANDARD_UNITS,
    BundleResult,
    Figure,
    PointResult,
    PowerLine,
    Quantity,
    RunResult,
    Trace,
    Verdict,
)
from builder.model import CoolerKind, PointRole, Protocol
from builder.quantity import Estimate

RISES = {"core_rise": Slot.CORE, "hotspot_rise": Slot.HOTSPOT, "memory_rise": Slot.MEMORY}
SENSOR_NAMES = {"core_rise": "Core", "hotspot_rise": "Hotspot", "memory_rise": "Memory"}


@dataclass(frozen=True, kw_only=True)
class _Shown:
    quantity: Quantity
    name: str
    slot: Slot


_TEMPERATURES = (
    _Shown(quantity=Quantity.CORE_TEMPERATURE, name="Core", slot=Slot.CORE),
    _Shown(quantity=Quantity.HOTSPOT_TEMPERATURE, name="Hotspot", slot=Slot.HOTSPOT),
    _Shown(quantity=Quantity.MEMORY_TEMPERATURE, name="Memory", slot=Slot.MEMORY),
    _Shown(quantity=Quantity.AMBIENT_TEMPERATURE, name="Ambient", slot=Slot.AMBIENT),
)
_COOLANT_IN = _Shown(quantity=Quantity.COOLANT_IN_TEMPERATURE, name="Coolant in", slot=Slot.COOLANT)
_COOLANT_OUT = _Shown(quantity=Quantity.COOLANT_OUT_TEMPERATURE, name="Coolant out", slot=Slot.COOLANT)
_POWER = _Shown(quantity=Quantity.BOARD_POWER, name="Board power", slot=Slot.POWER)


def run_traces(run: RunResult, *, id: str, title: str) -> RunTraces:  # noqa: A002 - the field is called so
    """Return what the chart of a run shows; of two coolant sensors the one before the block."""
    # In and out lie about a kelvin apart: two lines would be one.
    coolant = _COOLANT_IN if _COOLANT_IN.quantity in run.traces else _COOLANT_OUT
    shown = (*_TEMPERATURES, coolant)
    return RunTraces(
        id=id,
        title=title,
        temperatures=tuple(_trace(run, s) for s in shown if s.quantity in run.traces),
        power=_trace(run, _POWER) if _POWER.quantity in run.traces else None,
        window=run.settlement.window,
        verdict=run.settlement.verdict,
    )


def _trace(run: RunResult, shown: _Shown) -> RunTrace:
    trace: Trace = run.traces[shown.quantity]
    figure = run.figures.get(str(shown.quantity)) if run.settlement.window else None
    return RunTrace(
        name=shown.name,
        short=shown.name.split()[-1].capitalize() if shown is _POWER else shown.name.split()[0],
        slot=shown.slot,
        unit=STANDARD_UNITS[shown.quantity],
        time_s=trace.time_s,
        values=trace.values,
        mean=figure.estimate if figure else None,
    )


def point_rises(result: BundleResult, *, id: str, title: str) -> PointRises:  # noqa: A002 - the field is called so
    """Return what the chart of test points shows; a point that did not settle says so in its name."""
    return PointRises(id=id, title=title, points=tuple(_rise(point) for point in result.points))


def _rise(point: PointResult) -> PointRise:
    core, hotspot, memory = (_estimate(point, kind) for kind in RISES)
    return PointRise(name=_name(point), core=core, hotspot=hotspot, memory=memory)


def _name(point: PointResult) -> str:
    return point.name if point.verdict is Verdict.SETTLED else f"{point.name} ({point.verdict})"


def _estimate(point: PointResult, kind: str) -> Estimate | None:
    figure: Figure | None = point.figures.get(kind)
    return figure.estimate if figure else None


def point_changes(result: BundleResult, *, id: str, title: str) -> PointChanges:  # noqa: A002 - the field is called so
    """Return what the chart of changes shows: the points that have a change from stock."""
    points = tuple(
        PointChange(
            name=_name(point),
            power=point.changes.get("board_power"),
            core_rise=point.changes.get("core_rise"),
            frame_rate=point.changes.get("frame_rate"),
        )
        for point in result.points
        if point.changes
    )
    return PointChanges(id=id, title=title, points=points)


def fitted_lines(result: BundleResult, *, id: str, title: str) -> PowerLines:  # noqa: A002 - the field is called so
    """Return what the chart of rise against power shows: every line that was fitted, with its points."""
    lines = (_fitted(result, kind, line) for kind, line in result.lines.items() if kind in RISES)
    return PowerLines(id=id, title=title, lines=tuple(lines))


def _fitted(result: BundleResult, kind: str, line: PowerLine) -> FittedLine:
    used = (point for name in line.points if (point := result.point(name)))
    return FittedLine(
        name=SENSOR_NAMES[kind],
        slot=RISES[kind],
        points=tuple(
            PowerPoint(name=point.name, power=power, rise=rise)
            for point in used
            if (power := _estimate(point, "board_power")) and (rise := _estimate(point, kind))
        ),
        intercept=line.intercept,
        slope=line.slope,
        covariance=line.covariance,
        low_w=line.low_w,
        high_w=line.high_w,
        straight=line.fits,
    )


def power_sweep(result: BundleResult, protocol: Protocol, *, id: str, title: str) -> Sweep:  # noqa: A002 - the field is called so
    """Return what the chart of efficiency shows: settled points with power, frame rate and frames per joule."""
    points = tuple(
        SweepPoint(name=point.name, power=power, frame_rate=rate, per_joule=per_joule, joined=_is_step(point, protocol))
        for point in result.points
        if point.verdict is Verdict.SETTLED
        and (power := _estimate(point, "board_power"))
        and (rate := _estimate(point, "frame_rate"))
        and (per_joule := _estimate(point, "frames_per_joule"))
    )
    return Sweep(id=id, title=title, points=points)


def _is_step(point: PointResult, protocol: Protocol) -> bool:
    setting = protocol.point(point.point)
    return setting is not None and setting.role in {PointRole.STOCK, PointRole.POWER_LIMIT}


@dataclass(frozen=True, kw_only=True)
class NamedCooler:
    """How a bundle's cooler is named in a chart, and its kind."""

    name: str
    kind: CoolerKind


def cooler_figures(
    order: Ranking,
    coolers: Mapping[str, NamedCooler],
    *,
    id: str,  # noqa: A002 - the field is called so
    title: str,
    here: str = "",
) -> CoolerFigures:
    """Return what the chart of coolers shows; `coolers` is by bundle, `here` the bundle that the page is about."""
    return CoolerFigures(
        id=id,
        title=title,
        figure=order.kind,
        coolers=tuple(
            CoolerFigure(
                name=coolers[row.bundle].name,
                kind=coolers[row.bundle].kind,
                estimate=row.estimate,
                tie="".join(row.letters),
                here=row.bundle == here,
            )
            for row in order.rows
        ),
    )


def bench_history(
    stability: Stability,
    benches: Mapping[str, str],
    *,
    id: str,  # noqa: A002 - the field is called so
    title: str,
) -> BenchHistory:
    """Return what the chart of the bench shows; `benches` gives the name of each bench by id."""
    retests = tuple(
        RetestPoint(
            tested=retest.tested,
            estimate=retest.estimate,
            outside=retest.signal,
            bench=benches.get(retest.bench, retest.bench),
        )
        for retest in stability.retests
    )
    limits = stability.chart
    return BenchHistory(
        id=id,
        title=title,
        figure=stability.kind,
        retests=retests,
        mean=limits.mean,
        lower=limits.lower,
        upper=limits.upper,
    )
