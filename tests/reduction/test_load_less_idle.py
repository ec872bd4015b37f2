"""Load less idle: what cancels, which runs have it, and a fact of the trade."""

from __future__ import annotations

import math

import pytest
from GTC import uncertainty as gtc_u
from GTC import ureal

from builder.archive.protocol import PointRole
from builder.core.results import Bound, Component, Figure, Quantity, Role, RunResult, Settlement, Verdict
from builder.reduction.between_points import with_load_less_idle
from builder.uncertainty import estimate_from_budget

ROLES = {"idle": PointRole.IDLE, "stock": PointRole.STOCK}
OFFSET, GAIN = 0.5, 0.004  # of the core's thermometer, standard: K, and a share of its reading


def rise(value: float, reading: float, *, scatter: float = 0.1, bound: Bound = Bound.NONE) -> Figure:
    sensor = Quantity.CORE_TEMPERATURE
    budget = (
        Component(name="scatter", kind="A", u=scatter, unit="K", dof=40),
        Component(name="accuracy", kind="B", u=OFFSET, unit="K", dof=math.inf, role=Role.OFFSET, sensor=sensor),
        Component(name="gain", kind="B", u=GAIN * reading, unit="K", dof=math.inf, role=Role.GAIN, sensor=sensor),
    )
    estimate = estimate_from_budget(value, "K", budget)
    return Figure(kind="core_rise", estimate=estimate, samples=300, budget=budget, bound=bound)


def run(point: str, figure: Figure, *, mount: int = 1, verdict: Verdict = Verdict.SETTLED) -> RunResult:
    settlement = Settlement(verdict=verdict, message="", tau_s=150, limit_k=0.5)
    return RunResult(mount=mount, point=point, log="x.csv", settlement=settlement, figures={"core_rise": figure})


def of_stock(*runs: RunResult) -> Figure | None:
    found = with_load_less_idle(runs, ROLES)
    return next(r.figures.get("core_from_idle") for r in found if r.point == "stock")


def test_it_agrees_with_another_library_where_one_thermometer_made_both_readings() -> None:
    """GTC with offset and gain of one sensor as inputs of both rises; JCGM 100:2008, 5.2.2."""
    found = of_stock(run("idle", rise(3.0, 25.0)), run("stock", rise(33.0, 55.0)))
    offset, gain = ureal(0, OFFSET), ureal(0, GAIN)
    load = ureal(33.0, 0.1) + offset + 55.0 * gain
    idle = ureal(3.0, 0.1) + offset + 25.0 * gain
    assert found is not None
    assert found.estimate.value == pytest.approx(30.0)
    assert found.estimate.u == pytest.approx(gtc_u(load - idle))


def test_the_budget_adds_up() -> None:
    found = of_stock(run("idle", rise(3.0, 25.0)), run("stock", rise(33.0, 55.0)))
    assert found is not None
    assert found.estimate.u == pytest.approx(math.hypot(*(line.contribution for line in found.budget)))


# Common practice, no source: a core at 28 °C at idle and 63 °C under load is said to go up by 35 degrees.
def test_it_reads_as_the_trade_says_it() -> None:
    found = of_stock(run("idle", rise(28.0 - 22.0, 28.0)), run("stock", rise(63.0 - 22.0, 63.0)))
    assert found is not None
    assert found.estimate.value == pytest.approx(35.0)


@pytest.mark.parametrize(
    ("idle", "load"),
    [
        (run("idle", rise(3.0, 25.0), verdict=Verdict.DRIFTING), run("stock", rise(33.0, 55.0))),
        (run("idle", rise(3.0, 25.0)), run("stock", rise(33.0, 55.0), verdict=Verdict.TOO_SHORT)),
        (run("idle", rise(3.0, 25.0), mount=2), run("stock", rise(33.0, 55.0))),
        (run("idle", rise(3.0, 25.0, bound=Bound.UPPER)), run("stock", rise(33.0, 55.0))),
    ],
    ids=["idle drifts", "load too short", "another mount", "a bound"],
)
def test_there_is_none_where_a_run_of_the_pair_says_no_value(idle: RunResult, load: RunResult) -> None:
    assert of_stock(idle, load) is None
