"""Means over windows: a real log, whole loops, resolution and accuracy."""

from __future__ import annotations

import csv
import datetime as dt
import math
from dataclasses import dataclass
from functools import cache
from pathlib import Path

import numpy as np
import pytest

from builder.core.quantity import FloatArray
from builder.core.results import Verdict, Window
from builder.settling import Channel, SettleRule, Signals, judge, window_mean

# Logged for this project on an accelerator in a machine room: whole degrees, two samples a second, no ambient sensor.
LOG = Path(__file__).parents[1] / "archives" / "accelerator" / "bundles" / "accelerator-1-as-delivered"


@dataclass(frozen=True, eq=False)
class Real:
    """The real log: Unix times, core and memory temperatures, board power, and the start of each phase."""

    time: FloatArray
    core: FloatArray
    memory: FloatArray
    power: FloatArray
    phases: dict[str, float]


def _lines(name: str) -> list[str]:
    return (LOG / name).read_text(encoding="utf-8").splitlines()


@cache
def real() -> Real:
    rows = [[cell.strip() for cell in row] for row in csv.reader(_lines("sensors.csv"))][1:]
    stamps = [dt.datetime.strptime(r[0], "%Y/%m/%d %H:%M:%S.%f").replace(tzinfo=dt.UTC).timestamp() for r in rows]
    events = list(csv.DictReader(_lines("events.csv")))
    return Real(
        time=np.array(stamps),
        core=np.array([float(r[1]) for r in rows]),
        memory=np.array([float(r[2]) for r in rows]),
        power=np.array([float(r[3].removesuffix(" W")) for r in rows]),
        phases={e["phase"]: float(e["epoch"]) for e in events},
    )


def mean_of(values: FloatArray, start: float, end: float) -> tuple[float, int]:
    found = window_mean(real().time, Channel(values=values), Window(start_s=start, end_s=end), unit="K")
    assert found is not None
    return found.estimate.value, found.samples


def test_the_real_log_has_its_known_means_at_full_load() -> None:
    end = real().phases["rest"]
    core, samples = mean_of(real().core, end - 120, end)
    assert (round(core, 4), samples) == (70.1167, 240)
    assert mean_of(real().memory, end - 120, end)[0] == pytest.approx(65.4250, abs=5e-5)
    assert mean_of(real().power, end - 120, end)[0] == pytest.approx(697.6320, abs=5e-5)


def test_the_real_log_has_its_known_means_at_half_load() -> None:
    end = real().phases["cool"]
    assert mean_of(real().core, end - 60, end)[0] == pytest.approx(64.3167, abs=5e-5)
    assert mean_of(real().power, end - 60, end)[0] == pytest.approx(548.3984, abs=5e-5)


@pytest.mark.parametrize(("phase", "end", "length"), [("full", "rest", "210"), ("half", "cool", "150")], ids=str)
def test_both_loads_of_the_real_log_are_too_short(phase: str, end: str, length: str) -> None:
    log = real()
    cut = (log.time >= log.phases[phase]) & (log.time < log.phases[end])
    signals = Signals(
        time_s=log.time[cut] - log.phases[phase],
        temperature=Channel(values=log.core[cut], resolution=1.0),
        power=Channel(values=log.power[cut]),
    )
    settlement = judge(signals, SettleRule(tau_s=150, window_s=300, soak_s=300)).settlement
    assert settlement.verdict is Verdict.TOO_SHORT
    assert settlement.message == f"Too short: {length} s of 600 s."


def test_idle_of_the_real_log_still_moves() -> None:
    # +0.57 K a minute over its last 30 s: no reference to within kelvins.
    log = real()
    end = log.phases["full"]
    cut = (log.time >= end - 30) & (log.time < end)
    slope = np.polyfit(log.time[cut] - end, log.core[cut], 1)[0]
    assert 60 * slope == pytest.approx(0.57, abs=0.02)


WINDOW = Window(start_s=600.0, end_s=900.0)
TIME = np.arange(900.0)


def test_a_window_holds_its_start_and_not_its_end() -> None:
    found = window_mean(TIME, Channel(values=TIME), Window(start_s=10, end_s=20), unit="s")
    assert found is not None
    assert (found.estimate.value, found.samples) == (14.5, 10)


def test_an_exponential_has_its_exact_mean_over_the_window() -> None:
    # By hand: -10 exp(-t/120) over 600 to 900 s has mean tau (y(600) - y(900)) / -W = -0.02474.
    found = window_mean(TIME + 0.5, Channel(values=-10 * np.exp(-(TIME + 0.5) / 120)), WINDOW, unit="K")
    assert found is not None
    exact = 120 * (-10 * math.exp(-5) + 10 * math.exp(-7.5)) / 300
    assert exact == pytest.approx(-0.02474, abs=5e-6)
    assert found.estimate.value == pytest.approx(exact, abs=1e-6)


def test_a_first_order_step_falls_short_of_rest_as_the_closed_form_says() -> None:
    # 25 K step with tau = 60 s: the mean over 300 to 600 s is low by 0.03346 K; at 300 s it moves 0.16845 K a minute.
    time = np.arange(600.0) + 0.5
    found = window_mean(time, Channel(values=25 * (1 - np.exp(-time / 60))), Window(start_s=300, end_s=600), unit="K")
    assert found is not None
    assert 25 - found.estimate.value == pytest.approx(0.03346, abs=5e-6)
    assert 25 / 60 * math.exp(-5) * 60 == pytest.approx(0.16845, abs=5e-6)
    assert [round(1 - math.exp(-k), 5) for k in range(1, 6)] == [0.63212, 0.86466, 0.95021, 0.98168, 0.99326]


def test_whole_loops_do_not_count_as_scatter() -> None:
    values = 1800 + 50 * np.sin(2 * np.pi * TIME / 90) + np.random.default_rng(1).standard_normal(900)
    loops = Window(start_s=540, end_s=900)
    known = window_mean(TIME, Channel(values=values), loops, unit="MHz", loop_s=90)
    unknown = window_mean(TIME, Channel(values=values), loops, unit="MHz")
    assert known is not None
    assert unknown is not None
    assert known.estimate.u < 0.2
    assert unknown.estimate.u > 5


def test_resolution_and_accuracy_stand_in_the_budget() -> None:
    # JCGM 100:2008, F.2.2.1 and 4.3.7: 1 / sqrt(12) and 3 / sqrt(3).
    found = window_mean(TIME, Channel(values=np.full(900, 60.0), resolution=1.0, accuracy=3.0), WINDOW, unit="degC")
    assert found is not None
    lines = {c.name: c.u for c in found.budget}
    assert lines["sensor resolution"] == pytest.approx(1 / math.sqrt(12))
    assert lines["sensor accuracy"] == pytest.approx(math.sqrt(3))
    assert found.estimate.u == pytest.approx(math.hypot(1 / math.sqrt(12), math.sqrt(3)))


def test_a_window_with_many_holes_says_so() -> None:
    values = np.where(TIME % 2 == 0, 50.0, np.nan)
    values[600:750] = np.nan
    found = window_mean(TIME, Channel(values=values), WINDOW, unit="degC")
    assert found is not None
    assert found.samples == 75


@pytest.mark.parametrize("values", [np.full(900, np.nan), np.full(900, 1e308)], ids=["missing", "huge"])
def test_a_window_without_readings_has_no_mean(values: FloatArray) -> None:
    assert window_mean(TIME, Channel(values=values), WINDOW, unit="K") is None
