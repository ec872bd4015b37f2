"""The simulator that methods are tuned on: linear stages in a row, Gaussian noise."""

from __future__ import annotations

import math

import numpy as np
from scipy import signal

from builder.core.quantity import FloatArray
from tests.studies.runs import Batch, Noise
from tests.studies.scenarios import Scenario

STEP_S = 0.5
POWER_W = 300.0
RISE_K = 33.0


def simulate(scenario: Scenario, count: int, seed: int) -> Batch:
    """Return a batch of runs on a grid of half seconds: rises of linear stages driven by noisy power."""
    rng = np.random.default_rng(seed)
    steps = round(scenario.length_s / STEP_S)
    time = STEP_S * (np.arange(steps, dtype=float) + 0.5)
    share = _power(scenario, rng, count, time)
    ambient = 22 + rng.uniform(-2, 2, (count, 1)) + _room(scenario, rng, count, time)
    total = RISE_K * rng.uniform(0.9, 1.1, (count, 1))
    stages = _stages(scenario, rng, count)
    core = np.zeros((count, steps))
    coolant = np.zeros((count, steps))
    still = np.zeros((count, steps))
    fan = np.ones((1, steps))
    if scenario.fan_step:
        fan = np.where(time > scenario.length_s - 150, 0.95, 1.0)[None, :]
    felt = ambient
    for weight, tau, is_loop in stages:
        drive = total * weight
        slow = is_loop or tau.mean() > 30
        effect = fan if slow else 1.0
        core += _filtered(drive * share * effect, tau)
        still += _filtered(drive * effect * np.ones_like(share), tau)
        felt = _filtered(felt, tau, at_rest=True)
        if is_loop:
            coolant += _filtered(drive * share * effect, tau) + _filtered(ambient, tau, at_rest=True)
    end = sum(total[:, 0] * w[:, 0] * (fan[0, -1] if (t.mean() > 30) else 1.0) for w, t, _ in stages)
    return Batch(
        time_s=time,
        core=core + felt,
        power=POWER_W * share,
        ambient=ambient,
        coolant=coolant if scenario.coolant else None,
        still=still,
        rise=np.asarray(end),
        psi=np.asarray(end) / POWER_W,
        noise=Noise(sd=rng.uniform(0.05, 0.15, count), slow_sd=np.zeros(count)),
    )


def _stages(scenario: Scenario, rng: np.random.Generator, count: int) -> list[tuple[FloatArray, FloatArray, bool]]:
    def draw(low: float, high: float) -> FloatArray:
        return rng.uniform(low, high, (count, 1))

    die = draw(0.25, 0.45)
    if scenario.liquid:
        plate = draw(0.1, 0.2)
        return [(die, draw(4, 10), False), (plate, draw(20, 60), False), (1 - die - plate, draw(350, 600), True)]
    extra = draw(0.05, 0.09) if scenario.hidden_slow else np.zeros((count, 1))
    tau = np.full((count, 1), 147.0) if scenario.slow_cooler else draw(60, 140)
    stages = [(die, draw(4, 10), False), (1 - die - extra, tau, False)]
    return [*stages, (extra, draw(500, 900), False)] if scenario.hidden_slow else stages


def _power(scenario: Scenario, rng: np.random.Generator, count: int, time: FloatArray) -> FloatArray:
    sd, tau = (0.03, 60.0) if scenario.slow_power else (0.015, 10.0)
    share = 1 + _coloured(rng, count, time.size, sd, tau)
    if scenario.loop_s:
        phase = 2 * math.pi * (time / scenario.loop_s + rng.uniform(0, 1, (count, 1)))
        share = share + 0.12 * np.sin(phase) + 0.05 * np.sin(2 * phase + 1)
    return share


def _room(scenario: Scenario, rng: np.random.Generator, count: int, time: FloatArray) -> FloatArray:
    phase = rng.uniform(0, 2 * math.pi, (count, 1))
    return (
        scenario.room_cycle_k * np.sin(2 * math.pi * time / 900 + phase)
        + rng.uniform(-0.3, 0.3, (count, 1)) * time / 3600
    )


def _coloured(rng: np.random.Generator, count: int, steps: int, sd: float, tau: float) -> FloatArray:
    keep = math.exp(-STEP_S / tau)
    drive = rng.standard_normal((count, steps)) * sd * math.sqrt(1 - keep**2)
    drive[:, 0] = rng.standard_normal(count) * sd
    return np.asarray(signal.lfilter([1.0], [1.0, -keep], drive, axis=1), dtype=float)


def _filtered(values: FloatArray, tau: FloatArray, *, at_rest: bool = False) -> FloatArray:
    result = np.empty_like(values)
    keep = np.exp(-STEP_S / tau[:, 0])
    state = values[:, 0].copy() if at_rest else np.zeros(values.shape[0])
    for k in range(values.shape[1]):
        state = keep * state + (1 - keep) * values[:, k]
        result[:, k] = state
    return result
