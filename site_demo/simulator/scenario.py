"""What was tested when: the shape of the scenario; the bundles themselves stand in `first_year` and `second_year`."""

from __future__ import annotations

import datetime as dt
from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from typing import TypeAlias

Yaml: TypeAlias = "str | int | float | bool | dt.date | tuple[Yaml, ...] | Mapping[str, Yaml]"


@dataclass(frozen=True, kw_only=True)
class RunSpec:
    """One run: how long and how often it is logged, and what was special about it."""

    point: str
    minutes: float
    every_s: float = 2.0
    room_c: float | None = None  # the mount's when absent
    frames: bool = False
    warm_up: bool = False  # the capture starts with a very long frame, which the bundle file leaves out
    quirk: str | None = None
    chill_k: float = 0.0  # how far under the room the loop is at the start
    note: str = ""


@dataclass(frozen=True, kw_only=True)
class MountSpec:
    """One assembly and its runs; `session` writes its first two runs into one log."""

    date: dt.date
    room_c: float
    runs: tuple[RunSpec, ...]
    note: str = ""
    session: bool = False


@dataclass(frozen=True, kw_only=True)
class BundleSpec:
    """One bundle; `head` holds what goes into its file as it is, before the mounts."""

    id: str
    card: str
    cooler: str
    bench: str
    protocol: str
    mounts: tuple[MountSpec, ...]
    sample: str = "a"
    hand_ambient: bool = False
    by_hand: bool = False  # no logs: somebody read the displays when a run ended
    summary: str = ""
    head: Mapping[str, Yaml] = field(default_factory=dict)
    corrections: tuple[Mapping[str, Yaml], ...] = ()

    @property
    def tested(self) -> dt.date:
        """Return the day of the first mount."""
        return self.mounts[0].date


BRIEF = ("idle", "stock", "power-80", "overclock")
SOAK = (
    "idle", "stock", "power-90", "power-80", "power-70", "power-60", "matched-clock", "undervolt", "overclock",
    "overclock-raised", "closing",
)  # fmt: skip
AIR_MIN = 25.0
LOOP_MIN = 40.5
SEALED_MIN = 45.0  # liquid with no coolant sensor
NOTES = {
    ("orrery-740", "overclock"): "Core +75 MHz, memory +300 MHz.",
    ("orrery-780", "overclock"): "Core +85 MHz, memory +400 MHz.",
    ("orrery-780", "overclock-raised"): "Core +85 MHz, memory +400 MHz, power limit 112 %.",
    ("orrery-780", "matched-clock"): "Core −55 MHz, to the reference clock.",
    ("orrery-780", "undervolt"): "0.910 V at the stock clock.",
    ("tarn-x9", "overclock"): "Core +80 MHz, memory +250 MHz.",
    ("tarn-x9", "overclock-raised"): "Core +80 MHz, memory +250 MHz, power limit 112 %.",
    ("tarn-x9", "matched-clock"): "Core −50 MHz, to the reference clock.",
    ("tarn-x9", "undervolt"): "0.871 V at the stock clock.",
}


def runs(
    points: tuple[str, ...], minutes: float, every_s: float = 2.0, frames: tuple[str, ...] = ()
) -> tuple[RunSpec, ...]:
    """Return runs at points, equal but for idle; those in `frames` have a frame capture."""
    idle = 18.0 if minutes <= AIR_MIN else 35.0
    return tuple(
        RunSpec(
            point=p,
            minutes=idle if p == "idle" else minutes,
            every_s=5.0 if p == "idle" else every_s,
            frames=p in frames,
        )
        for p in points
    )


def with_run(given: tuple[RunSpec, ...], point: str, **changes: object) -> tuple[RunSpec, ...]:
    """Return the runs with one of them changed."""
    return tuple(replace(r, **changes) if r.point == point else r for r in given)  # type: ignore[arg-type]


def episode(number: int, title: str, published: str, length: str, moments: Mapping[str, str]) -> Yaml:
    """Return an episode's entry; `moments` maps times to labels."""
    return {
        "number": number,
        "title": title,
        "url": f"https://video.example/cold-lantern/{number}",
        "published": dt.date.fromisoformat(published),
        "length": length,
        "moments": tuple({"at": at, "label": label} for at, label in moments.items()),
    }


def assembly(paste: str, pattern: str, pads: tuple[tuple[str, float, float], ...] = (), *, liquid: bool) -> Yaml:
    """Return an assembly's entry: paste, pads as (where, thickness, gap) in mm, and the checks that were ticked."""
    checks: dict[str, Yaml] = {"screws_crosswise": True, "card_supported": True}
    if liquid:
        checks = {"leak_tested": True, "flow_direction_checked": True, "bled": True, **checks}
    out: dict[str, Yaml] = {"paste": {"name": paste, "pattern": pattern}}
    if pads:
        out["pads"] = tuple({"where": w, "thickness_mm": t, "gap_mm": g} for w, t, g in pads)
    return out | {"checks": checks}
