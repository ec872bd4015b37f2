"""What reduction works on: the tables read from a bundle's logs, next to the settings they belong to."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from builder.logs import FrameTable, LogTable
from builder.model import Bench, Bundle, Card, Catalogue, Cooler, Protocol, Run


@dataclass(frozen=True, kw_only=True, eq=False)
class RunInput:
    """One run's settings and tables; `table` is already cut to the run."""

    mount: int  # from 1
    run: Run
    table: LogTable
    frames: FrameTable | None = None


@dataclass(frozen=True, kw_only=True)
class Setting:
    """Everything declared that a bundle's figures depend on."""

    bundle_id: str
    bundle: Bundle
    card: Card
    cooler: Cooler
    bench: Bench
    protocol: Protocol


def setting_of(bundle_id: str, catalogue: Catalogue) -> Setting:
    """Return a bundle with what it refers to; raises KeyError for an unknown bundle."""
    bundle = catalogue.bundles[bundle_id]
    return Setting(
        bundle_id=bundle_id,
        bundle=bundle,
        card=catalogue.cards[bundle.card],
        cooler=catalogue.coolers[bundle.cooler],
        bench=catalogue.benches[bundle.bench],
        protocol=catalogue.protocols[bundle.protocol],
    )


RunInputs = Mapping[str, tuple[RunInput, ...]]  # bundle id -> its runs
