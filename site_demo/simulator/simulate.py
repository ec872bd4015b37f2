"""Writes the demo archive's logs, bundle files and truth.json; everything in them is invented (see README.md).

Usage: python site_demo/simulator/simulate.py [ARCHIVE], by default the archive that holds this script.
"""

from __future__ import annotations

import datetime as dt
import json
import sys
from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path

import before_logs
import first_year
import numpy as np
import second_year
from bundlefile import bundle_text, log_name
from load import demand, loop_phase, power_factor, room
from logfiles import SHAPES, frames_text, log_text
from network import STEP_S, Floats, Network, State, equilibrium, simulate
from readings import Passage, Setup, frame_times, read
from rig import MountDraw, draw_mount, generator, network
from scenario import BundleSpec, MountSpec, RunSpec, Yaml
from truth import Place, RunTruth, point_truths, run_truth, sensor_truths

BUNDLES = (*before_logs.BUNDLES, *first_year.BUNDLES, *second_year.BUNDLES)


@dataclass(frozen=True, kw_only=True, eq=False)
class Made:
    """One simulated run: its readings, true momentary frame rates, truth, and when it started."""

    readings: dict[str, Floats]
    rates: Floats
    truth: RunTruth
    start: dt.datetime


def make_run(bundle: BundleSpec, setup: Setup, number: int, index: int, net: Network) -> Made:
    """Return one run, simulated from a state cooler than its equilibrium."""
    mount = bundle.mounts[number - 1]
    run = mount.runs[index]
    rng = generator(bundle.id, f"m{number}", run.point)
    samples = round(60 * run.minutes / STEP_S)
    mean_room = run.room_c if run.room_c is not None else mount.room_c + 0.12 * index
    rooms = room(mean_room, samples, rng)
    phase = loop_phase(samples, rng)
    start = _start_state(setup, run, net, mean_room, rng)
    ask = demand(run.point, setup.card_rig)
    course = simulate(net, ask, start, rooms, power_factor(run.point, phase, rng))
    calm = simulate(net, ask, start, np.full(samples, mean_room), np.ones(samples))
    passage = Passage(setup=setup, network=net, point=run.point, course=course, phase=phase)
    place = Place(setup=setup, network=net, point=run.point)
    return Made(
        readings=read(passage, run.every_s, rng),
        rates=passage.frame_rates(),
        truth=run_truth(place, course, calm),
        start=dt.datetime.combine(mount.date, dt.time(9, 30)) + dt.timedelta(minutes=_before(mount, index)),
    )


def _start_state(setup: Setup, run: RunSpec, net: Network, room_c: float, rng: np.random.Generator) -> State:
    idle = equilibrium(net, demand("idle", setup.card_rig), room_c).state
    loaded = equilibrium(net, demand("stock", setup.card_rig), room_c).state
    state = idle.moved(float(rng.uniform(0.02, 0.12)), loaded)
    if run.chill_k:
        return State(die=-2, plate=-4, memory=-1, coolant=-run.chill_k, radiator=-run.chill_k / 2, duty=state.duty)
    return state


def _before(mount: MountSpec, index: int) -> float:
    return sum(run.minutes + 7 for run in mount.runs[:index])


def shape_name(bundle: BundleSpec, setup: Setup) -> str:
    """Return the name of the shape of log that a bundle's cooler has on its bench."""
    kind = {"water block": "loop", "hybrid": "hybrid"}.get(setup.cooler_rig.kind, "air")
    return f"{bundle.bench}/{'hand' if bundle.hand_ambient else kind}"


def write_bundle(root: Path, bundle: BundleSpec) -> dict[str, object]:
    """Write one bundle's files and return its truth."""
    folder = root / "bundles" / bundle.id
    folder.mkdir(parents=True, exist_ok=True)
    for old in folder.glob("m*.csv"):
        old.unlink()
    setup = Setup(card=bundle.card, sample=bundle.sample, cooler=bundle.cooler, bench=bundle.bench)
    hand: dict[str, Yaml] = {}
    truths: dict[str, RunTruth] = {}
    for number, mount in enumerate(bundle.mounts, start=1):
        draw = draw_mount(bundle.id, number, setup.cooler_rig, setup.card_rig)
        net = network(setup.cooler_rig, setup.card_rig, setup.bench_rig, draw)
        made = [make_run(bundle, setup, number, i, net) for i in range(len(mount.runs))]
        if not bundle.by_hand:
            _write_logs(folder, bundle, setup, number, made)
        for run, one in zip(mount.runs, made, strict=True):
            truths[f"m{number}/{run.point}"] = one.truth
            if bundle.hand_ambient:
                hand[f"m{number}/{run.point}"] = _hand_reading(bundle, setup, number, run, one)
            if bundle.by_hand:
                hand[f"m{number}/{run.point}"] = _displays(one)
    (folder / "bundle.yaml").write_text(bundle_text(bundle, hand), encoding="utf-8")
    expected = network(setup.cooler_rig, setup.card_rig, setup.bench_rig, MountDraw())
    return {
        "card": bundle.card,
        "card_sample": bundle.sample,
        "cooler": bundle.cooler,
        "bench": bundle.bench,
        "mount_spread_at_stock_k": setup.cooler_rig.spread_k,
        "sensors": sensor_truths(setup),
        "runs": {name: truth.as_json() for name, truth in truths.items()},
        "points": point_truths(setup, expected, truths),
    }


def _write_logs(folder: Path, bundle: BundleSpec, setup: Setup, number: int, made: list[Made]) -> None:
    mount = bundle.mounts[number - 1]
    readings: dict[str, dict[str, Floats]] = {}
    for index, (run, one) in enumerate(zip(mount.runs, made, strict=True)):
        name = log_name(number, mount, index)
        readings[name] = _joined(readings[name], one.readings, mount) if name in readings else one.readings
        shape = SHAPES[shape_name(bundle, setup)]
        text = log_text(shape, readings[name], made[0].start if mount.session else one.start, run.quirk)
        (folder / name).write_bytes(text.encode("utf-8-sig" if shape.mark else "utf-8"))
        if run.frames:
            frame_ms = frame_times(one.rates, generator(bundle.id, name, "frames"), warm_up=run.warm_up)
            frames = folder / f"m{number}-{run.point}-frames.csv"
            frames.write_bytes(frames_text(bundle.bench, frame_ms).encode())


def _joined(first: dict[str, Floats], second: dict[str, Floats], mount: MountSpec) -> dict[str, Floats]:
    shift = 60 * mount.runs[0].minutes
    later = second | {"time": second["time"] + shift}
    return {name: np.concatenate([first[name], later[name]]) for name in first}


def _hand_reading(bundle: BundleSpec, setup: Setup, number: int, run: RunSpec, one: Made) -> float:
    rng = generator(bundle.id, f"m{number}", run.point, "hand")
    seen = one.truth.figures["ambient_temperature"] + setup.offset("room") + 0.08 * float(rng.standard_normal())
    return round(seen, 1)


# What is read off the displays at the end of an old episode: quantity, sensor, and digits after the point.
_DISPLAYS = (
    ("core_temperature", "core", 0),
    ("memory_temperature", "memory", 0),
    ("board_power", "power", 0),
    ("frame_rate", "rate", 0),
    ("ambient_temperature", "room", 1),
)


def _displays(one: Made) -> Yaml:
    last = {sensor: float(values[-1]) for sensor, values in one.readings.items()}
    return {q: round(last[s], digits) if digits else round(last[s]) for q, s, digits in _DISPLAYS if s in last}


def write_archive(root: Path) -> None:
    """Write every bundle and truth.json below an archive's folder."""
    truth: Mapping[str, object] = {
        "about": "True values behind the invented logs, by simulator/simulate.py; units as in the figures' ids.",
        "bundles": {bundle.id: write_bundle(root, bundle) for bundle in BUNDLES},
    }
    (root / "truth.json").write_text(json.dumps(truth, indent=1) + "\n", encoding="utf-8")


if __name__ == "__main__":
    write_archive(Path(sys.argv[1]) if len(sys.argv) > 1 else Path(__file__).parent.parent)
