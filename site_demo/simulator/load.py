"""The invented workload: what each test point asks of a card, and how the scene loop and the room vary in time."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from network import REFERENCE_DIE_C, STEP_S, Demand, Floats
from rig import CardRig

LOOP_S = 90.0
SLOW_NOISE_S = 25.0
CLOCK_PER_K = 0.00016  # share of clock and frame rate lost per kelvin above the reference die temperature


@dataclass(frozen=True, kw_only=True)
class PointLoad:
    """One test point: power as a share of the card's, frames and clock as a share of stock, and how power behaves.

    `held` says that the power limit holds the power, so that the scene and leakage hardly move it.
    """

    power: float
    frames: float
    clock: float
    volts: float = 1.0
    held: bool = True


POINTS = {
    "idle": PointLoad(power=0, frames=0, clock=0.13, volts=0.68, held=False),
    "stock": PointLoad(power=0.985, frames=1.0, clock=1.0),
    "power-90": PointLoad(power=0.888, frames=0.988, clock=0.985, volts=0.975),
    "power-80": PointLoad(power=0.790, frames=0.969, clock=0.962, volts=0.945),
    "power-70": PointLoad(power=0.692, frames=0.935, clock=0.925, volts=0.91),
    "power-60": PointLoad(power=0.594, frames=0.879, clock=0.865, volts=0.87),
    "matched-clock": PointLoad(power=0.951, frames=0.984, clock=0.979, volts=0.985, held=False),
    "undervolt": PointLoad(power=0.812, frames=0.996, clock=0.995, volts=0.905, held=False),
    "overclock": PointLoad(power=0.990, frames=1.031, clock=1.033),
    "overclock-raised": PointLoad(power=1.106, frames=1.054, clock=1.058, volts=1.025),
    "closing": PointLoad(power=0.985, frames=1.0, clock=1.0),
}


def demand(point: str, card: CardRig) -> Demand:
    """Return the power in W and its leakage per kelvin that a test point asks of a card."""
    load = POINTS[point]
    power = card.idle_w if point == "idle" else load.power * card.board_w
    return Demand(power_w=power, leakage_per_k=0.0001 if load.held else 0.0009)


def slowed(die_c: float | Floats) -> float | Floats:
    """Return the factor on clock and frame rate at a die temperature in °C."""
    return 1 - CLOCK_PER_K * (die_c - REFERENCE_DIE_C)


def loop_phase(samples: int, rng: np.random.Generator) -> Floats:
    """Return the phase of the scene loop in turns at each step; passes differ in length by 0.3 %."""
    passes = int(samples * STEP_S / LOOP_S) + 2
    lengths = LOOP_S * (1 + 0.003 * rng.standard_normal(passes))
    ends = np.concatenate([[0.0], np.cumsum(lengths)])
    return np.asarray(np.interp(STEP_S * np.arange(samples), ends, np.arange(passes + 1.0)), dtype=np.float64)


def scene(phase: Floats) -> Floats:
    """Return the shape of the scene over a pass: mean 0, extremes near 1."""
    turn = 2 * np.pi * phase
    shape = np.sin(turn) + 0.5 * np.sin(2 * turn + 1.0) + 0.35 * np.sin(5 * turn + 2.0)
    return np.asarray(shape / 1.5)


def slow_noise(samples: int, scale: float, lag_s: float, rng: np.random.Generator) -> Floats:
    """Return first-order noise with a standard deviation and a correlation time in s."""
    keep = float(np.exp(-STEP_S / lag_s))
    kicks = (scale * np.sqrt(1 - keep**2) * rng.standard_normal(samples)).tolist()
    level = scale * float(rng.standard_normal())
    out = np.empty(samples)
    for i, kick in enumerate(kicks):
        level = keep * level + kick
        out[i] = level
    return out


def power_factor(point: str, phase: Floats, rng: np.random.Generator) -> Floats:
    """Return the factor on a test point's power at each step, of mean 1."""
    load = POINTS[point]
    swing = 0.0 if point == "idle" else 0.018 if load.held else 0.05
    slow = slow_noise(phase.size, 0.004 if load.held else 0.008, SLOW_NOISE_S, rng)
    return np.asarray(1 + swing * scene(phase) + slow + 0.006 * rng.standard_normal(phase.size))


def frame_factor(phase: Floats) -> Floats:
    """Return the factor on the frame rate at each phase: busy scenes are slower."""
    return np.asarray(1 - 0.11 * scene(phase))


def room(mean_c: float, samples: int, rng: np.random.Generator) -> Floats:
    """Return the room temperature in °C at each step: a slow swing, a slower drift and a little turbulence."""
    time_s = STEP_S * np.arange(samples)
    period, phase = float(rng.uniform(1500, 3600)), float(rng.uniform(0, 2 * np.pi))
    swing = float(rng.uniform(0.05, 0.2)) * np.sin(2 * np.pi * time_s / period + phase)
    drift = float(rng.uniform(-0.15, 0.25)) * (time_s - time_s.mean()) / 3600
    return np.asarray(mean_c + swing + drift + slow_noise(samples, 0.05, 120.0, rng))
