"""Bundle files as YAML text, block style outside and flow style inside, in the order of the schema."""

from __future__ import annotations

import datetime as dt
import json
import re
from collections.abc import Mapping
from typing import TypeAlias

from scenario import NOTES, BundleSpec, MountSpec, Yaml

PLAIN = re.compile(r"[A-Za-z][A-Za-z0-9 /().-]*")
RESERVED = {"true", "false", "null", "yes", "no", "on", "off"}


Hand: TypeAlias = Mapping[str, Yaml]  # by run id: the ambient temperature read by hand, or all that was


def bundle_text(spec: BundleSpec, hand: Hand) -> str:
    """Return a bundle file's text; `hand` holds what was read by hand."""
    top: dict[str, Yaml] = {"card": spec.card}
    if spec.sample != "a":
        top["card_sample"] = spec.sample
    top |= {"cooler": spec.cooler, "bench": spec.bench, "protocol": spec.protocol, "tested": spec.tested}
    if spec.summary:
        top["summary"] = spec.summary
    lines = ["# Written by the simulator. Everything in it is invented."]
    lines += [f"{key}: {_flow(value)}" for key, value in top.items()]
    for key, value in spec.head.items():
        lines += _entry(key, value)
    lines.append("mounts:")
    for number, mount in enumerate(spec.mounts, start=1):
        lines += _mount(spec.card, number, mount, hand)
    lines += _listing("corrections", spec.corrections)
    return "\n".join(lines) + "\n"


def _entry(key: str, value: Yaml) -> list[str]:
    if not isinstance(value, Mapping):
        return [f"{key}: {_flow(value)}"]
    lines = [f"{key}:"]
    for name, inner in value.items():
        if isinstance(inner, tuple):
            lines += [f"  {line}" for line in _listing(name, inner)]
        else:
            lines.append(f"  {name}: {_flow(inner)}")
    return lines


def _listing(key: str, items: tuple[Yaml, ...]) -> list[str]:
    return [f"{key}:", *(f"  - {_flow(item)}" for item in items)] if items else [f"{key}: []"]


def _mount(card: str, number: int, mount: MountSpec, hand: Hand) -> list[str]:
    lines = [f"  - date: {mount.date.isoformat()}"]
    if mount.note:
        lines.append(f"    note: {_flow(mount.note)}")
    lines.append("    runs:")
    runs = [run_entry(card, number, mount, index, hand) for index in range(len(mount.runs))]
    return lines + [f"      - {_flow(entry)}" for entry in runs]


def log_name(number: int, mount: MountSpec, index: int) -> str:
    """Return the log file's name of a run; a session's first two runs share one."""
    point = "session" if mount.session and index < 2 else mount.runs[index].point
    return f"m{number}-{point}.csv"


def run_entry(card: str, number: int, mount: MountSpec, index: int, hand: Hand) -> Yaml:
    """Return one run's entry in the bundle file."""
    run, name = mount.runs[index], f"m{number}/{mount.runs[index].point}"
    if isinstance(readings := hand.get(name), Mapping):
        return {"point": run.point, "readings": readings} | ({"note": run.note} if run.note else {})
    entry: dict[str, Yaml] = {"point": run.point, "log": log_name(number, mount, index)}
    if mount.session and index < 2:
        entry |= _cut(mount, index)
    if run.frames:
        entry["frames"] = f"m{number}-{run.point}-frames.csv"
    if run.warm_up:
        entry["skip_frames"] = 1
    if name in hand:
        entry["ambient_c"] = hand[name]
    note = run.note or NOTES.get((card, run.point), "")
    return entry | ({"note": note} if note else {})


def _cut(mount: MountSpec, index: int) -> dict[str, Yaml]:
    change = 60 * mount.runs[0].minutes
    return {"from": change} if index else {"to": change}


def _flow(value: Yaml) -> str:
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, dt.date):
        return value.isoformat()
    if isinstance(value, str):
        plain = PLAIN.fullmatch(value) and not value.endswith(" ") and value.lower() not in RESERVED
        return value if plain else json.dumps(value, ensure_ascii=False)
    if isinstance(value, Mapping):
        return "{" + ", ".join(f"{k}: {_flow(v)}" for k, v in value.items()) + "}"
    if isinstance(value, tuple):
        return "[" + ", ".join(_flow(v) for v in value) + "]"
    return repr(value)
