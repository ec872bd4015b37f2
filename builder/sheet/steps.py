"""What a session takes by kind of cooler: parts, steps in their order, fit of pads, and the checks to tick."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from enum import StrEnum
from types import MappingProxyType
from typing import Any

from builder.archive.bundle import AssemblyChecks, Pad
from builder.archive.catalogue import CoolerKind
from builder.core.quantity import format_number


class Stage(StrEnum):
    """A part of the session, in the order of the work; cautions name the stage that they stand before."""

    PREPARE = "prepare"
    MOUNT = "mount"
    FILL = "fill"
    RUN = "run"
    REMOUNT = "remount"
    FINISH = "finish"


_STAGE_NAMES = {
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
    return _SEALED if stage is Stage.FILL and kind is CoolerKind.HYBRID else _STAGE_NAMES[stage]


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


# --- Thermal pads: how much of its thickness a pad gives up in the gap that it fills

# Common practice, no source: soft pads touch fully from about a tenth, and press hard on the board beyond a third.
LEAST = 0.10
MUCH = 0.30
TOO_MUCH = 0.40
_ROUNDING = 1e-9  # 1.0 mm in 0.9 mm is a tenth, whatever binary fractions make of it


@dataclass(frozen=True, kw_only=True)
class PadFit:
    """A pad in its gap: compression as a share of its thickness (None with no gap known), and a warning or nothing."""

    pad: Pad
    compression: float | None
    warning: str = ""


@dataclass(frozen=True, kw_only=True)
class GapRange:
    """Gaps in mm that a pad of this thickness fills well."""

    thickness_mm: float
    low_mm: float
    high_mm: float


def pad_fit(pad: Pad) -> PadFit:
    """Return a pad's compression, (thickness - gap) / thickness, with a warning where it is small or large.

    The limits of 10, 30 and 40 % are common practice, no source; the maker's figure goes first.

    >>> pad_fit(Pad(where="memory", thickness_mm=1.5, gap_mm=1.2)).warning
    ''
    """
    if pad.gap_mm is None:
        return PadFit(pad=pad, compression=None)
    share = (pad.thickness_mm - pad.gap_mm) / pad.thickness_mm
    return PadFit(pad=pad, compression=share, warning=_compression_warning(share))


def gap_range(thickness_mm: float) -> GapRange:
    """Return the gaps in mm at which a pad is compressed by 10 to 30 %."""
    return GapRange(thickness_mm=thickness_mm, low_mm=thickness_mm * (1 - MUCH), high_mm=thickness_mm * (1 - LEAST))


def _compression_warning(share: float) -> str:
    if share <= _ROUNDING:
        return "the pad does not fill its gap"
    if share < LEAST - _ROUNDING:
        return f"compressed by {percent(share)} only: contact may be poor"
    if share > TOO_MUCH + _ROUNDING:
        return f"compressed by {percent(share)}: this much can bend the board and keep the cooler off the chip"
    if share > MUCH + _ROUNDING:
        return f"compressed by {percent(share)}: check the maker's figure"
    return ""


def percent(share: float) -> str:
    """Return a share as whole percent."""
    return f"{format_number(100 * share, 0)} %"


# --- Which checks of an assembly concern which kind of cooler

_ALWAYS = ("card_supported",)
_FITTED = ("screws_crosswise",)

# The run sheet ticks the same ones. A stock cooler may be tested as delivered, and a sealed loop is never opened.
TICKS: Mapping[CoolerKind, tuple[str, ...]] = MappingProxyType(
    {
        CoolerKind.STOCK: _ALWAYS,
        CoolerKind.AIR: (*_FITTED, *_ALWAYS),
        CoolerKind.HYBRID: (*_FITTED, *_ALWAYS),
        CoolerKind.WATER_BLOCK: (*_FITTED, "flow_direction_checked", *_ALWAYS, "bled", "leak_tested"),
    }
)


def not_ticked(kind: CoolerKind, checks: AssemblyChecks) -> tuple[str, ...]:
    """Return the checks that concern a kind of cooler and are not true."""
    return tuple(name for name in TICKS[kind] if not getattr(checks, name))
