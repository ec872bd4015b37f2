"""Properties of judging any log at all: a judgement or a sentence, finite numbers, and no memory without end."""

from __future__ import annotations

import math
import tracemalloc

import numpy as np
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from builder.core.quantity import Estimate, FloatArray
from builder.core.results import Cause, Verdict, Window
from builder.settling import Channel, Judgement, SettleRule, Signals, judge, window_mean

LEVELS = (0.0, -5.0, 22.0, 50.0, 61.5, 1e-310, 1e6, 1e308, -1e308, math.nan, math.inf)
HOURS_3 = 10_800.0


@st.composite
def clocks(draw: st.DrawFn) -> FloatArray:
    """Return times of up to three hours, with jumps, repeats and gaps."""
    step = draw(st.sampled_from((0.1, 0.5, 1.0, 2.0, 5.0, 30.0)))
    length = draw(st.floats(0.0, HOURS_3))
    count = int(min(length / step, 4000))
    time = step * np.arange(count, dtype=float)
    for _ in range(draw(st.integers(0, 3))):
        at = draw(st.integers(0, max(count - 1, 0)))
        time[at:] += draw(st.sampled_from((-3600.0, -1.0, 0.0, 40.0, 3600.0, 50_000.0, 1e7, 1e12, math.nan)))
    return time


@st.composite
def columns(draw: st.DrawFn, time: FloatArray, rest: float) -> Channel:
    """Return a column on a clock: constant, an approach, noise, or nonsense, perhaps with holes and repeats."""
    rng = np.random.default_rng(draw(st.integers(0, 2**16)))
    noise = rng.standard_normal(time.size)
    tau = draw(st.floats(1.0, 5000.0))
    kind = draw(st.sampled_from(("constant", "approach", "noise", "nonsense", "loop", "stairs")))
    since = np.nan_to_num(time - time[0], nan=0.0, posinf=0.0, neginf=0.0) if time.size else time
    with np.errstate(over="ignore"):
        values = {
            "constant": np.full(time.size, rest),
            "approach": rest * (1 - 0.6 * np.exp(-np.clip(since, 0, None) / tau)) + 0.1 * noise,
            "noise": rest + draw(st.floats(0.0, 50.0)) * noise,
            "nonsense": np.full(time.size, draw(st.sampled_from(LEVELS))),
            "loop": rest * (1 + 0.1 * np.sin(2 * np.pi * since / 90)) + 0.05 * noise,
            "stairs": np.floor(since / 700) + rest,
        }[kind]
    step = draw(st.sampled_from((0.0, 0.1, 1.0, 5.0)))
    with np.errstate(over="ignore", invalid="ignore"):
        values = np.round(values / step) * step if step else values
    values = np.where(rng.uniform(size=time.size) < draw(st.sampled_from((0.0, 0.0, 0.1, 0.6))), np.nan, values)
    return Channel(values=np.asarray(values, dtype=float), resolution=draw(st.sampled_from((0.0, step))))


@st.composite
def signals(draw: st.DrawFn) -> Signals:
    """Return a log with any of its columns."""
    time = draw(clocks())

    def maybe(rest: float) -> Channel | None:
        return draw(columns(time, rest)) if draw(st.booleans()) else None

    further = tuple(draw(columns(time, 70.0)) for _ in range(draw(st.integers(0, 2))))
    ambient = maybe(22.0) or draw(st.sampled_from((None, Estimate(value=22.0, u=0.5, unit="degC"))))
    return Signals(
        time_s=time,
        temperature=draw(columns(time, 60.0)),
        power=maybe(300.0),
        ambient=ambient,
        coolant=maybe(35.0),
        fan=maybe(1500.0),
        further=further,
    )


RULES = st.sampled_from(
    [
        SettleRule(tau_s=tau, window_s=window, soak_s=soak, loop_s=loop)
        for tau, window, soak in ((150.0, 300.0, 300.0), (600.0, 600.0, 1200.0), (40.0, 300.0, 0.0))
        for loop in (None, 90.0, 1.0, 1e4)
    ]
)


@settings(max_examples=60, deadline=None, derandomize=True, suppress_health_check=list(HealthCheck))
@given(log=signals(), rule=RULES)
def test_any_log_is_judged_or_refused_in_words(log: Signals, rule: SettleRule) -> None:
    judged = judge(log, rule)
    assert len(judged.further) == len(log.further)
    for one in (judged, *judged.further):
        assert one.settlement.message.endswith(".")
        assert (one.settlement.cause is not None) == (one.settlement.verdict is Verdict.UNDECIDED)
        assert (one.settlement.verdict is Verdict.SETTLED) or one.rise is one.psi is None
        assert _finite(one)


@settings(max_examples=40, deadline=None, derandomize=True, suppress_health_check=list(HealthCheck))
@given(log=signals(), start=st.floats(-1e6, 1e6), length=st.floats(300.0, 1e9))
def test_any_window_has_a_finite_mean_or_none(log: Signals, start: float, length: float) -> None:
    mean = window_mean(log.time_s, log.temperature, Window(start_s=start, end_s=start + length), unit="K")
    assert mean is None or (math.isfinite(mean.estimate.value) and math.isfinite(mean.estimate.u))


def _finite(one: Judgement) -> bool:
    found = (one.rise, one.psi, one.core_over_coolant, one.coolant_rise, one.coolant_level, one.window_rise)
    budgets = [d.budget for d in found if d is not None]
    values = [one.settlement.half_width or 0.0, one.bound.value_k if one.bound else 0.0]
    return all(map(math.isfinite, values)) and all(math.isfinite(c.contribution) for b in budgets for c in b)


@pytest.mark.parametrize("hours", [1.0, 2.0, 3.0], ids=str)
@pytest.mark.parametrize("loop", [None, 90.0], ids=str)
def test_a_long_run_in_whole_degrees_with_a_loop_is_judged(hours: float, loop: float | None) -> None:
    time, rng = np.arange(0.0, 3600 * hours + 60.0), np.random.default_rng(4)
    swing = np.where(time % 90 < 30, 0.1, -0.05)
    values = np.round(55 - 30 * np.exp(-time / 110) + 8 * swing + 0.1 * rng.standard_normal(time.size))
    log = Signals(
        time_s=time,
        temperature=Channel(values=values, resolution=1.0),
        power=Channel(values=300 * (1 + swing)),
        ambient=Estimate(value=22.0, u=0.1, unit="degC"),
    )
    assert (
        judge(log, SettleRule(tau_s=150, window_s=300, soak_s=300, loop_s=loop)).settlement.verdict is Verdict.SETTLED
    )


@pytest.mark.parametrize("jump", [5e4, 1e6, 1e8], ids=str)
def test_a_clock_that_jumps_by_more_than_any_run_is_refused_in_little_memory(jump: float) -> None:
    time = np.arange(1200.0)
    time[600:] += jump
    log = Signals(time_s=time, temperature=Channel(values=55 - 30 * np.exp(-np.arange(1200.0) / 100)))
    tracemalloc.start()
    settlement = judge(log, SettleRule(tau_s=150, window_s=300, soak_s=300)).settlement
    most = tracemalloc.get_traced_memory()[1]
    tracemalloc.stop()
    assert settlement.cause is Cause.SEVERAL_RUNS
    assert "longer than any run; split it there" in settlement.message
    assert most < 20e6


def test_an_idle_card_that_rests_in_whole_degrees_is_settled() -> None:
    time, rng = np.arange(1200.0), np.random.default_rng(2)
    log = Signals(
        time_s=time,
        temperature=Channel(values=np.full(1200, 38.0), resolution=1.0),
        power=Channel(values=18 + 0.5 * rng.standard_normal(1200)),
        ambient=Channel(values=np.round(22 + 0.03 * rng.standard_normal(1200), 1), resolution=0.1),
        fan=Channel(values=np.zeros(1200)),
    )
    judged = judge(log, SettleRule(tau_s=150, window_s=300, soak_s=300))
    assert judged.settlement.verdict is Verdict.SETTLED
    assert judged.rise is not None
    assert judged.rise.estimate.value == pytest.approx(16.0, abs=0.5)
    assert judged.rise.estimate.u > 0.25  # JCGM 100:2008, F.2.2.1: 1 K / sqrt(12) stays


@pytest.mark.parametrize("resolution", [0.1, 1.0], ids=str)
@pytest.mark.parametrize("length", [900.0, 1200.0, 1800.0], ids=str)
def test_a_curve_far_from_its_end_never_gets_a_confident_value(length: float, resolution: float) -> None:
    # NIST StRD, Misra1a, certified b1 = 238.94, b2 = 5.5016e-4 (values from memory): 238.94 (1 - exp(-b2 t)).
    time = np.arange(length)
    rise = 238.94 * (1 - np.exp(-5.5016e-4 * time))
    noise = 0.1 * np.random.default_rng(1).standard_normal(time.size)
    values = np.round((22 + rise + noise) / resolution) * resolution
    log = Signals(
        time_s=time,
        temperature=Channel(values=values, resolution=resolution),
        power=Channel(values=np.full(time.size, 300.0)),
        ambient=Estimate(value=22.0, u=0.1, unit="degC"),
    )
    judged = judge(log, SettleRule(tau_s=150, window_s=300, soak_s=300))
    assert judged.settlement.verdict is Verdict.DRIFTING
    assert judged.rise is None
    assert judged.bound is not None
    assert judged.bound.rising
    assert judged.bound.value_k < 238.94
    assert judged.bound.value_k > rise[-300:].mean() - 10
