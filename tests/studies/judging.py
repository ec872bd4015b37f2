"""The simulator that judges: three or four nodes, convection that grows with the rise, leakage, scenes that jump."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from builder.core.quantity import FloatArray
from tests.studies.runs import Batch, Noise
from tests.studies.scenarios import Scenario

STEP_S = 0.5
POWER_W = 300.0
LEAKAGE = 0.0004  # share of power per K of the die


@dataclass(frozen=True, kw_only=True, eq=False)
class _Network:
    """Capacities in J/K and conductances in W/K of each run, shape (runs,), and how convection grows."""

    die_c: FloatArray
    base_c: FloatArray
    fin_c: FloatArray
    case_c: FloatArray
    die_g: FloatArray
    base_g: FloatArray
    fin_g: FloatArray
    case_g: FloatArray
    power_law: FloatArray


def simulate(scenario: Scenario, count: int, seed: int) -> Batch:
    """Return a batch of runs on a grid of half seconds from a network with nonlinear convection."""
    rng = np.random.default_rng(seed)
    steps = round(scenario.length_s / STEP_S)
    time = STEP_S * (np.arange(steps, dtype=float) + 0.5)
    network = _network(scenario, rng, count)
    share = _power(scenario, rng, count, time)
    ambient = 21.5 + rng.uniform(-2, 2, (count, 1)) + _room(scenario, rng, count, time)
    fan = np.where(time > scenario.length_s - 170, 1.12, 1.0) if scenario.fan_step else np.ones(steps)
    core, fins, power = _run(network, share, ambient, fan)
    mean = ambient[:, :1] * np.ones((1, steps))
    still, _, _ = _run(network, np.ones((count, steps)), mean, fan)
    still = still - mean
    rise, watts = _equilibrium(network, float(fan[-1]), ambient[:, 0])
    return Batch(
        time_s=time,
        core=core,
        power=power,
        ambient=ambient,
        coolant=fins if scenario.coolant else None,
        still=still,
        rise=rise,
        psi=rise / watts,
        noise=Noise(sd=rng.uniform(0.03, 0.1, count), slow_sd=rng.uniform(0.01, 0.05, count)),
    )


def _network(scenario: Scenario, rng: np.random.Generator, count: int) -> _Network:
    def draw(low: float, high: float) -> FloatArray:
        return rng.uniform(low, high, count)

    die_g, base_g = POWER_W / draw(8, 13), POWER_W / draw(5, 9)
    fin_rise = draw(12, 18)
    tau = draw(350, 550) if scenario.liquid else draw(140, 150) if scenario.slow_cooler else draw(60, 120)
    fin_g = POWER_W / fin_rise
    case_rise = draw(1.5, 3.0) if scenario.hidden_slow else np.full(count, 1e-6)
    case_g = POWER_W / case_rise
    case_tau = draw(450, 900) if scenario.hidden_slow else np.full(count, 50.0)
    return _Network(
        die_c=die_g * draw(3, 9),
        base_c=base_g * draw(12, 35),
        fin_c=fin_g * tau,
        case_c=case_g * case_tau,
        die_g=die_g,
        base_g=base_g,
        fin_g=fin_g,
        case_g=case_g,
        power_law=draw(0.02, 0.12),
    )


def _run(
    net: _Network, share: FloatArray, ambient: FloatArray, fan: FloatArray
) -> tuple[FloatArray, FloatArray, FloatArray]:
    count, steps = share.shape
    core, fins, power = (np.empty((count, steps)) for _ in range(3))
    die, base, fin = (ambient[:, 0].copy() for _ in range(3))
    case = np.zeros(count)  # case air over ambient
    has_case = bool((net.case_c > 2 * STEP_S * net.case_g).all()) and float(POWER_W / net.case_g.mean()) > 0.01
    for k in range(steps):
        watts = POWER_W * share[:, k] * (1 + LEAKAGE * (die - 60.0))
        into_base, into_fin = net.die_g * (die - base), net.base_g * (base - fin)
        air = ambient[:, k] + case
        out = _convected(net, fin - air, float(fan[k]))
        die = die + STEP_S * (watts - into_base) / net.die_c
        base = base + STEP_S * (into_base - into_fin) / net.base_c
        fin = fin + STEP_S * (into_fin - out) / net.fin_c
        if has_case:
            case = case + STEP_S * (out - net.case_g * case) / net.case_c
        core[:, k], fins[:, k], power[:, k] = die, fin, watts
    return core, fins, power


def _convected(net: _Network, over: FloatArray, fan: float) -> FloatArray:
    warm = np.maximum(np.abs(over), 0.5) / 15.0
    return net.fin_g * fan * warm**net.power_law * over


def _equilibrium(net: _Network, fan: float, ambient: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Return the rise and power at rest: the network solved for a steady heat flow, by repeated substitution."""
    watts, has_case = np.full(net.fin_g.shape, POWER_W), float(POWER_W / net.case_g.mean()) > 0.01
    for _ in range(200):
        over = 15.0 * (watts / (net.fin_g * fan * 15.0)) ** (1 / (1 + net.power_law))
        rise = watts / net.die_g + watts / net.base_g + over + (watts / net.case_g if has_case else 0.0)
        watts = POWER_W * (1 + LEAKAGE * (ambient + rise - 60.0))
    return rise, watts


def _power(scenario: Scenario, rng: np.random.Generator, count: int, time: FloatArray) -> FloatArray:
    """Return power as a share: scenes of random length at random levels, and a fast flicker."""
    mean_s, spread = (60.0, 0.03) if scenario.slow_power else (12.0, 0.015)
    share = np.empty((count, time.size))
    for run in range(count):
        ends = np.cumsum(rng.gamma(2.0, mean_s / 2, int(4 * time[-1] / mean_s) + 20))
        levels = rng.standard_t(6, ends.size) * spread / math.sqrt(1.5)
        share[run] = 1 + levels[np.searchsorted(ends, time)]
    share += 0.01 * rng.standard_normal(share.shape)
    if scenario.loop_s:
        phase = (time / scenario.loop_s + rng.uniform(0, 1, (count, 1))) % 1
        share += np.where(phase < 0.35, 0.15, np.where(phase < 0.8, -0.15, 0.075))  # mean zero over a loop
    return share


def _room(scenario: Scenario, rng: np.random.Generator, count: int, time: FloatArray) -> FloatArray:
    phase = (time / 900 + rng.uniform(0, 1, (count, 1))) % 1
    saw = np.where(phase < 0.4, phase / 0.4, (1 - phase) / 0.6) - 0.5  # a room heater: fast up, slow down
    return 2 * scenario.room_cycle_k * saw + rng.uniform(-0.3, 0.3, (count, 1)) * time / 3600
