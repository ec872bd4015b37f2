"""Whatever a log holds, judging it gives a verdict in words and no number that is not one."""

from __future__ import annotations

import math
from collections.abc import Iterator

import numpy as np
import pytest

from builder.core.quantity import Estimate, FloatArray
from builder.core.results import Verdict, Window
from builder.settling import Channel, Derived, Judgement, SettleRule, Signals, judge, window_mean

RULE = SettleRule(tau_s=150, window_s=300, soak_s=300)
AMBIENT = Estimate(value=22.0, u=0.5, unit="degC")
TIME = np.arange(1200.0)


def approach(size: int = 1200, seed: int = 1) -> FloatArray:
    time, rng = np.arange(float(size)), np.random.default_rng(seed)
    return np.asarray(55 - 30 * np.exp(-time / 100) + 0.1 * rng.standard_normal(size), dtype=float)


def with_power(power: FloatArray) -> Judgement:
    signals = Signals(time_s=TIME, temperature=Channel(values=approach()), power=Channel(values=power), ambient=AMBIENT)
    return judge(signals, RULE)


def with_temperature(values: FloatArray, resolution: float = 0.0) -> Judgement:
    time = np.arange(float(values.size))
    channel = Channel(values=values, resolution=resolution)
    return judge(Signals(time_s=time, temperature=channel, ambient=AMBIENT), RULE)


def test_a_constant_reading_of_unknown_resolution_counts_as_stuck() -> None:
    settlement = with_temperature(np.full(1200, 50.0)).settlement
    assert settlement.verdict is Verdict.UNDECIDED
    assert settlement.message == "Cannot tell: the temperature never changes, as if its reading were stuck."


def test_whole_degrees_may_rest() -> None:
    assert with_temperature(np.full(1200, 50.0), 1.0).settlement.verdict is Verdict.SETTLED


@pytest.mark.parametrize("value", [math.nan, math.inf, -math.inf, 1e308, -1e308], ids=str)
def test_a_column_without_possible_readings_is_undecided(value: float) -> None:
    settlement = with_temperature(np.full(1200, value)).settlement
    assert settlement.verdict is Verdict.UNDECIDED
    assert settlement.message == "Cannot tell: there are no temperature readings to judge."


@pytest.mark.parametrize("size", [0, 1, 2, 3], ids=str)
def test_a_handful_of_samples_is_no_run(size: int) -> None:
    verdict = with_temperature(np.linspace(40, 41, size)).settlement.verdict
    assert verdict is (Verdict.UNDECIDED if size < 2 else Verdict.TOO_SHORT)


def test_single_impossible_readings_are_left_out_and_named() -> None:
    values = approach()
    values[[100, 1000]] = [math.inf, -400.0]
    judged = with_temperature(values)
    assert judged.settlement.verdict is Verdict.SETTLED
    assert "2 impossible temperature readings left out" in judged.settlement.notes


def test_a_window_with_too_few_readings_is_undecided() -> None:
    values = approach()
    values[950:1150] = math.nan
    settlement = with_temperature(values).settlement
    assert settlement.verdict is Verdict.UNDECIDED
    assert settlement.message == "Cannot tell: only 33% of the window holds temperature readings."


@pytest.mark.parametrize(
    "power",
    [np.zeros(1200), np.full(1200, -5.0), np.full(1200, math.nan), np.full(1200, 1e-310), np.full(1200, 1e308)],
    ids=["zero", "negative", "missing", "tiny", "huge"],
)
def test_power_that_is_none_leaves_the_rise_and_no_psi(power: FloatArray) -> None:
    judged = with_power(power)
    assert judged.settlement.verdict is Verdict.SETTLED
    assert judged.rise is not None
    assert judged.psi is None


def test_power_with_holes_still_gives_psi() -> None:
    power = np.full(1200, 300.0)
    power[::3] = math.nan
    psi = with_power(power).psi
    assert psi is not None
    assert psi.estimate.value == pytest.approx(33 / 300, rel=0.01)


def test_ambient_hotter_than_the_core_gives_a_negative_rise() -> None:
    signals = Signals(
        time_s=TIME,
        temperature=Channel(values=approach()),
        power=Channel(values=np.full(1200, 300.0)),
        ambient=Channel(values=np.full(1200, 80.0)),
    )
    judged = judge(signals, RULE)
    assert judged.rise is not None
    assert judged.rise.estimate.value == pytest.approx(-25.0, abs=0.1)


def test_an_ambient_uncertainty_above_the_rise_is_kept() -> None:
    ambient = Estimate(value=22.0, u=1e6, unit="degC")
    judged = judge(Signals(time_s=TIME, temperature=Channel(values=approach()), ambient=ambient), RULE)
    assert judged.rise is not None
    assert judged.rise.estimate.u == pytest.approx(1e6)


def test_times_out_of_order_are_put_in_order() -> None:
    order = np.random.default_rng(1).permutation(1200)
    shuffled = judge(Signals(time_s=TIME[order], temperature=Channel(values=approach()[order]), ambient=AMBIENT), RULE)
    plain = with_temperature(approach())
    assert shuffled == plain


def columns(size: int) -> Iterator[FloatArray]:
    time, rng = np.arange(float(size)), np.random.default_rng(size)
    yield np.full(size, 50.0)
    yield np.full(size, math.nan)
    yield np.full(size, math.inf)
    yield np.full(size, 1e308)
    yield np.zeros(size)
    yield 50 - 20 * np.exp(-time / 100) + 0.1 * rng.standard_normal(size)
    yield rng.standard_normal(size) * 1e300
    yield np.full(size, 1e-310)
    yield 10 * rng.standard_normal(size)
    yield np.where(time == size - 1, 40.0, math.nan)
    yield np.where(time % 2 == 0, 50 + rng.standard_normal(size), math.nan)


def clocks(size: int) -> Iterator[FloatArray]:
    count, rng = np.arange(float(size)), np.random.default_rng(size)
    yield count
    yield np.zeros(size)
    yield np.full(size, math.nan)
    yield rng.uniform(0, 2000, size)
    yield count * 1e-9
    yield count * 1e6
    yield count[::-1]
    yield 1e300 * count
    yield count * 0.1 + 1.7e9 - 1e9


@pytest.mark.parametrize("size", [0, 1, 2, 20, 700], ids=str)
def test_no_mixture_of_columns_raises_or_gives_nan(size: int) -> None:
    rng = np.random.default_rng(size)
    every = list(columns(size))
    for time in clocks(size):
        for values in every:
            others = [
                None if k == len(every) else Channel(values=every[k]) for k in rng.integers(len(every) + 1, size=4)
            ]
            signals = Signals(
                time_s=time,
                temperature=Channel(values=values, resolution=float(rng.choice([0.0, 0.1, 1.0]))),
                power=others[0],
                ambient=others[1] or AMBIENT,
                coolant=others[2],
                fan=others[3],
            )
            loop = (None, 90.0, 1.0, 1e4)[int(rng.integers(4))]
            rule = SettleRule(tau_s=150, window_s=300, soak_s=0, loop_s=loop)
            assert _finite(judge(signals, rule))
            mean = window_mean(time, signals.temperature, Window(start_s=300, end_s=600), unit="K", loop_s=loop)
            assert mean is None or math.isfinite(mean.estimate.u)


def _finite(judged: Judgement) -> bool:
    found = [d for d in (judged.rise, judged.psi, judged.core_over_coolant, judged.coolant_rise) if d is not None]
    return bool(judged.settlement.message) and all(_finite_budget(d) for d in found)


def _finite_budget(derived: Derived) -> bool:
    return all(math.isfinite(c.contribution) and c.dof >= 1 for c in derived.budget)
