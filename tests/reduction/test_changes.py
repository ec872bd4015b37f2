"""Changes from stock, with facts of the trade and what cancels."""

from __future__ import annotations

import math

import pytest
from GTC import uncertainty as gtc_u
from GTC import ureal

from builder.core.quantity import NO_BREAK, Estimate, format_estimate, format_number
from builder.core.results import Change, Component, Figure, Quantity, Role, RunResult, Settlement, Verdict
from builder.reduction.between_points import changes_from_stock, difference, percent_change
from builder.uncertainty import Instrument, estimate_from_budget, instrument_lines

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


def metered(watts: float, *, pct: float, scatter: float = 0.12) -> Figure:
    stated = Instrument(offset=0.0, gain=pct / 100 * watts, sensor=Quantity.BOARD_POWER)
    budget = (
        Component(name="scatter of the samples", kind="A", u=scatter, unit="W", dof=400),
        *instrument_lines("sensor accuracy", stated, "W"),
    )
    return Figure(kind="board_power", estimate=estimate_from_budget(watts, "W", budget), samples=300, budget=budget)


def power_change(stock: float, now: float, *, pct: float, mounts: int = 1) -> Change:
    both = [
        [run(point, m, board_power=metered(watts, pct=pct)) for m in range(1, mounts + 1)]
        for point, watts in (("stock", stock), ("power-80", now))
    ]
    return changes_from_stock(both[1], both[0])["board_power"]


# Common practice, no source: a lowered limit and a meter of 2 %.
def test_a_meter_of_two_percent_leaves_one_watt_and_a_half_of_seventy_one_and_a_tenth_of_the_percent() -> None:
    change = power_change(317.0, 246.0, pct=2.0)
    assert format_estimate(change.absolute).replace(NO_BREAK, " ") == "\N{MINUS SIGN}71.0 ± 1.6 W"
    assert change.percent is not None
    assert change.percent.value == pytest.approx(-22.4, abs=0.05)
    assert change.percent.expanded() == pytest.approx(0.1, abs=0.02)


@pytest.mark.parametrize("mounts", [1, 3])
def test_a_meter_of_one_percent_leaves_its_share_of_a_hundred_and_twelve_watts_in_any_number_of_mounts(
    mounts: int,
) -> None:
    change = power_change(351.4, 239.0, pct=1.0, mounts=mounts)
    gain = 1.959964 * 0.01 * 112.4 / math.sqrt(3)
    assert gain == pytest.approx(1.27, abs=0.005)
    assert gain < change.absolute.expanded() < 1.32
    assert change.percent is not None
    assert change.percent.expanded() < 0.1


def test_offset_and_gain_leave_in_a_difference_and_a_ratio_what_gtc_says() -> None:
    # GTC 1.5 (Measurement Standards Laboratory of New Zealand): both readings share one offset and one gain.
    offset, gain = ureal(0.0, 1.5 / math.sqrt(3)), ureal(1.0, 0.02 / math.sqrt(3))
    low, high = (gain * ureal(watts, 0.12) + offset for watts in (246.0, 317.0))
    stated = (Instrument(offset=1.5, gain=0.02 * watts, sensor=Quantity.BOARD_POWER) for watts in (246.0, 317.0))
    now, stock = (
        figure_of(watts, (SCATTER, *instrument_lines("sensor accuracy", one, "W")))
        for watts, one in zip((246.0, 317.0), stated, strict=True)
    )
    change = changes_from_stock([run("power-80", 1, board_power=now)], [run("stock", 1, board_power=stock)])
    found = change["board_power"]
    assert found.absolute.u == pytest.approx(gtc_u(low - high), rel=1e-9)
    assert found.percent is not None
    assert found.percent.u == pytest.approx(gtc_u(100 * (low / high - 1)), rel=1e-9)


def figure_of(watts: float, budget: tuple[Component, ...]) -> Figure:
    return Figure(kind="board_power", estimate=estimate_from_budget(watts, "W", budget), samples=300, budget=budget)


SCATTER = Component(name="scatter of the samples", kind="A", u=0.12, unit="W", dof=400)


def test_frames_per_joule_keep_the_meters_gain_as_a_share_of_their_change() -> None:
    def per_joule(rate: float, watts: float) -> Figure:
        power = metered(watts, pct=2.0, scatter=0.0)
        budget = tuple(c.times(-rate / watts**2) for c in power.budget)
        return Figure(
            kind="frames_per_joule", estimate=estimate_from_budget(rate / watts, "1/J", budget), budget=budget
        )

    stock, lower = (
        run(point, 1, frames_per_joule=per_joule(rate, watts))
        for point, rate, watts in (("stock", 100.0, 317.0), ("power-80", 90.0, 246.0))
    )
    change = changes_from_stock([lower], [stock])["frames_per_joule"]
    assert change.absolute.u == pytest.approx(0.02 / math.sqrt(3) * (90 / 246 - 100 / 317))
    assert change.percent is not None
    assert change.percent.u == pytest.approx(0.0, abs=1e-12)
