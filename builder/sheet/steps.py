"""The steps of a session as data: what is needed, and what is done in which order, by kind of cooler."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from enum import StrEnum
from typing import Any

from builder.model import AssemblyChecks, CoolerKind


class Stage(StrEnum):
    """A part of the session, in the order of the work; cautions name the stage that they stand before."""

    PREPARE = "prepare"
    MOUNT = "mount"
    FILL = "fill"
    RUN = "run"
    REMOUNT = "remount"
    FINISH = "finish"


STAGE_NAMES = {
    Stage.PREPARE: "Prepare",
    Stage.MOUNT: "Mount the cooler",
    Stage.FILL: "Fill, bleed and leak test",
    Stage.RUN: "Run",
    Stage.REMOUNT: "Mount once more",
    Stage.FINISH: "Finish",
}
_SEALED = "Look over the sealed loop"  # of a hybrid, which is never filled or opened


def stage_name(stage: Stage, kind: CoolerKind) -> str:
    """Return the heading of a stage for one kind of cooler."""
    return _SEALED if stage is Stage.FILL and kind is CoolerKind.HYBRID else STAGE_NAMES[stage]


@dataclass(frozen=True, kw_only=True)
class Step:
    """One thing to do; `check` is the field of `assembly.checks` that is ticked with it."""

    stage: Stage
    text: str
    kinds: frozenset[str]
    check: str = ""


@dataclass(frozen=True, kw_only=True)
class Part:
    """Something to have ready."""

    text: str
    kinds: frozenset[str]


@dataclass(frozen=True, kw_only=True)
class Assembly:
    """All parts and steps, for every kind of cooler."""

    parts: tuple[Part, ...]
    steps: tuple[Step, ...]

    def parts_for(self, kind: CoolerKind) -> tuple[str, ...]:
        """Return what to have ready for one kind of cooler."""
        return tuple(p.text for p in self.parts if str(kind) in p.kinds)

    def steps_for(self, kind: CoolerKind, stage: Stage) -> tuple[Step, ...]:
        """Return the steps of one stage for one kind of cooler."""
        return tuple(s for s in self.steps if s.stage is stage and str(kind) in s.kinds)


def assembly_from(raw: Mapping[str, Sequence[Mapping[str, Any]]]) -> Assembly:
    """Return the data of `assembly.yaml`. Raises KeyError for a missing field, ValueError for an unknown name."""
    steps = tuple(
        Step(
            stage=Stage(item["stage"]),
            text=_line(item["text"]),
            kinds=_kinds(item),
            check=_check(str(item.get("check", ""))),
        )
        for item in raw["steps"]
    )
    return Assembly(parts=tuple(Part(text=_line(p["text"]), kinds=_kinds(p)) for p in raw["parts"]), steps=steps)


def _line(text: object) -> str:
    return " ".join(str(text).split())


def _kinds(item: Mapping[str, Any]) -> frozenset[str]:
    given: Iterable[str] = item.get("kinds", [kind.value for kind in CoolerKind])
    return frozenset(CoolerKind(kind).value for kind in given)


def _check(name: str) -> str:
    if name and name not in AssemblyChecks.model_fields:
        raise ValueError(f"assembly.yaml: there is no check {name}")
    return name
