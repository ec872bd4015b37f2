"""The thermal network behind the invented logs: equations, units and how they are stepped (see README.md)."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]

STEP_S = 0.5
REFERENCE_DIE_C = 50.0  # leakage and clock factors are 1 at this die temperature
FAN_LAG_S = 15.0
SINK_EXPONENT = 0.7  # of the sink's conductance on fan duty


@dataclass(frozen=True, kw_only=True)
class Loop:
    """A liquid loop: heat capacities in J/K, resistances in K/W at the reference duty, flow in L/min."""

    c_coolant: float
    c_radiator: float
    r_coolant_radiator: float
    r_radiator_air: float
    flow: float


@dataclass(frozen=True, kw_only=True)
class FanControl:
    """Fan duty in percent: `base` plus `slope` per kelvin of die temperature over `start_c`, within limits."""

    base: float
    slope: float = 0.0
    start_c: float = 45.0
    low: float = 30.0
    high: float = 100.0
    reference: float = 60.0  # duty at which the sink's resistance is given
    rpm_per_pct: float = 25.0

    def duty(self, die_c: float) -> float:
        """Return the duty in percent that the control asks for at a die temperature."""
        return min(self.high, max(self.low, self.base + self.slope * (die_c - self.start_c)))


@dataclass(frozen=True, kw_only=True)
class Network:
    """Constants of one card with one cooler in one mount (J/K and K/W); `r_sink` leads to air, or to coolant."""

    core_share: float
    memory_share: float
    c_die: float
    c_plate: float
    c_memory: float
    r_die_plate: float
    r_hotspot: float
    r_memory_plate: float
    r_memory_air: float
    r_sink: float
    fan: FanControl
    loop: Loop | None = None


@dataclass(frozen=True, kw_only=True)
class Demand:
    """What the workload asks of the card: power in W at the reference die temperature, and leakage per kelvin."""

    power_w: float
    leakage_per_k: float


@dataclass(frozen=True, kw_only=True)
class State:
    """Temperatures over the room in K; coolant and radiator are 0 without a loop."""

    die: float
    plate: float
    memory: float
    coolant: float = 0.0
    radiator: float = 0.0
    duty: float = 60.0

    def moved(self, fraction: float, other: State) -> State:
        """Return the state that lies a fraction of the way to another."""
        mine, theirs = _values(self), _values(other)
        return State(**{k: mine[k] + fraction * (theirs[k] - mine[k]) for k in mine})


def _values(state: State) -> dict[str, float]:
    names = ("die", "plate", "memory", "coolant", "radiator", "duty")
    return {name: float(getattr(state, name)) for name in names}


@dataclass(frozen=True, kw_only=True)
class Equilibrium:
    """Where a constant load and a constant room lead: state over the room, board power in W, hotspot over room in K."""

    state: State
    power_w: float
    hotspot: float
    coolant_heat_w: float


def fan_factor(fan: FanControl, duty: float) -> float:
    """Return the factor on the sink's resistance at a duty."""
    return float((fan.reference / duty) ** SINK_EXPONENT)


def equilibrium(network: Network, demand: Demand, room_c: float) -> Equilibrium:
    """Return the equilibrium for a constant demand in a constant room (°C), by damped iteration on leakage and fan."""
    die, duty = 30.0, network.fan.base
    for _ in range(400):
        power = demand.power_w * (1 + demand.leakage_per_k * (room_c + die - REFERENCE_DIE_C))
        state = _steady(network, power, duty)
        duty += 0.3 * (network.fan.duty(room_c + state.die) - duty)
        die += 0.5 * (state.die - die)
    heat = (state.coolant - state.radiator) / network.loop.r_coolant_radiator if network.loop else 0.0
    hotspot = state.die + network.r_hotspot * network.core_share * power
    return Equilibrium(state=state, power_w=power, hotspot=hotspot, coolant_heat_w=heat)


def _steady(network: Network, power: float, duty: float) -> State:
    factor = fan_factor(network.fan, duty)
    loop = network.loop
    g_die, g_memory = 1 / network.r_die_plate, 1 / network.r_memory_plate
    g_sink = 1 / network.r_sink if loop else 1 / (network.r_sink * factor)
    size = 5 if loop else 3
    matrix = np.zeros((size, size))
    _link(matrix, 0, 1, g_die)
    _link(matrix, 2, 1, g_memory)
    matrix[2, 2] += 1 / network.r_memory_air
    if loop:
        _link(matrix, 1, 3, g_sink)
        _link(matrix, 3, 4, 1 / loop.r_coolant_radiator)
        matrix[4, 4] += 1 / (loop.r_radiator_air * factor)
    else:
        matrix[1, 1] += g_sink
    heat = np.zeros(size)
    heat[:3] = power * np.array(_shares(network))
    die, plate, memory, *rest = np.linalg.solve(matrix, heat).tolist()
    coolant, radiator = rest or (0.0, 0.0)
    return State(die=die, plate=plate, memory=memory, coolant=coolant, radiator=radiator, duty=duty)


def _link(matrix: Floats, a: int, b: int, conductance: float) -> None:
    matrix[a, a] += conductance
    matrix[b, b] += conductance
    matrix[a, b] -= conductance
    matrix[b, a] -= conductance


def _shares(network: Network) -> tuple[float, float, float]:
    other = 1 - network.core_share - network.memory_share
    return network.core_share, other, network.memory_share


@dataclass(frozen=True, kw_only=True, eq=False)
class Course:
    """What happened in a run, every `STEP_S` seconds: °C, W and percent, shape (n,) each."""

    time_s: Floats
    room: Floats
    die: Floats
    hotspot: Floats
    memory: Floats
    coolant: Floats
    coolant_heat: Floats
    power: Floats
    duty: Floats


def simulate(network: Network, demand: Demand, start: State, room_c: Floats, load: Floats) -> Course:
    """Return the course of a run by explicit Euler steps; `load` is the factor on the demand at each step."""
    loop = network.loop
    core_share, other_share, memory_share = _shares(network)
    die, plate, memory = (float(room_c[0]) + x for x in (start.die, start.plate, start.memory))
    coolant, radiator = (float(room_c[0]) + x for x in (start.coolant, start.radiator))
    duty, smooth = start.duty, die
    rows: list[tuple[float, ...]] = []
    for room, factor in zip(room_c.tolist(), load.tolist(), strict=True):
        power = demand.power_w * factor * (1 + demand.leakage_per_k * (die - REFERENCE_DIE_C))
        smooth += STEP_S / FAN_LAG_S * (die - smooth)
        duty += STEP_S / FAN_LAG_S * (network.fan.duty(smooth) - duty)
        sink = fan_factor(network.fan, duty)
        q_die = (die - plate) / network.r_die_plate
        q_memory = (memory - plate) / network.r_memory_plate
        q_sink = (plate - coolant) / network.r_sink if loop else (plate - room) / (network.r_sink * sink)
        hotspot = die + network.r_hotspot * core_share * power
        rows.append((die, hotspot, memory, coolant, q_sink, power, duty))
        if loop:
            q_radiator = (coolant - radiator) / loop.r_coolant_radiator
            coolant += STEP_S * (q_sink - q_radiator) / loop.c_coolant
            radiator += STEP_S * (q_radiator - (radiator - room) / (loop.r_radiator_air * sink)) / loop.c_radiator
        die += STEP_S * (core_share * power - q_die) / network.c_die
        plate += STEP_S * (q_die + q_memory + other_share * power - q_sink) / network.c_plate
        q_board = (memory - room) / network.r_memory_air
        memory += STEP_S * (memory_share * power - q_memory - q_board) / network.c_memory
    columns = np.array(rows).T
    names = ("die", "hotspot", "memory", "coolant", "coolant_heat", "power", "duty")
    time_s: Floats = STEP_S * np.arange(room_c.size, dtype=np.float64)
    return Course(time_s=time_s, room=room_c, **dict(zip(names, columns, strict=True)))
