"""Changes from stock, with facts of the trade and what cancels."""

from __future__ import annotations

import math

import pytest

from builder.core.quantity import Estimate, format_number
from builder.core.results import Component, Figure, Role, RunResult, Settlement, Verdict
from builder.reduction.between_points import changes_from_stock, difference, percent_change
from builder.uncertainty import estimate_from_budget

SETTLED = Settlement(verdict=Verdict.SETTLED, message="Settled.", tau_s=150, limit_k=0.5)


def exact(value: float, unit: str, u: float = 0.0) -> Estimate:
    return Estimate(value=value, u=u, unit=unit)


def run(point: str, mount: int, **figures: Figure) -> RunResult:
    return RunResult(mount=mount, point=point, log="x.csv", settlement=SETTLED, figures=figures)


def figure(kind: str, value: float, unit: str, *, scatter: float, accuracy: float = 0.0) -> Figure:
    budget = (
        Component(name="scatter of the samples", kind="A", u=scatter, unit=unit, dof=40),
        Component(name="sensor accuracy", kind="B", u=accuracy, unit=unit, dof=math.inf, role=Role.OFFSET),
    )
    return Figure(kind=kind, estimate=estimate_from_budget(value, unit, budget), samples=300, budget=budget)


# Common practice, no source: figures as they are spoken of in the trade.
@pytest.mark.parametrize(
    ("stock", "now", "unit", "less", "percent"),
    [(317.0, 246.0, "W", "71", "22"), (71.0, 69.0, "1/s", "2", "3")],
    ids=["power limit in watts", "frames per second"],
)
def test_a_lowered_limit_reads_as_the_trade_says_it(
    stock: float, now: float, unit: str, less: str, percent: str
) -> None:
    absolute = difference(exact(now, unit), exact(stock, unit))
    relative = percent_change(exact(now, unit), exact(stock, unit))
    assert relative is not None
    assert format_number(-absolute.value, 0) == less
    assert format_number(-relative.value, 0) == percent


# Common practice, no source.
@pytest.mark.parametrize(("idle", "load", "kelvins"), [(28.0, 63.0, 35.0), (32.0, 64.0, 32.0)], ids=["core", "memory"])
def test_a_difference_of_temperatures_is_in_kelvins(idle: float, load: float, kelvins: float) -> None:
    found = difference(exact(load, "degC"), exact(idle, "degC"))
    assert (found.value, found.unit) == (kelvins, "K")


def test_the_sensors_offset_cancels_in_a_change() -> None:
    stock = run("stock", 1, core_rise=figure("core_rise", 42.0, "K", scatter=0.1, accuracy=2.0))
    lower = run("power-80", 1, core_rise=figure("core_rise", 34.0, "K", scatter=0.1, accuracy=2.0))
    change = changes_from_stock([lower], [stock])["core_rise"]
    assert change.absolute.value == pytest.approx(-8.0)
    assert change.absolute.u == pytest.approx(math.hypot(0.1, 0.1))


def test_changes_are_paired_by_mount() -> None:
    # Mount 2 is 3 K hotter throughout; the change is the same in both, so the spread of mounts does not enter it.
    stock = [run("stock", m, core_rise=figure("core_rise", 42.0 + 3 * (m - 1), "K", scatter=0.1)) for m in (1, 2)]
    lower = [run("power-80", m, core_rise=figure("core_rise", 34.0 + 3 * (m - 1), "K", scatter=0.1)) for m in (1, 2)]
    change = changes_from_stock(lower, stock)["core_rise"]
    assert change.absolute.value == pytest.approx(-8.0)
    assert change.absolute.u == pytest.approx(math.hypot(0.1, 0.1) / math.sqrt(2))


def test_a_mount_without_a_stock_run_gives_no_change() -> None:
    lower = run("power-80", 2, core_rise=figure("core_rise", 34.0, "K", scatter=0.1))
    stock = run("stock", 1, core_rise=figure("core_rise", 42.0, "K", scatter=0.1))
    assert changes_from_stock([lower], [stock]) == {}


def test_a_temperature_in_celsius_has_no_percentage() -> None:
    stock = run("stock", 1, core_temperature=figure("core_temperature", 64.0, "degC", scatter=0.1))
    lower = run("power-80", 1, core_temperature=figure("core_temperature", 56.0, "degC", scatter=0.1))
    assert changes_from_stock([lower], [stock])["core_temperature"].percent is None


def test_a_percentage_of_something_near_zero_is_refused() -> None:
    assert percent_change(exact(1.0, "K", 0.1), exact(0.2, "K", 0.1)) is None
    assert percent_change(exact(1.0, "K"), exact(-5.0, "K")) is None


def test_percent_uncertainty_is_that_of_the_ratio() -> None:
    # Hand, JCGM 100:2008, eq. 12: 100 * 0.776 * sqrt((1/246)² + (1/317)²) = 0.3993.
    found = percent_change(exact(246.0, "W", 1.0), exact(317.0, "W", 1.0))
    assert found is not None
    assert found.u == pytest.approx(0.3993, abs=2e-4)
