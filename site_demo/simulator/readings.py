"""What the sensors read of a run's course: offsets, noise, sampling and resolution; and the frames of a capture."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from load import POINTS, frame_factor, slowed
from network import STEP_S, Course, Floats, Network
from rig import BENCHES, CARDS, COOLERS, BenchRig, CardRig, CoolerRig, offset

WATER_J_PER_L_K = 4170.0  # rho c of water near 25 degC, in J/(L K)
CAPTURE_S = 180.0  # two passes of the scene loop
HITCH_SHARE = 0.004
SOUND_EXPONENT = 50.0  # dB per decade of fan speed; common practice, no source


@dataclass(frozen=True, kw_only=True)
class Setup:
    """Names of what is on the bench, for looking up its numbers."""

    card: str
    sample: str
    cooler: str
    bench: str

    @property
    def card_rig(self) -> CardRig:
        """Return the card's numbers."""
        return CARDS[self.card]

    @property
    def cooler_rig(self) -> CoolerRig:
        """Return the cooler's numbers."""
        return COOLERS[self.cooler]

    @property
    def bench_rig(self) -> BenchRig:
        """Return the bench's numbers."""
        return BENCHES[self.bench]

    @property
    def on_bench_loop(self) -> bool:
        """Return whether the cooler sits in the bench's own loop, which has coolant sensors."""
        return self.cooler_rig.kind == "water block"

    def offset(self, sensor: str) -> float:
        """Return the constant error of a sensor on this bench or on this specimen of the card."""
        return offset(self.bench, f"{self.card}/{self.sample}", sensor)


def fan_sound(cooler: CoolerRig, duty: float | Floats, distance_m: float) -> float | Floats:
    """Return the cooler's own sound pressure level in dB(A) at a distance and a fan duty in percent."""
    speed = np.log10(np.asarray(duty) / cooler.fan.reference)
    return np.asarray(cooler.sound_dba + SOUND_EXPONENT * speed - 20 * math.log10(distance_m))


@dataclass(frozen=True, kw_only=True, eq=False)
class Passage:
    """A run as it happened: the setup with its network, the test point, the course and the phase of the scene loop."""

    setup: Setup
    network: Network
    point: str
    course: Course
    phase: Floats

    def frame_rates(self) -> Floats:
        """Return the true momentary frame rate in 1/s at each step; 0 at idle."""
        base = self.setup.card_rig.frame_rate * POINTS[self.point].frames
        return np.asarray(base * slowed(self.course.die) * frame_factor(self.phase))


def read(passage: Passage, every_s: float, rng: np.random.Generator) -> dict[str, Floats]:
    """Return the readings by sensor, every `every_s` seconds from the start, rounded to each sensor's resolution."""
    stride = round(every_s / STEP_S)
    averaged = {"power", "rate"}
    out: dict[str, Floats] = {"time": passage.course.time_s[::stride]}
    for sensor, values in _true_columns(passage).items():
        seen = _interval_means(values, stride) if sensor in averaged else values[::stride]
        out[sensor] = _sensed(passage.setup, sensor, seen, rng)
    return out


def _true_columns(passage: Passage) -> dict[str, Floats]:
    setup, course, network = passage.setup, passage.course, passage.network
    card, load = setup.card_rig, POINTS[passage.point]
    columns = {
        "core": course.die,
        "hotspot": course.hotspot,
        "memory": course.memory,
        "power": course.power,
        "clock": np.asarray(card.clock_mhz * load.clock * slowed(course.die)),
        "volts": np.full(course.die.size, card.volts * load.volts),
        "fan": course.duty * network.fan.rpm_per_pct,
        "room": course.room,
        "load": np.full(course.die.size, 98.0 if load.frames else 2.0),
    }
    if load.frames:
        columns["rate"] = passage.frame_rates()
    return columns | (_coolant_columns(network, course) if setup.on_bench_loop else _sound_columns(passage))


def _coolant_columns(network: Network, course: Course) -> dict[str, Floats]:
    flow = network.loop.flow if network.loop else math.nan
    half = course.coolant_heat / (2 * WATER_J_PER_L_K * flow / 60)
    return {
        "coolant-in": course.coolant - half,
        "coolant-out": course.coolant + half,
        "flow": np.full(half.size, flow),
    }


def _sound_columns(passage: Passage) -> dict[str, Floats]:
    setup, duty = passage.setup, passage.course.duty
    own = np.asarray(fan_sound(setup.cooler_rig, duty, setup.bench_rig.sound_distance_m))
    sound = 10 * np.log10(10 ** (own / 10) + 10 ** (setup.bench_rig.background_dba / 10))
    return {"sound": sound} | ({"pump": np.full(duty.size, 2740.0)} if passage.network.loop else {})


def _interval_means(values: Floats, stride: int) -> Floats:
    sums = np.concatenate([[0.0], np.cumsum(values)])
    ends = np.arange(0, values.size, stride) + 1
    starts = np.maximum(ends - stride, 0)
    return np.asarray((sums[ends] - sums[starts]) / (ends - starts))


def _sensed(setup: Setup, sensor: str, values: Floats, rng: np.random.Generator) -> Floats:
    bench = setup.bench_rig
    kind = sensor.partition("-")[0]
    shift = setup.offset(sensor) if kind != "coolant" else coolant_offset(setup, sensor)
    noisy = values * (1 + shift) if kind in ("power", "flow") else values + shift
    noisy = noisy + bench.noise.get(kind, 0.0) * rng.standard_normal(values.size)
    if kind == "pump":
        noisy = noisy + 12 * rng.standard_normal(values.size)
    if kind == "load":
        noisy = np.minimum(noisy + rng.integers(-1, 3, values.size), 99.0)
    step = bench.resolution[kind]
    return np.asarray(np.round(noisy / step) * step)


def coolant_offset(setup: Setup, sensor: str) -> float:
    """Return the constant error of one of the two coolant sensors in K; both share the declared accuracy."""
    scale = setup.bench_rig.accuracy["coolant"]
    draw = {"coolant-in": -0.35, "coolant-out": 0.25}[sensor]
    return scale * draw


def frame_times(rates: Floats, rng: np.random.Generator, *, warm_up: bool) -> Floats:
    """Return the frame times in ms of a capture of `CAPTURE_S` that ends with the run.

    Frames jitter by 4 % and one in 250 is a hitch; `warm_up` puts one very long frame in front, as loggers do.
    """
    steps = round(CAPTURE_S / STEP_S)
    chosen = rates[-steps:].tolist()
    count = int(CAPTURE_S * max(chosen) * 1.2)
    jitter = np.exp(0.04 * rng.standard_normal(count))
    jitter = np.where(rng.random(count) < HITCH_SHARE, jitter * rng.uniform(1.5, 2.3, count), jitter)
    mean = math.exp(0.04**2 / 2) * (1 + HITCH_SHARE * 0.9)
    times: list[float] = [167.4] if warm_up else []
    now = 0.0
    for factor in (jitter / mean).tolist():
        if now >= CAPTURE_S:
            break
        frame_s = factor / chosen[min(int(now / STEP_S), steps - 1)]
        times.append(1000 * frame_s)
        now += frame_s
    return np.array(times)
