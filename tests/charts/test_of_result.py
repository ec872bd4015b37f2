"""From results to charts."""

from __future__ import annotations

import datetime as dt
import math
from types import MappingProxyType

import numpy as np
import pytest

from builder.archive.catalogue import CoolerKind
from builder.archive.protocol import PointRole, Protocol, SettleLimits, SpreadByKind, TestPoint
from builder.charts.of_result import (
    NamedCooler,
    bench_history,
    cooler_figures,
    fitted_lines,
    point_changes,
    point_rises,
    power_sweep,
    run_traces,
)
from builder.charts.scatter_charts import PowerLines, power_chart
from builder.charts.style import Slot
from builder.comparison import (
    Basis,
    Group,
    IndividualsChart,
    Ranking,
    RankRow,
    Retest,
    Stability,
    room_estimate,
    room_models,
)
from builder.core.quantity import Estimate
from builder.core.results import (
    BundleResult,
    Change,
    Figure,
    PointResult,
    PowerLine,
    Quantity,
    RunResult,
    Settlement,
    Trace,
    Verdict,
    Window,
)
from tests.support.invented import Given, Shot, archive_of, power_line

UNITS = {"board_power": "W", "frame_rate": "1/s", "frames_per_joule": "1/J", "core_temperature": "degC"}


def figure(kind: str, value: float) -> Figure:
    return Figure(kind=kind, estimate=Estimate(value=value, u=0.1, unit=UNITS.get(kind, "K")))


def run(quantities: tuple[Quantity, ...], window: Window | None) -> RunResult:
    time = np.arange(900.0)
    verdict = Verdict.SETTLED if window else Verdict.TOO_SHORT
    return RunResult(
        mount=1,
        point="stock",
        log="m1-stock.csv",
        settlement=Settlement(verdict=verdict, message="", tau_s=150, limit_k=0.5, window=window),
        figures={"core_temperature": figure("core_temperature", 60.0)},
        traces={q: Trace(quantity=q, time_s=time, values=np.full(900, 50.0)) for q in quantities},
    )


def point(name: str, verdict: Verdict = Verdict.SETTLED, **values: float) -> PointResult:
    figures = {kind: figure(kind, value) for kind, value in values.items()}
    change = Change(kind="board_power", absolute=Estimate(value=-80, u=1, unit="W"), percent=None)
    return PointResult(
        point=name,
        name=name.capitalize(),
        runs=(),
        figures=figures,
        changes=MappingProxyType({} if name == "stock" else {"board_power": change}),
        verdict=verdict,
    )


LINE = PowerLine(
    kind="core_rise",
    intercept=Estimate(value=1, u=0.5, unit="K"),
    slope=Estimate(value=0.1, u=0.002, unit="K/W"),
    covariance=-0.0009,
    low_w=200,
    high_w=285,
    points=("stock", "power-70"),
    fits=False,
)
RESULT = BundleResult(
    bundle="x",
    points=(
        point("stock", core_rise=30, board_power=285, frame_rate=95, frames_per_joule=1 / 3),
        point("power-70", core_rise=21, board_power=200, frame_rate=86, frames_per_joule=0.43),
        point("undervolt", Verdict.DRIFTING, core_rise=25, board_power=230, frame_rate=95, frames_per_joule=0.41),
    ),
    lines={"core_rise": LINE},
    mounts=1,
)
LIMITS = SettleLimits(tau_s=150, window_s=300, soak_s=300)
PROTOCOL = Protocol(
    name="Short",
    version=1,
    air=LIMITS,
    liquid=LIMITS,
    points=(
        TestPoint(id="stock", name="Stock", role=PointRole.STOCK),
        TestPoint(id="power-70", name="Power limit 70 %", role=PointRole.POWER_LIMIT),
        TestPoint(id="undervolt", name="Undervolt", role=PointRole.UNDERVOLT),
    ),
)


def test_run_traces_take_means_from_the_figures_of_the_window() -> None:
    logged = (Quantity.CORE_TEMPERATURE, Quantity.BOARD_POWER)
    shown = run_traces(run(logged, Window(start_s=600, end_s=900)), id="a", title="b")
    assert shown.temperatures[0].mean == figure("core_temperature", 60.0).estimate
    assert shown.power is not None
    assert shown.power.mean is None
    assert (shown.id, shown.title, shown.verdict) == ("a", "b", Verdict.SETTLED)


def test_run_without_a_window_shows_no_mean() -> None:
    shown = run_traces(run((Quantity.CORE_TEMPERATURE,), None), id="a", title="b")
    assert shown.temperatures[0].mean is None
    assert shown.power is None


@pytest.mark.parametrize(
    ("logged", "name"),
    [
        ((Quantity.COOLANT_IN_TEMPERATURE, Quantity.COOLANT_OUT_TEMPERATURE), "Coolant in"),
        ((Quantity.COOLANT_OUT_TEMPERATURE,), "Coolant out"),
    ],
    ids=["both", "out only"],
)
def test_one_coolant_temperature_is_shown(logged: tuple[Quantity, ...], name: str) -> None:
    shown = run_traces(run(logged, None), id="a", title="b")
    assert [(line.name, line.slot) for line in shown.temperatures] == [(name, Slot.COOLANT)]


def test_a_point_that_did_not_settle_says_so_in_its_name() -> None:
    shown = point_rises(RESULT, id="a", title="b")
    assert [p.name for p in shown.points] == ["Stock", "Power-70", "Undervolt (drifting)"]
    assert [p.rises[Slot.CORE].value for p in shown.points] == [30, 21, 25]
    assert all(Slot.HOTSPOT not in p.rises for p in shown.points)


def test_changes_leave_out_stock() -> None:
    shown = point_changes(RESULT, PROTOCOL, id="a", title="b")
    assert [p.name for p in shown.points] == ["Power-70", "Undervolt (drifting)"]
    assert Slot.POWER in shown.points[0].changes


def test_fitted_line_brings_its_own_points_and_whether_it_fits() -> None:
    (line,) = fitted_lines(RESULT, (), id="a", title="b").lines
    assert [(p.name, p.power.value, p.rise.value) for p in line.points] == [("Stock", 285, 30), ("Power-70", 200, 21)]
    assert line.model is None  # the room calculator says nothing of a line that does not fit
    assert (line.low_w, line.high_w) == (200, 285)


def test_a_lines_band_is_the_room_calculators_with_instruments_and_one_more_mount() -> None:
    shots = {
        name: Shot(values={"core_rise": [2 + 0.14 * watts], "board_power": [watts]}, accuracy={"core_rise": 0.6})
        for name, watts in (("stock", 285.0), ("power-80", 228.0), ("power-60", 171.0))
    }
    given = Given(id="x", shots=shots, lines={"core_rise": power_line(2.0, 0.14, span=(171.0, 285.0))})
    tested = archive_of([given], spread=SpreadByKind(air=0.4))
    (drawn,) = fitted_lines(tested.results["x"], room_models(tested, "x"), id="a", title="b").lines
    chart = power_chart(PowerLines(id="a", title="b", lines=(drawn,)))
    for row in chart.spec["datasets"]["bands"]:
        (claimed,) = room_estimate(tested, "x", 23.0, row["x"]).temperatures
        assert row["hi"] - row["y"] == pytest.approx(claimed.half_width, rel=1e-6)
        # By hand, at least the sensor's 0.6 K and the mounts' 0.4 K, of a mean and of one more.
        assert row["hi"] - row["y"] > 1.96 * math.hypot(0.6, 0.4 * 0.59 * math.sqrt(2))


def test_sweep_takes_settled_points_and_joins_steps_of_the_limit() -> None:
    shown = power_sweep(RESULT, PROTOCOL, id="a", title="b")
    assert [(p.name, p.joined) for p in shown.points] == [("Stock", True), ("Power-70", True)]


GROUP = Group(card="orrery-780", sample="a", points=(("soak-10", "stock"),), name="Stock", role=PointRole.STOCK)


def test_order_of_coolers_keeps_its_letters_and_the_cooler_of_the_page() -> None:
    rows = tuple(
        RankRow(bundle=bundle, tests=(bundle,), estimate=Estimate(value=value, u=0.2, unit="K"), letters=letters)
        for bundle, value, letters in (("slab", 31.0, ("a",)), ("twin", 31.4, ("a", "b")))
    )
    order = Ranking(group=GROUP, kind="core_rise", basis=Basis.MEASURED, rows=rows, left_out=(), notes=())
    named = {
        "slab": NamedCooler(name="Fenwick Slab", kind=CoolerKind.WATER_BLOCK),
        "twin": NamedCooler(name="Gritstone Twin", kind=CoolerKind.AIR),
    }
    shown = cooler_figures(order, named, id="a", title="b", here="twin")
    assert [(c.name, c.kind, c.estimate.value, c.tie, c.here) for c in shown.coolers] == [
        ("Fenwick Slab", CoolerKind.WATER_BLOCK, 31.0, "a", False),
        ("Gritstone Twin", CoolerKind.AIR, 31.4, "ab", True),
    ]
    assert shown.figure == "core_rise"


def test_bench_history_takes_limits_and_signals_as_they_were_judged() -> None:
    retests = tuple(
        Retest(
            bundle=f"b{day}",
            bench="open-frame",
            tested=dt.date(2026, 1, day),
            estimate=Estimate(value=value, u=0.2, unit="K"),
            signal=value > 47,
        )
        for day, value in ((3, 46.0), (9, 48.0))
    )
    limits = IndividualsChart(mean=46.2, moving_range=0.3, lower=45.4, upper=47.0, signals=(1,))
    stability = Stability(
        cooler="stock", group=GROUP, kind="core_rise", retests=retests, chart=limits, provisional=True, said=""
    )
    shown = bench_history(stability, {"open-frame": "Open frame"}, id="a", title="b")
    assert (shown.mean, shown.lower, shown.upper, shown.provisional) == (46.2, 45.4, 47.0, True)
    assert [(r.bench, r.outside) for r in shown.retests] == [("Open frame", False), ("Open frame", True)]
