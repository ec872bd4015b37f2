"""Which charts a page shows: figures and rankings turned into what the charts draw."""

from __future__ import annotations

from builder.charts import bench_history, efficiency_chart, history_chart, power_sweep, run_traces
from builder.charts.base import Chart
from builder.charts.changes import PointChange, PointChanges, changes_chart
from builder.charts.coolers import CoolerFigure, CoolerFigures, coolers_chart
from builder.charts.palette import Slot
from builder.charts.points import PointRise, PointRises, points_chart
from builder.charts.power import FittedLine, PowerLines, PowerPoint, power_chart
from builder.charts.run import run_chart
from builder.compare import Ranking, RankRow, Tested, bench_stability, group_of, ranking
from builder.figures import FIGURES, Figure, PointResult, PowerLine
from builder.model import PointRole
from builder.pages.kinds import ResultCharts
from builder.quantity import Estimate
from builder.views.subject import Subject

_ENOUGH = 2  # a chart of one value says no more than the value


def result_charts(subject: Subject, tested: Tested) -> ResultCharts:
    """Return the charts that a result's figures suffice for."""
    return ResultCharts(
        coolers=_beside_others(subject, tested),
        points=_points(subject),
        changes=_changes(subject),
        power=_power(subject),
        efficiency=_efficiency(subject),
        run=_run(subject),
    )


def _efficiency(subject: Subject) -> Chart | None:
    sweep = power_sweep(subject.result, subject.protocol, id="chart-efficiency", title="Frames per joule")
    return efficiency_chart(sweep) if len(sweep.points) >= _ENOUGH else None


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
    if len(found.rows) < _ENOUGH:
        return None
    title = f"{FIGURES[found.kind].name} at {found.group.name}"
    coolers = tuple(_cooler(tested, row, here) for row in found.rows)
    return coolers_chart(CoolerFigures(id=chart_id, title=title, figure=found.kind, coolers=coolers))


def _cooler(tested: Tested, row: RankRow, here: str) -> CoolerFigure:
    return CoolerFigure(
        name=_short_name(tested, row.bundle),
        kind=tested.cooler(row.bundle).kind,
        estimate=row.estimate,
        tie="".join(row.letters),
        here=row.bundle == here,
    )


def _short_name(tested: Tested, bundle: str) -> str:
    """Return the cooler's name, with the month where the full label carries a day."""
    name = tested.cooler(bundle).name
    return name if tested.label(bundle) == name else f"{name}, {tested.bundle(bundle).tested:%Y-%m}"


def _beside_others(subject: Subject, tested: Tested) -> Chart | None:
    stock = subject.stock
    if stock is None:
        return None
    found = ranking(tested, group_of(tested, subject.id, stock.point), "core_rise")
    ranked = any(row.bundle == subject.id for row in found.rows)
    return order_chart(tested, found, chart_id="chart-coolers", here=subject.id) if ranked else None


def _estimate(point: PointResult, kind: str) -> Estimate | None:
    figure: Figure | None = point.figures.get(kind)
    return figure.estimate if figure else None


def _points(subject: Subject) -> Chart | None:
    rises = tuple(
        PointRise(
            name=p.name,
            core=_estimate(p, "core_rise"),
            hotspot=_estimate(p, "hotspot_rise"),
            memory=_estimate(p, "memory_rise"),
        )
        for p in subject.result.points
    )
    shown = tuple(r for r in rises if r.core or r.hotspot or r.memory)
    if len(shown) < _ENOUGH:
        return None
    return points_chart(PointRises(id="chart-points", title="Rise over ambient at each test point", points=shown))


def _changes(subject: Subject) -> Chart | None:
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


def _power(subject: Subject) -> Chart | None:
    lines = tuple(
        _fitted(subject, kind, subject.result.lines[kind], *_LINES[kind])
        for kind in _LINES
        if kind in subject.result.lines
    )
    drawn = tuple(line for line in lines if len(line.points) >= _ENOUGH)
    return power_chart(PowerLines(id="chart-power", title="Rise against board power", lines=drawn)) if drawn else None


def _fitted(subject: Subject, kind: str, line: PowerLine, name: str, slot: Slot) -> FittedLine:
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


def _run(subject: Subject) -> Chart | None:
    stock = subject.stock
    run = stock.runs[0] if stock and stock.runs else None
    if stock is None or run is None:
        return None
    mount = f", mount {run.mount}" if len(stock.runs) > 1 else ""
    traces = run_traces(run, id="chart-run", title=f"The run at {stock.name}{mount}")
    return run_chart(traces) if traces.temperatures else None
