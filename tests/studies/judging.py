"""The simulator that judges: three or four nodes, convection that grows with the rise, leakage, scenes that jump."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from scipy import signal

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


FAN_RPM = 1500.0
FAN_EXPONENT = 0.85  # of the fins' conductance with the fan's speed
FAN_ANSWERS_S = 12.0  # how slowly a fan curve follows the core
CURVE_AT_C = 60.0  # where the curve gives the nominal speed
HOTSPOT_TAU_S, MEMORY_TAU_S = 2.0, 45.0
WINDOW = slice(-round(300 / STEP_S), None)


def simulate(scenario: Scenario, count: int, seed: int) -> Batch:
    """Return a batch of runs on a grid of half seconds from a network with nonlinear convection.

    The truth of a run is its rise at rest in the mean room of its window, with the fan as it stands there.
    """
    rng = np.random.default_rng(seed)
    steps = round(scenario.length_s / STEP_S)
    time = STEP_S * (np.arange(steps, dtype=float) + 0.5)
    network = _network(scenario, rng, count)
    share = _power(scenario, rng, count, time)
    ambient = 21.5 + rng.uniform(-2, 2, (count, 1)) + _room(scenario, rng, count, time)
    fan = np.where(time > scenario.length_s - 170, 1.12, 1.0) if scenario.fan_step else np.ones(steps)
    warm = rng.uniform(0.3, 0.7, count) if scenario.warm_start else np.zeros(count)
    room = ambient[:, WINDOW].mean(axis=1) if scenario.fan_curve else ambient[:, 0]
    sensors = _Sensors(hotspot_k=rng.uniform(7, 14, count), memory_share=rng.uniform(0.75, 1.1, count))
    core, fins, power, speed = _run(network, share, ambient, fan * np.ones((count, 1)), warm, scenario.fan_curve)
    mean = room[:, None] * np.ones((1, steps))
    still, _, _, ran = _run(network, np.ones((count, steps)), mean, fan * np.ones((count, 1)), warm, scenario.fan_curve)
    blown, at_rest = np.full(count, fan[-1]), np.full(count, fan[-1])
    if scenario.fan_curve:
        # An automatic fan comes to rest with the run. The truth is at the speed that it had in the window.
        blown, at_rest = speed[:, WINDOW].mean(axis=1) ** FAN_EXPONENT, ran[:, -1] ** FAN_EXPONENT
    rise, watts = _equilibrium(network, blown, room)
    still = still - mean + (rise - _equilibrium(network, at_rest, room)[0])[:, None]
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
        fan=FAN_RPM * speed if scenario.fan_logged else None,
        further=sensors.read(core, fins, power),
    )


@dataclass(frozen=True, kw_only=True, eq=False)
class _Sensors:
    """A hotspot some kelvins above the core that follows power at once, and memory between fins and core, slower."""

    hotspot_k: FloatArray
    memory_share: FloatArray

    def read(self, core: FloatArray, fins: FloatArray, power: FloatArray) -> tuple[FloatArray, FloatArray]:
        hotspot = core + self.hotspot_k[:, None] * _followed(power / POWER_W, HOTSPOT_TAU_S)
        memory = fins + self.memory_share[:, None] * _followed(core - fins, MEMORY_TAU_S)
        return hotspot, memory


def _followed(values: FloatArray, tau_s: float) -> FloatArray:
    keep = math.exp(-STEP_S / tau_s)
    return np.asarray(signal.lfilter([1 - keep], [1.0, -keep], values, axis=1), dtype=float)


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


def _run(  # noqa: PLR0913, PLR0917 - everything that drives a run
    net: _Network, share: FloatArray, ambient: FloatArray, fan: FloatArray, warm: FloatArray, curve: float
) -> tuple[FloatArray, FloatArray, FloatArray, FloatArray]:
    count, steps = share.shape
    core, fins, power, speeds = (np.empty((count, steps)) for _ in range(4))
    start = ambient[:, 0]
    die = start + warm * POWER_W * (1 / net.die_g + 1 / net.base_g + 1 / net.fin_g)
    base, fin = start + warm * POWER_W * (1 / net.base_g + 1 / net.fin_g), start + warm * POWER_W / net.fin_g
    case = np.zeros(count)  # case air over ambient
    speeds_of = fan if curve else fan ** (1 / FAN_EXPONENT)
    speed = _curve(die, curve) * speeds_of[:, 0]
    has_case = bool((net.case_c > 2 * STEP_S * net.case_g).all()) and float(POWER_W / net.case_g.mean()) > 0.01
    for k in range(steps):
        watts = POWER_W * share[:, k] * (1 + LEAKAGE * (die - 60.0))
        speed = speed + (_curve(die, curve) * speeds_of[:, k] - speed) * (STEP_S / FAN_ANSWERS_S if curve else 1.0)
        into_base, into_fin = net.die_g * (die - base), net.base_g * (base - fin)
        air = ambient[:, k] + case
        out = _convected(net, fin - air, _blown(speed, fan[:, k], curve))
        die = die + STEP_S * (watts - into_base) / net.die_c
        base = base + STEP_S * (into_base - into_fin) / net.base_c
        fin = fin + STEP_S * (into_fin - out) / net.fin_c
        if has_case:
            case = case + STEP_S * (out - net.case_g * case) / net.case_c
        core[:, k], fins[:, k], power[:, k], speeds[:, k] = die, fin, watts, speed
    return core, fins, power, speeds


def _curve(die: FloatArray, curve: float) -> FloatArray:
    """Return the speed that an automatic fan aims at, relative to its nominal one; 1 for a fan that is held."""
    return np.clip(1 + curve * (die - CURVE_AT_C), 0.4, 2.0)


def _blown(speed: FloatArray, fan: FloatArray, curve: float) -> FloatArray:
    """Return the share of the fins' conductance at a speed; that of a held fan is given as conductance itself."""
    return np.asarray(speed**FAN_EXPONENT if curve else fan, dtype=float)


def _convected(net: _Network, over: FloatArray, blown: FloatArray) -> FloatArray:
    warm = np.maximum(np.abs(over), 0.5) / 15.0
    return net.fin_g * blown * warm**net.power_law * over


def _equilibrium(net: _Network, blown: FloatArray, ambient: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Return the rise and power at rest: the network solved for a steady heat flow, by repeated substitution."""
    watts, has_case = np.full(net.fin_g.shape, POWER_W), float(POWER_W / net.case_g.mean()) > 0.01
    for _ in range(200):
        over = 15.0 * (watts / (net.fin_g * blown * 15.0)) ** (1 / (1 + net.power_law))
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
    if scenario.constant_power:
        share = 1 + 0.002 * rng.standard_normal(share.shape)
    if scenario.loop_s:
        phase = (time / scenario.loop_s + rng.uniform(0, 1, (count, 1))) % 1
        share += np.where(phase < 0.35, 0.15, np.where(phase < 0.8, -0.15, 0.075))  # mean zero over a loop
    return share


def _room(scenario: Scenario, rng: np.random.Generator, count: int, time: FloatArray) -> FloatArray:
    phase = (time / scenario.room_period_s + rng.uniform(0, 1, (count, 1))) % 1
    saw = np.where(phase < 0.4, phase / 0.4, (1 - phase) / 0.6) - 0.5  # a room heater: fast up, slow down
    return 2 * scenario.room_cycle_k * saw + rng.uniform(-0.3, 0.3, (count, 1)) * time / 3600
