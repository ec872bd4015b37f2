"""The true values that tests compare the tool with: equilibria without noise, per run and per test point."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
from load import POINTS, demand, slowed
from network import STEP_S, Course, Equilibrium, Network, equilibrium
from readings import WATER_J_PER_L_K, Setup, coolant_offset, fan_sound

LIMIT_K = 0.5
LOOP_S = 90.0
SENSORS = ("core", "hotspot", "memory", "room", "power", "sound")


@dataclass(frozen=True, kw_only=True)
class Place:
    """Where a truth belongs: the setup, its network and the test point."""

    setup: Setup
    network: Network
    point: str


@dataclass(frozen=True, kw_only=True)
class RunTruth:
    """One run's truth: figures by id, and how far core rise still was from equilibrium over the last window, in K."""

    figures: Mapping[str, float]
    remaining_k: float

    def as_json(self) -> dict[str, object]:
        """Return the truth as JSON data."""
        figures = {name: round(value, 6) for name, value in self.figures.items()}
        return {"settled": abs(self.remaining_k) <= LIMIT_K, "remaining_k": round(self.remaining_k, 4), **figures}


def window_s(setup: Setup) -> float:
    """Return the window over which room and remaining approach are averaged: whole passes, as the protocols ask."""
    long = setup.cooler_rig.kind in ("water block", "hybrid") or setup.bench_rig.resolution["core"] >= 1
    return math.ceil((600 if long else 300) / LOOP_S) * LOOP_S


def run_truth(place: Place, course: Course, calm: Course) -> RunTruth:
    """Return a run's truth; `calm` is the same run with no noise, no scene and a constant room."""
    steps = round(window_s(place.setup) / STEP_S)
    room = float(np.mean(course.room[-steps:]))
    reached = float(np.mean(calm.die[-steps:] - calm.room[-steps:]))
    there = equilibrium(place.network, demand(place.point, place.setup.card_rig), float(calm.room[0]))
    return RunTruth(figures=figures(place, room), remaining_k=there.state.die - reached)


def figures(place: Place, room_c: float) -> dict[str, float]:
    """Return the true figures at equilibrium in a room at a constant temperature."""
    there = equilibrium(place.network, demand(place.point, place.setup.card_rig), room_c)
    rises = {"core": there.state.die, "hotspot": there.hotspot, "memory": there.state.memory}
    out = {f"{name}_rise": rise for name, rise in rises.items()}
    out |= {f"{name}_temperature": rise + room_c for name, rise in rises.items()}
    out |= {f"{name}_psi": rise / there.power_w for name, rise in rises.items()}
    out |= {"hotspot_gap": rises["hotspot"] - rises["core"], "board_power": there.power_w}
    out |= {"ambient_temperature": room_c, "fan_speed": there.state.duty * place.network.fan.rpm_per_pct}
    return out | _performance(place, there, room_c) | _liquid_or_sound(place, there, room_c)


def _performance(place: Place, there: Equilibrium, room_c: float) -> dict[str, float]:
    card, load = place.setup.card_rig, POINTS[place.point]
    factor = float(slowed(room_c + there.state.die))
    out = {"core_clock": card.clock_mhz * load.clock * factor}
    if load.frames:
        rate = card.frame_rate * load.frames * factor
        out |= {"frame_rate": rate, "frames_per_joule": rate / there.power_w}
    return out


def _liquid_or_sound(place: Place, there: Equilibrium, room_c: float) -> dict[str, float]:
    cooler, bench = place.setup.cooler_rig, place.setup.bench_rig
    if place.setup.on_bench_loop and place.network.loop:
        half = there.coolant_heat_w / (2 * WATER_J_PER_L_K * place.network.loop.flow / 60)
        return {
            "flow_rate": place.network.loop.flow,
            "coolant_in_temperature": room_c + there.state.coolant - half,
            "coolant_out_temperature": room_c + there.state.coolant + half,
            "coolant_rise": there.state.coolant - half,
            "core_over_coolant": there.state.die - there.state.coolant + half,
            "coolant_heat": there.coolant_heat_w,
        }
    level = float(fan_sound(cooler, there.state.duty, 1.0))
    audible = level - 20 * math.log10(bench.sound_distance_m) > bench.background_dba
    return {"sound_level": level} if audible else {}


def point_truths(setup: Setup, expected: Network, runs: Mapping[str, RunTruth]) -> dict[str, dict[str, float]]:
    """Return the figures of the expected mount at each test point, in the mean room of its runs."""
    rooms: dict[str, list[float]] = {}
    for name, truth in runs.items():
        rooms.setdefault(name.partition("/")[2], []).append(truth.figures["ambient_temperature"])
    return {
        point: {
            name: round(value, 6)
            for name, value in figures(Place(setup=setup, network=expected, point=point), sum(seen) / len(seen)).items()
        }
        for point, seen in rooms.items()
    }


def sensor_truths(setup: Setup) -> dict[str, float]:
    """Return the constant errors of the sensors: K and dB, power and flow as a share of the reading."""
    out = {sensor: round(setup.offset(sensor), 6) for sensor in SENSORS}
    if setup.on_bench_loop:
        out |= {name: coolant_offset(setup, name) for name in ("coolant-in", "coolant-out")}
        out["flow"] = round(setup.offset("flow"), 6)
    return out
