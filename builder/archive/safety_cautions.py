"""The cautions that come with the program, for pages and run sheets: `cautions.yaml` of the content."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from builder.archive.catalogue import CoolerKind


@dataclass(frozen=True, kw_only=True)
class Caution:
    """A caution: what to do, why, where it is shown and for which kinds of cooler."""

    id: str
    short: str
    why: str
    where: frozenset[str]
    kinds: frozenset[str]
    step: str = ""


def cautions_from(raw: Sequence[Mapping[str, Any]]) -> tuple[Caution, ...]:
    """Return cautions from the data of `cautions.yaml`, in its order. Raises KeyError for a missing field."""
    return tuple(
        Caution(
            id=str(item["id"]),
            short=str(item["short"]),
            why=str(item["why"]),
            where=frozenset(map(str, item["where"])),
            kinds=frozenset(map(str, item["kinds"])),
            step=str(item.get("step", "")),
        )
        for item in raw
    )


def cautions_for(cautions: Iterable[Caution], where: str, kind: CoolerKind) -> tuple[Caution, ...]:
    """Return the cautions that concern one kind of cooler at one place."""
    return tuple(c for c in cautions if where in c.where and str(kind) in c.kinds)
