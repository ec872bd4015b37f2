"""Gaps, spikes, steps and bends in a window are found and named; quiet windows are left in peace."""

from __future__ import annotations

import math

import numpy as np
import pytest

from builder.core.quantity import Estimate, FloatArray
from builder.core.results import Cause, ChangeKind, Verdict
from builder.settling import Channel, Judgement, SettleRule, Signals, judge
from builder.settling.changes_in_window import level_step
from builder.settling.cleaning import despiked, power_swings

RULE = SettleRule(tau_s=150, window_s=300, soak_s=300)
TIME = np.arange(1200.0)


def approach(seed: int = 1) -> FloatArray:
    rng = np.random.default_rng(seed)
    return np.asarray(55 - 30 * np.exp(-TIME / 100) + 0.1 * rng.standard_normal(1200), dtype=float)


def judged(temperature: FloatArray, power: FloatArray | None = None, fan: FloatArray | None = None) -> Judgement:
    signals = Signals(
        time_s=TIME,
        temperature=Channel(values=temperature),
        power=None if power is None else Channel(values=power),
        ambient=Estimate(value=22.0, u=0.1, unit="degC"),
        fan=None if fan is None else Channel(values=fan),
    )
    return judge(signals, RULE)


def test_a_spike_is_removed_and_counted() -> None:
    values = approach()
    values[1000] += 15
    found = judged(values)
    assert found.settlement.notes == ("1 spike removed from the temperature",)
    assert found.settlement.verdict is Verdict.SETTLED


def test_despiking_leaves_a_step_and_a_scene_alone() -> None:
    values = np.where(TIME < 600, 50.0, 56.0) + 0.1 * np.random.default_rng(1).standard_normal(1200)
    assert despiked(values)[1] == 0


def test_despiking_finds_what_a_median_filter_finds() -> None:
    # Independent code: scipy's median filter and the same limits.
    from scipy import ndimage

    values = approach()
    values[[50, 400, 401, 900]] += [9.0, -7.0, -7.5, 30.0]
    middle = ndimage.median_filter(values, 11)
    spread = ndimage.median_filter(np.abs(values - middle), 11)
    bad = np.abs(values - middle) > np.maximum(6 * 1.4826 * spread, 2.0)
    cleaned, count = despiked(values)
    assert count == bad.sum() == 4
    assert np.array_equal(np.isnan(cleaned), bad)


def test_a_short_series_is_not_despiked() -> None:
    values = np.array([1.0, 50.0, 1.0])
    assert despiked(values)[1] == 0


def test_a_gap_in_the_window_is_named() -> None:
    values = approach()
    values[1000:1040] = math.nan
    assert judged(values).settlement.notes == ("no temperature readings for 41 s from 999 s on",)


def test_a_change_of_fan_speed_is_named_and_forbids_settled() -> None:
    fan = np.where(TIME < 1050, 1500.0, 1650.0) + np.random.default_rng(2).normal(0, 1, 1200)
    settlement = judged(approach(), fan=fan).settlement
    assert settlement.verdict is Verdict.UNDECIDED
    assert settlement.message == (
        "Cannot tell: in the window, fan steps from 1500 to 1650 r/min at 1052 s; run again with the fan held."
    )


def test_a_step_of_power_is_named() -> None:
    power = np.where(TIME < 1050, 300.0, 270.0) + np.random.default_rng(2).normal(0, 2, 1200)
    notes = judged(approach(), power=power).settlement.notes
    assert "board power steps from 300 to 270 W at 1052 s" in notes


def test_a_bend_without_a_cause_in_the_log_is_named_and_forbids_settled() -> None:
    values = approach() - 3 * (1 - np.exp(-np.maximum(TIME - 1050, 0) / 100))
    settlement = judged(values).settlement
    assert settlement.verdict is not Verdict.SETTLED
    assert any(n.startswith("the temperature bends at 10") for n in settlement.notes)


@pytest.mark.parametrize("seed", range(12))
def test_quiet_windows_are_left_in_peace(seed: int) -> None:
    rng = np.random.default_rng(seed)
    power, fan = 300 + 5 * rng.standard_normal(1200), 1500 + 5 * rng.standard_normal(1200)
    assert judged(approach(seed), power, fan).settlement.notes == ()


def test_a_level_step_is_found_where_it_is() -> None:
    time = np.arange(60.0) * 5
    values = np.where(time < 200, 10.0, 12.0) + 0.1 * np.random.default_rng(3).standard_normal(60)
    found = level_step(time, values)
    assert found is not None
    assert found.time_s == 200
    assert found.size == pytest.approx(2.0, abs=0.1)


def test_a_bend_is_found_where_it_is() -> None:
    # By hand: fins of 100 s that lose 3 K from 1050 s on.
    values = approach() - 3 * (1 - np.exp(-np.maximum(TIME - 1050, 0) / 100))
    (change,) = judged(values).settlement.changes
    assert change.kind is ChangeKind.TEMPERATURE
    assert change.time_s == pytest.approx(1050, abs=20)
    assert change.size == pytest.approx(-3.0, abs=0.7)
    assert change.unit == "K"


def test_a_fan_step_is_a_value_with_time_and_size() -> None:
    fan = np.where(TIME < 1050, 1500.0, 1680.0) + np.random.default_rng(2).normal(0, 1, 1200)
    settlement = judged(approach(), fan=fan).settlement
    (change,) = settlement.changes
    assert change.kind is ChangeKind.FAN
    assert change.time_s == pytest.approx(1050, abs=5)
    assert change.size == pytest.approx(180, abs=2)
    assert change.before == pytest.approx(1500, abs=2)
    assert change.after == pytest.approx(1680, abs=2)
    assert settlement.verdict is not Verdict.SETTLED
    assert settlement.cause is Cause.FAN_STEP


@pytest.mark.parametrize("resolution", [0.1, 1.0], ids=str)
def test_a_fan_step_that_the_temperature_answers_is_not_called_settled(resolution: float) -> None:
    # Conductance of fins goes about as n^0.8: 12 % of speed are 9.5 % of the fins' 15 K. Common practice, no source.
    fan = np.where(TIME < 1030, 1500.0, 1680.0)
    cooled = 15 * (1 - 1.12**-0.8) * (1 - np.exp(-np.maximum(TIME - 1030, 0) / 100))
    values = np.round((approach() - cooled) / resolution) * resolution
    signals = Signals(
        time_s=TIME,
        temperature=Channel(values=values, resolution=resolution),
        ambient=Estimate(value=22.0, u=0.1, unit="degC"),
        fan=Channel(values=fan),
    )
    settlement = judge(signals, RULE).settlement
    assert settlement.verdict is not Verdict.SETTLED
    assert any(n == "fan steps from 1500 to 1680 r/min at 1032 s" for n in settlement.notes)


def test_a_fan_that_spun_up_with_the_load_and_then_stood_does_not_hinder() -> None:
    fan = 1500 - 700 * np.exp(-TIME / 60)
    settlement = judged(approach(), fan=fan).settlement
    assert settlement.verdict is Verdict.SETTLED
    assert settlement.changes == ()


def test_duty_cycles_of_the_power_are_no_spikes() -> None:
    # Two seconds in thirty at a tenth of the power: the die falls by some kelvins each time.
    off = TIME % 30 >= 28
    values = approach() - np.where(off, 4.0, 0.0)
    power = np.where(off, 30.0, 300.0)
    swings = power_swings(Channel(values=power))
    assert despiked(values)[1] > 0
    assert despiked(values, swings)[1] == 0
    assert not any("spike" in note for note in judged(values, power).settlement.notes)


def test_the_best_split_is_the_one_with_the_least_squares() -> None:
    # By trial of every place.
    time, values = np.arange(40.0), np.random.default_rng(5).standard_normal(40) + (np.arange(40) >= 17)
    squares = {k: values[:k].var() * k + values[k:].var() * (40 - k) for k in range(4, 36)}
    found = level_step(time, values)
    assert found is not None
    assert found.time_s == min(squares, key=squares.__getitem__)


@pytest.mark.parametrize("size", [0, 5, 15], ids=str)
def test_short_series_have_no_step(size: int) -> None:
    assert level_step(np.arange(float(size)), np.ones(size)) is None


def test_a_bend_hidden_by_whole_degrees_still_forbids_settled() -> None:
    settled = 0
    for seed in range(10):
        rng = np.random.default_rng(seed)
        bent = 55 - 30 * np.exp(-TIME / 100) - 1.6 * (1 - np.exp(-np.maximum(TIME - 1040, 0) / 100))
        values = np.round(bent + rng.uniform(-0.5, 0.5) + 0.15 * rng.standard_normal(1200))
        signals = Signals(
            time_s=TIME,
            temperature=Channel(values=values, resolution=1.0),
            ambient=Estimate(value=22.0, u=0.1, unit="degC"),
        )
        settled += judge(signals, RULE).settlement.verdict is Verdict.SETTLED
    assert settled <= 1
