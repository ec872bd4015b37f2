"""From results to what the chart kinds show."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, replace

from builder.archive.catalogue import CoolerKind
from builder.archive.protocol import PointRole, Protocol
from builder.charts.chart import Chart
from builder.charts.history import BenchHistory, RetestPoint, history_chart
from builder.charts.row_charts import (
    CoolerFigure,
    CoolerFigures,
    PointChange,
    PointChanges,
    PointRise,
    PointRises,
    changes_chart,
    coolers_chart,
    points_chart,
)
from builder.charts.run import RunTrace, RunTraces, run_chart
from builder.charts.scatter_charts import (
    FittedLine,
    PowerLines,
    PowerPoint,
    Sweep,
    SweepPoint,
    efficiency_chart,
    power_chart,
)
from builder.charts.still_notes import noted
from builder.charts.style import Slot
from builder.comparison import Ranking, RankRow, Stability, Tested, bench_stability, group_of, ranking
from builder.comparison.subject import Subject
from builder.core.quantity import Estimate
from builder.core.results import (
    FIGURES,
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
        provisional=stability.provisional,
    )


_ENOUGH = 2  # a chart of one value says no more than the value
_TIES = "The same letter: too close to call"  # a page says so in the words beside its chart


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
        row.bundle: NamedCooler(name=short_name(row.bundle, tested), kind=tested.setup(row.bundle).cooler.kind)
        for row in found.rows
    }


def short_name(bundle: str, tested: Tested) -> str:
    """Return the cooler's name, with the month where the full label carries a day."""
    name = tested.setup(bundle).cooler.name
    return name if tested.label(bundle) == name else f"{name}, {tested.setup(bundle).bundle.tested:%Y-%m}"


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


@dataclass(frozen=True, kw_only=True)
class ResultCharts:
    """The charts of a result page; None where its figures do not suffice for one."""

    coolers: Chart | None = None
    points: Chart | None = None
    changes: Chart | None = None
    power: Chart | None = None
    efficiency: Chart | None = None
    run: Chart | None = None


# --- Which charts a page shows: figures and rankings turned into what the charts draw


_CHARTS_ENOUGH = 2  # a chart of one value says no more than the value


def result_charts(subject: Subject, tested: Tested) -> ResultCharts:
    """Return the charts that a result's figures suffice for."""
    return ResultCharts(
        coolers=_beside_others(subject, tested),
        points=_points(subject),
        changes=_charts_changes(subject),
        power=_charts_power(subject),
        efficiency=_efficiency(subject),
        run=_charts_run(subject),
    )


def _efficiency(subject: Subject) -> Chart | None:
    sweep = power_sweep(subject.result, subject.protocol, id="chart-efficiency", title="Frames per joule")
    return efficiency_chart(sweep) if len(sweep.points) >= _CHARTS_ENOUGH else None


def history_charts(card: str, tested: Tested) -> tuple[Chart, ...]:
    """Return the individuals chart of every reference cooler that was retested on a card."""
    benches = {key: bench.name for key, bench in tested.catalogue.benches.items()}
    found = [s for s in bench_stability(tested) if s.group.card == card]
    titles = [f"{tested.catalogue.coolers[s.cooler].name}, retested" for s in found]
    return tuple(
        history_chart(bench_history(s, benches, id=f"chart-bench-{n}", title=title))
        for n, (s, title) in enumerate(zip(found, titles, strict=True), start=1)
    )


def order_chart(tested: Tested, found: Ranking, *, chart_id: str, here: str = "") -> Chart | None:
    """Return the chart of an order of coolers; `here` is the bundle that the page is about."""
    if len(found.rows) < _CHARTS_ENOUGH:
        return None
    title = f"{FIGURES[found.kind].name} at {found.group.name}"
    coolers = tuple(_cooler(tested, row, here) for row in found.rows)
    return coolers_chart(CoolerFigures(id=chart_id, title=title, figure=found.kind, coolers=coolers))


def _cooler(tested: Tested, row: RankRow, here: str) -> CoolerFigure:
    return CoolerFigure(
        name=_short_name(tested, row.bundle),
        kind=tested.setup(row.bundle).cooler.kind,
        estimate=row.estimate,
        tie="".join(row.letters),
        here=row.bundle == here,
    )


def _short_name(tested: Tested, bundle: str) -> str:
    """Return the cooler's name, with the month where the full label carries a day."""
    name = tested.setup(bundle).cooler.name
    return name if tested.label(bundle) == name else f"{name}, {tested.setup(bundle).bundle.tested:%Y-%m}"


def _beside_others(subject: Subject, tested: Tested) -> Chart | None:
    stock = subject.stock
    if stock is None:
        return None
    found = ranking(tested, group_of(tested, subject.id, stock.point), "core_rise")
    ranked = any(row.bundle == subject.id for row in found.rows)
    return order_chart(tested, found, chart_id="chart-coolers", here=subject.id) if ranked else None


def _charts_estimate(point: PointResult, kind: str) -> Estimate | None:
    figure: Figure | None = point.figures.get(kind)
    return figure.estimate if figure else None


def _points(subject: Subject) -> Chart | None:
    rises = tuple(
        PointRise(
            name=p.name,
            core=_charts_estimate(p, "core_rise"),
            hotspot=_charts_estimate(p, "hotspot_rise"),
            memory=_charts_estimate(p, "memory_rise"),
        )
        for p in subject.result.points
    )
    shown = tuple(r for r in rises if r.core or r.hotspot or r.memory)
    if len(shown) < _CHARTS_ENOUGH:
        return None
    return points_chart(PointRises(id="chart-points", title="Rise over ambient at each test point", points=shown))


def _charts_changes(subject: Subject) -> Chart | None:
    changed = tuple(
        PointChange(
            name=p.name,
            power=p.changes.get("board_power"),
            core_rise=p.changes.get("core_rise"),
            frame_rate=p.changes.get("frame_rate"),
        )
        for p in subject.result.points
        if subject.role(p.point) is not PointRole.CLOSING and p.changes
    )
    shown = tuple(c for c in changed if any(x and x.percent for x in (c.power, c.core_rise, c.frame_rate)))
    return changes_chart(PointChanges(id="chart-changes", title="Change from stock", points=shown)) if shown else None


_LINES = {
    "core_rise": ("Core", Slot.CORE),
    "hotspot_rise": ("Hotspot", Slot.HOTSPOT),
    "memory_rise": ("Memory", Slot.MEMORY),
}


def _charts_power(subject: Subject) -> Chart | None:
    lines = tuple(
        _charts_fitted(subject, kind, subject.result.lines[kind], *_LINES[kind])
        for kind in _LINES
        if kind in subject.result.lines
    )
    drawn = tuple(line for line in lines if len(line.points) >= _CHARTS_ENOUGH)
    return power_chart(PowerLines(id="chart-power", title="Rise against board power", lines=drawn)) if drawn else None


def _charts_fitted(subject: Subject, kind: str, line: PowerLine, name: str, slot: Slot) -> FittedLine:
    found = [subject.result.point(p) for p in line.points]
    return FittedLine(
        name=name,
        slot=slot,
        points=tuple(_power_point(p, kind) for p in found if p and kind in p.figures and "board_power" in p.figures),
        intercept=line.intercept,
        slope=line.slope,
        covariance=line.covariance,
        low_w=line.low_w,
        high_w=line.high_w,
        straight=line.fits,
    )


def _power_point(point: PointResult, kind: str) -> PowerPoint:
    figures = point.figures
    return PowerPoint(name=point.name, power=figures["board_power"].estimate, rise=figures[kind].estimate)


# --- one run ---------------------------------------------------------------------------------------------------


def _charts_run(subject: Subject) -> Chart | None:
    stock = subject.stock
    run = stock.runs[0] if stock and stock.runs else None
    if stock is None or run is None:
        return None
    mount = f", mount {run.mount}" if len(stock.runs) > 1 else ""
    traces = run_traces(run, id="chart-run", title=f"The run at {stock.name}{mount}")
    return run_chart(traces) if traces.temperatures else None
