"""Which charts a result has, with which points and marks: the one place that says so.

The chart on a page and its still differ in frame, id and title only: a page has a heading of its own, a still stands
alone and names the result.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, fields, replace

from builder.archive.catalogue import CoolerKind
from builder.archive.protocol import PointRole, Protocol
from builder.charts.bench_history import BenchHistory, RetestPoint, history_chart
from builder.charts.chart import Chart
from builder.charts.own_cooler_chart import AgainstRow, AgainstRows, own_cooler_chart, shown_rows
from builder.charts.row_charts import (
    COMPARED,
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
from builder.charts.still_notes import marked
from builder.charts.style import SENSOR_SLOTS, Slot
from builder.comparison import (
    Group,
    Ranking,
    RoomModel,
    Stability,
    Subject,
    Tested,
    all_against_own,
    bench_stability,
    by_hand,
    group_of,
    hand_mark,
    leads,
    ranking,
    room_models,
)
from builder.core.quantity import NO_BREAK, Estimate
from builder.core.results import (
    FIGURES,
    SENSORS,
    BundleResult,
    CardSensor,
    PointResult,
    PowerLine,
    Quantity,
    RunResult,
)

_ENOUGH = 2  # a chart of one value says no more than the value


# --- the charts of a result ------------------------------------------------------------------------------------


@dataclass(frozen=True, kw_only=True)
class ResultCharts:
    """The charts of a result, in the order of its stills; None where its figures do not suffice for one."""

    against: Chart | None = None
    coolers: Chart | None = None
    points: Chart | None = None
    changes: Chart | None = None
    power: Chart | None = None
    efficiency: Chart | None = None
    run: Chart | None = None

    def __iter__(self) -> Iterator[Chart]:
        """Give those that there are."""
        return (chart for field in fields(self) if (chart := getattr(self, field.name)))


def result_charts(subject: Subject, tested: Tested) -> ResultCharts:
    """Return the charts of a result's page."""
    return _charts(subject, tested, still=False)


def still_charts(subject: Subject, tested: Tested) -> tuple[Chart, ...]:
    """Return the charts of a result as stills, marked where a run stands for nothing; ids name the files."""
    mark = unsettled_mark(subject)
    charts = _charts(subject, tested, still=True)
    return tuple(marked(chart, mark) if mark else chart for chart in charts)


def unsettled_mark(subject: Subject) -> str:
    """Return what every still of a result says of runs under load: not settled, by hand, or the limit not applied."""
    loaded = [p for p in subject.result.points if subject.role(p.point) is not PointRole.IDLE]
    found = (
        _said_of("run not settled", [p for p in loaded if not leads(p)]),
        _said_of("read by hand", [p for p in loaded if by_hand(p)]),
        _said_of("power limit not applied", [p for p in loaded if p.over_limit]),
    )
    return "; ".join(said for said in found if said)


def _said_of(what: str, points: Sequence[PointResult]) -> str:
    if not points:
        return ""
    more = f" and {len(points) - 1}{NO_BREAK}more" if len(points) > 1 else ""
    return f"{what}: {points[0].name}{more}"


def _charts(subject: Subject, tested: Tested, *, still: bool) -> ResultCharts:
    return ResultCharts(
        against=_against_own(subject, tested, still=still),
        coolers=_coolers(subject, tested, still=still),
        points=_points(subject, still=still),
        changes=_changes(subject, still=still),
        power=_power(subject, tested, still=still),
        efficiency=_efficiency(subject, still=still),
        run=_run(subject, still=still),
    )


def _id(name: str, *, still: bool) -> str:
    return name if still else f"chart-{name}"


def _against_own(subject: Subject, tested: Tested, *, still: bool) -> Chart | None:
    if subject.stock is None:
        return None
    group = group_of(tested, subject.id, subject.stock.point)
    against = "against everything tested on this card"
    title = f"{subject.title}: {against}" if still else against.capitalize()
    return against_own_chart(tested, group, chart_id=_id("against", still=still), here=subject.id, title=title)


def _coolers(subject: Subject, tested: Tested, *, still: bool) -> Chart | None:
    if subject.stock is None:
        return None
    found = ranking(tested, group_of(tested, subject.id, subject.stock.point), "core_rise")
    if subject.id not in {row.bundle for row in found.rows}:
        return None
    title = f"{FIGURES[found.kind].name} on the {subject.card.name} at {found.group.name}" if still else ""
    return order_chart(tested, found, chart_id=_id("coolers", still=still), here=subject.id, title=title)


def _points(subject: Subject, *, still: bool) -> Chart | None:
    title = f"{subject.title}: rise over ambient" if still else "Rise over ambient at each test point"
    rises = point_rises(subject.result, id=_id("points", still=still), title=title)
    return points_chart(rises) if len(rises.points) >= _ENOUGH else None


def _changes(subject: Subject, *, still: bool) -> Chart | None:
    from_stock = f"from {point_name(subject.stock).lower()}" if subject.stock else "from stock"
    title = f"{subject.title}: change {from_stock}" if still else f"Change {from_stock}"
    changes = point_changes(subject.result, subject.protocol, id=_id("changes", still=still), title=title)
    drawn = tuple(point for point in changes.points if point.percents)
    return changes_chart(replace(changes, points=drawn)) if drawn else None


def _power(subject: Subject, tested: Tested, *, still: bool) -> Chart | None:
    title = f"{subject.title}: rise against board power" if still else "Rise against board power"
    lines = fitted_lines(subject.result, room_models(tested, subject.id), id=_id("power", still=still), title=title)
    return power_chart(lines) if lines.lines else None


def _efficiency(subject: Subject, *, still: bool) -> Chart | None:
    title = f"{subject.title}: frames per joule and frame rate" if still else "Frames per joule"
    sweep = power_sweep(subject.result, subject.protocol, id=_id("efficiency", still=still), title=title)
    return efficiency_chart(sweep) if len(sweep.points) >= _ENOUGH else None


def _run(subject: Subject, *, still: bool) -> Chart | None:
    stock = subject.stock
    if stock is None or not stock.runs:
        return None
    run = stock.runs[0]
    mount = f", mount {run.mount}" if len(stock.runs) > 1 else ""
    title = f"{subject.title}: the run at {stock.name}" if still else f"The run at {point_name(stock)}{mount}"
    traces = run_traces(run, id=_id("run", still=still), title=title)
    return run_chart(traces) if traces.temperatures else None


# --- charts of a card: its coolers in order, and the bench's own retests ---------------------------------------


def against_own_chart(  # noqa: PLR0913 - what is shown, and the names it carries
    tested: Tested, group: Group, *, chart_id: str, title: str, here: str = "", kind: str = "core_rise"
) -> Chart | None:
    """Return the lead chart of a card's coolers at one test point; None without an own cooler or anything beside it."""
    rows = against_rows(tested, group, kind=kind, here=here)
    if len(rows) < _ENOUGH or not any(row.is_own for row in rows):
        return None
    shown = shown_rows(rows)
    return own_cooler_chart(AgainstRows(id=chart_id, title=title, rows=shown, left_out=len(rows) - len(shown)))


def against_rows(tested: Tested, group: Group, *, kind: str = "core_rise", here: str = "") -> tuple[AgainstRow, ...]:
    """Return what the lead chart shows of a group: a row for each cooler, with the coolest first."""
    order = ranking(tested, group, kind)
    return tuple(
        AgainstRow(
            name=tested.setup(row.bundle).cooler.name,
            kind=tested.setup(row.bundle).cooler.kind,
            difference=row.difference,
            tests=len(row.tests),
            ties=found.letters if (found := order.row(row.bundle)) else (),
            is_own=row.is_own,
            here=here in row.tests,
        )
        for row in all_against_own(tested, group, kind)
    )


def order_chart(tested: Tested, found: Ranking, *, chart_id: str, here: str = "", title: str = "") -> Chart | None:
    """Return the chart of an order of coolers; `here` is the bundle that the page is about."""
    if len(found.rows) < _ENOUGH:
        return None
    coolers = {row.bundle: _named(tested, found, row.bundle) for row in found.rows}
    title = title or f"{FIGURES[found.kind].name} at {found.group.name}"
    return coolers_chart(cooler_figures(found, coolers, id=chart_id, title=title, here=here))


def _named(tested: Tested, found: Ranking, bundle: str) -> NamedCooler:
    setup = tested.setup(bundle)
    mark = hand_mark(tested, bundle, found.group.point_of(setup.bundle) or "")
    return NamedCooler(name=f"{setup.cooler.name}{mark}", kind=setup.cooler.kind)


def history_charts(card: str, tested: Tested) -> tuple[Chart, ...]:
    """Return the individuals chart of every reference cooler that was retested on a card."""
    benches = {key: bench.name for key, bench in tested.catalogue.benches.items()}
    found = [stability for stability in bench_stability(tested) if stability.group.card == card]
    titles = [f"{tested.catalogue.coolers[stability.cooler].name}, retested" for stability in found]
    return tuple(
        history_chart(bench_history(stability, benches, id=f"chart-bench-{number}", title=title))
        for number, (stability, title) in enumerate(zip(found, titles, strict=True), start=1)
    )


def short_name(bundle: str, tested: Tested) -> str:
    """Return the cooler's name, with the month where the full label carries a day."""
    name = tested.setup(bundle).cooler.name
    return name if tested.label(bundle) == name else f"{name}, {tested.setup(bundle).bundle.tested:%Y-%m}"


# --- what each chart shows of the figures ----------------------------------------------------------------------


def point_name(point: PointResult) -> str:
    """Return a test point's name in charts, with its mark where it has one."""
    return f"{point.name} ({point.mark})" if point.mark else point.name


def _estimate(point: PointResult, kind: str) -> Estimate | None:
    figure = point.figures.get(kind)
    return figure.estimate if figure else None


def point_rises(result: BundleResult, *, id: str, title: str) -> PointRises:  # noqa: A002 - the field is called so
    """Return what the chart of test points shows: the points that have a rise over ambient."""
    found = (
        PointRise(
            name=point_name(point),
            rises={slot: rise for sensor, slot in SENSOR_SLOTS.items() if (rise := _estimate(point, sensor.rise))},
            bounds={
                slot: point.figures[sensor.rise].bound
                for sensor, slot in SENSOR_SLOTS.items()
                if sensor.rise in point.figures
            },
        )
        for point in result.points
    )
    return PointRises(id=id, title=title, points=tuple(point for point in found if point.rises))


def point_changes(
    result: BundleResult,
    protocol: Protocol,
    *,
    id: str,  # noqa: A002 - the field is called so
    title: str,
) -> PointChanges:
    """Return what the chart of changes shows: points that differ from stock on purpose, so not stock run again."""
    found = (
        PointChange(
            name=point_name(point),
            changes={slot: point.changes[kind] for kind, slot in COMPARED.items() if kind in point.changes},
        )
        for point in result.points
        if _role(point, protocol) is not PointRole.CLOSING
    )
    return PointChanges(id=id, title=title, points=tuple(point for point in found if point.changes))


def _role(point: PointResult, protocol: Protocol) -> PointRole | None:
    setting = protocol.point(point.point)
    return setting.role if setting else None


def fitted_lines(
    result: BundleResult,
    models: Iterable[RoomModel],
    *,
    id: str,  # noqa: A002 - the field is called so
    title: str,
) -> PowerLines:
    """Return what the chart of rise against power shows: every line or curve that was fitted, with its points.

    `models` are what the room calculator says of the result, by whose bands the lines are drawn.
    """
    by_kind = {model.kind: model for model in models}
    lines = (
        _fitted(result, sensor, result.lines[sensor.rise], by_kind.get(sensor.temperature))
        for sensor in SENSORS
        if sensor.rise in result.lines
    )
    return PowerLines(id=id, title=title, lines=tuple(line for line in lines if len(line.points) >= _ENOUGH))


def _fitted(result: BundleResult, sensor: CardSensor, line: PowerLine, model: RoomModel | None) -> FittedLine:
    used = (point for name in line.points if (point := result.point(name)))
    ends = (line.low_w, line.high_w) if line.is_curve else (line.low_w,)
    return FittedLine(
        name=sensor.name,
        slot=SENSOR_SLOTS[sensor],
        points=tuple(
            PowerPoint(name=point_name(point), power=power, rise=rise)
            for point in used
            if (power := _estimate(point, "board_power")) and (rise := _estimate(point, sensor.rise))
        ),
        low_w=line.low_w,
        high_w=line.high_w,
        slopes=tuple(map(line.slope_at, ends)),
        model=model,
    )


def power_sweep(result: BundleResult, protocol: Protocol, *, id: str, title: str) -> Sweep:  # noqa: A002 - the field is called so
    """Return what the chart of efficiency shows: settled points with power, frame rate and frames per joule."""
    points = tuple(
        SweepPoint(
            name=point_name(point),
            power=power,
            frame_rate=rate,
            per_joule=per_joule,
            joined=_role(point, protocol) in {PointRole.STOCK, PointRole.POWER_LIMIT},
        )
        for point in result.points
        if not point.mark
        and (power := _estimate(point, "board_power"))
        and (rate := _estimate(point, "frame_rate"))
        and (per_joule := _estimate(point, "frames_per_joule"))
    )
    return Sweep(id=id, title=title, points=points)


_TEMPERATURES = {
    **{sensor.quantity: (slot, sensor.name) for sensor, slot in SENSOR_SLOTS.items()},
    Quantity.AMBIENT_TEMPERATURE: (Slot.AMBIENT, "Ambient"),
}
_COOLANT = {
    Quantity.COOLANT_IN_TEMPERATURE: (Slot.COOLANT, "Coolant in"),
    Quantity.COOLANT_OUT_TEMPERATURE: (Slot.COOLANT, "Coolant out"),
}


def run_traces(run: RunResult, *, id: str, title: str) -> RunTraces:  # noqa: A002 - the field is called so
    """Return what the chart of a run shows; of two coolant sensors the one before the block."""
    shown = _TEMPERATURES | _COOLANT
    # In and out lie about a kelvin apart: two lines would be one.
    coolant = [quantity for quantity in _COOLANT if quantity in run.traces][:1]
    logged = [quantity for quantity in _TEMPERATURES if quantity in run.traces]
    power = Quantity.BOARD_POWER
    return RunTraces(
        id=id,
        title=title,
        temperatures=tuple(_trace(run, quantity, *shown[quantity]) for quantity in logged + coolant),
        power=_trace(run, power, Slot.POWER, "Board power") if power in run.traces else None,
        window=run.settlement.window,
        verdict=run.settlement.verdict,
    )


def _trace(run: RunResult, quantity: Quantity, slot: Slot, name: str) -> RunTrace:
    trace = run.traces[quantity]
    figure = run.figures.get(str(quantity)) if run.settlement.window else None
    return RunTrace(
        name=name,
        short={Slot.COOLANT: "Coolant", Slot.POWER: "Power"}.get(slot, name),
        slot=slot,
        unit=quantity.unit,
        time_s=trace.time_s,
        values=trace.values,
        mean=figure.estimate if figure else None,
    )


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
                here=here in row.tests,
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
