"""Writes invented archives with known truth: settings as a tester writes them, and a log for every run.

Nothing here is what the program uses to judge. Courses are two first-order lags driven by power and room; sensors have
a constant offset, and the meter a gain, that no log shows; mounts differ by chance; some coolers are exactly alike;
power and frame rate differ a little from run to run; some runs are stopped early, are far from rest, or are mistaken.
"""

from __future__ import annotations

import datetime as dt
import math
from dataclasses import replace
from pathlib import Path

import numpy as np
from scipy import signal

from builder.core.quantity import FloatArray
from tests.studies.invented_truth import (
    FAN_FACTORS,
    FAST_SHARE,
    FAULTY,
    POINTS,
    WARM,
    WATTS,
    Cooler,
    Instruments,
    Test,
    World,
)

STEP_S = 2.0
MINUTES = 20.0
FIRST_DAY = dt.date(2030, 1, 7)
FAULTS = ("",) * 7 + ("short", "slow", "limit not applied")
FAN_RPM = {"fan-30": 900.0, "fan-60": 1800.0}
OTHERS_RPM = 1500.0


def make_world(root: Path, seed: int) -> World:
    """Write an archive below a folder and return its truth; the same seed gives the same bytes."""
    rng = np.random.default_rng([2026, seed])
    points = (*POINTS, *(FAN_FACTORS if rng.random() < 0.4 else ()))
    step = float(rng.choice([0.1, 1.0]))
    benches = {name: _instruments(rng, step) for name in (("bench", "other") if rng.random() < 0.3 else ("bench",))}
    world = World(
        root=root,
        seed=seed,
        tests=_tests(rng, _coolers(rng), list(benches)),
        benches=benches,
        reference_w=float(round(WATTS * rng.uniform(0.9, 1.0))),
        ambient_c=23.0,
        points=points,
        declared_spread=bool(rng.random() < 0.7),
    )
    _write_settings(world)
    for test in world.tests:
        _write_bundle(world, test, rng)
    return world


def _instruments(rng: np.random.Generator, step: float) -> Instruments:
    return Instruments(
        core=rng.uniform(-0.5, 0.5),
        memory=rng.uniform(-1, 1),
        room=rng.uniform(-0.3, 0.3),
        power=rng.uniform(-0.015, 0.015),
        step=step,
    )


def _coolers(rng: np.random.Generator) -> list[Cooler]:
    """Return the card's own cooler first; every third of the others is exactly like the one before it."""
    found = [_cooler("own-cooler", 0.215, 0.16, rng)]
    for number in range(int(rng.integers(3, 6))):
        name = f"cooler-{number}"
        if number % 3 == 2:
            like = found[-1]
            found.append(replace(like, id=name))
        else:
            core = 0.215 - rng.choice([0.002, 0.006, 0.02, 0.05]) * rng.choice([-0.5, 1, 1])
            found.append(_cooler(name, float(core), float(0.16 + rng.uniform(-0.04, 0.02)), rng))
    return found


def _cooler(name: str, core: float, memory: float, rng: np.random.Generator) -> Cooler:
    tau, spread = float(rng.uniform(60, 110)), float(rng.uniform(0.25, 0.6))
    return Cooler(id=name, core=core, memory=memory, tau_s=tau, spread_k=spread)


def _tests(rng: np.random.Generator, coolers: list[Cooler], benches: list[str]) -> tuple[Test, ...]:
    """Return a test of every cooler, and up to three retests of the card's own."""
    found = []
    for number, cooler in enumerate([*coolers, *([coolers[0]] * int(rng.integers(0, 4)))]):
        mounts = cooler.spread_k * rng.standard_normal(int(rng.choice([1, 1, 2, 3])))
        test = Test(
            id=f"test-{number:02d}",
            cooler=cooler,
            bench=str(rng.choice(benches)) if number else benches[0],
            day=FIRST_DAY + dt.timedelta(days=30 * number),
            mounts_k=tuple(map(float, mounts)),
            next_k=float(cooler.spread_k * rng.standard_normal()),
            fault=str(rng.choice(FAULTS)) if number else "",
        )
        found.append(test)
    return tuple(found)


# --- settings, as a tester writes them


def _write_settings(world: World) -> None:
    _write(world.root / "archive.yaml", f"channel: Invented\nreference: {{ambient_c: {world.ambient_c}}}\n")
    limits = "power_limit_pct: {min: 50, max: 110}"
    card = f"name: Plain Card\nboard_power_w: {world.reference_w:g}\n{limits}\n"
    _write(world.root / "cards/plain.yaml", card)
    for cooler in world.by_name.values():
        own = cooler.id == "own-cooler"
        kind = "stock\nreference: true" if own else "air"
        _write(world.root / f"coolers/{cooler.id}.yaml", f"name: {cooler.name}\nkind: {kind}\n")
    for name, bench in world.benches.items():
        _write(world.root / f"benches/{name}.yaml", BENCH.format(name=name.capitalize(), step=bench.step))
    spread = "mount_spread_k: {air: 0.5, liquid: 0.5}\n" if world.declared_spread else ""
    points = "".join(map(_point_text, world.points))
    _write(world.root / "protocols/plain.yaml", f"{PROTOCOL}{spread}points:\n{points}")


def _write(path: Path, text: str) -> None:
    path.parent.mkdir(parents=True, exist_ok=True)
    path.write_text(text, encoding="utf-8")


BENCH = """\
name: {name}
sensors:
  - {{quantity: core_temperature, name: on the card, accuracy: 0.5, resolution: {step}}}
  - {{quantity: memory_temperature, name: on the card, accuracy: 1.0, resolution: {step}}}
  - {{quantity: ambient_temperature, name: probe, accuracy: 0.3, resolution: 0.1}}
  - {{quantity: board_power, name: meter, accuracy_pct: 1.5, resolution: 0.1}}
readers:
  - id: plain
    match: ["t", "core"]
    time: {{column: t, kind: elapsed, unit: s}}
    columns:
      core: {{quantity: core_temperature, unit: degC}}
      memory: {{quantity: memory_temperature, unit: degC}}
      room: {{quantity: ambient_temperature, unit: degC}}
      power: {{quantity: board_power, unit: W}}
      rate: {{quantity: frame_rate, unit: 1/s}}
      fan: {{quantity: fan_speed, unit: rpm}}
"""
PROTOCOL = """\
name: Plain
version: 1
air: {tau_s: 150.0, window_s: 300.0, soak_s: 300.0, limit_k: 0.5}
liquid: {tau_s: 600.0, window_s: 600.0, soak_s: 1200.0, limit_k: 0.5}
"""
ROLES = {"power-85": "power limit", "power-70": "power limit", "fan-30": "matched clock", "fan-60": "matched clock"}


def _point_text(point: str) -> str:
    limit = f", power_limit_pct: {point[6:]}" if point.startswith("power-") else ""
    return f"  - {{id: {point}, name: {_name(point)}, role: {ROLES.get(point, point)}{limit}}}\n"


def _name(point: str) -> str:
    return point.replace("-", " ").capitalize()


# --- bundles and their logs


def _write_bundle(world: World, test: Test, rng: np.random.Generator) -> None:
    lines = [
        "card: plain",
        f"cooler: {test.cooler.id}",
        f"bench: {test.bench}",
        "protocol: plain",
        f"tested: {test.day}",
        "supplied_by: bought",
        "mounts:",
    ]
    folder = world.root / "bundles" / test.id
    for mount in range(len(test.mounts_k)):
        lines.append("  - runs:")
        for point in world.points:
            log = f"m{mount + 1}-{point}.csv"
            _write(folder / log, _log(world, test, point, mount, rng))
            lines.append(f"      - {{point: {point}, log: {log}}}")
    _write(folder / "bundle.yaml", "\n".join(lines) + "\n")


def _log(world: World, test: Test, point: str, mount: int, rng: np.random.Generator) -> str:
    """Return one run as text: what the bench's instruments show of the truth."""
    read = world.benches[test.bench]
    minutes = 7.0 if test.fault == "short" and point in FAULTY else MINUTES
    time: FloatArray = STEP_S * np.arange(round(60 * minutes / STEP_S), dtype=np.float64)
    power = world.power(test.id, point) * world.ran(test.id, point, mount + 1, "power") * _load(time, rng)
    slow = world.slow_tau(test.id, point)
    room = rng.uniform(20.5, 24.5) + 0.25 * np.sin(2 * math.pi * (time / 1500 + rng.random()))
    course = FAST_SHARE * _lag(power, rng.uniform(8, 25)) + (1 - FAST_SHARE) * _lag(power, slow)
    columns = {"t": time}
    for name in ("core", "memory"):
        factor = FAN_FACTORS.get(point, 1.0)
        truth = _lag(room, slow, float(room[0]))
        truth += course * world.slope(test.id, name, mount_k=test.mounts_k[mount], factor=factor)
        columns[name] = _read(truth, getattr(read, name), 0.06, read.step, rng)
    columns["room"] = _read(room, read.room, 0.05, 0.1, rng)
    columns["power"] = np.round(power * (1 + read.power), 1)
    rate = world.rate(test.id, point) * world.ran(test.id, point, mount + 1, "rate")
    columns["rate"] = np.round(rate * (1 + 0.02 * rng.standard_normal(time.size)), 2)
    columns["fan"] = np.round(FAN_RPM.get(point, OTHERS_RPM) + 4 * rng.standard_normal(time.size))
    rows = np.column_stack(list(columns.values())).tolist()
    return "\n".join([",".join(columns), *(",".join(f"{v:g}" for v in row) for row in rows)]) + "\n"


def _load(time: FloatArray, rng: np.random.Generator) -> FloatArray:
    """Return power as a share of its mean: scenes of about 15 s and a fast flicker."""
    scenes = signal.lfilter([1.0], [1, -math.exp(-STEP_S / 15)], rng.standard_normal(time.size))
    share = 1 + 0.012 * scenes / scenes.std() + 0.008 * rng.standard_normal(time.size)
    return np.asarray(share / share.mean())


def _lag(values: FloatArray, tau_s: float, start: float | None = None) -> FloatArray:
    """Return what a first-order lag makes of values; it starts a little under way, or at `start`."""
    keep = math.exp(-STEP_S / tau_s)
    first = WARM * float(values.mean()) if start is None else start
    return np.asarray(signal.lfilter([1 - keep], [1, -keep], values, zi=np.array([keep * first]))[0])


def _read(values: FloatArray, offset: float, noise: float, step: float, rng: np.random.Generator) -> FloatArray:
    return np.asarray(np.round((values + offset + noise * rng.standard_normal(values.size)) / step) * step)
