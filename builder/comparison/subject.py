"""One result with everything it refers to, so that views need no look-ups."""

from __future__ import annotations

import datetime as dt
from collections.abc import Mapping
from dataclasses import dataclass

from builder.archive.bench import Bench
from builder.archive.bundle import Bundle
from builder.archive.catalogue import Card, Catalogue, Cooler
from builder.archive.protocol import PointRole, Protocol
from builder.core.results import BundleResult, PointResult, Verdict


@dataclass(frozen=True, kw_only=True, eq=False)
class Subject:
    """A bundle with its card, cooler, bench, protocol and figures."""

    id: str
    bundle: Bundle
    card: Card
    cooler: Cooler
    bench: Bench
    protocol: Protocol
    result: BundleResult

    @property
    def href(self) -> str:
        """Return the address of the result page, from the site's root."""
        return f"results/{self.id}.html"

    @property
    def title(self) -> str:
        """Return the result's name in one line: the tester's own, or cooler on card."""
        return self.bundle.title or f"{self.cooler.name} on {self.card.name}"

    @property
    def stock(self) -> PointResult | None:
        """Return the result at stock settings, or None where there was no such run."""
        ids = [p.id for p in self.protocol.points if p.role is PointRole.STOCK]
        return next((p for p in self.result.points if p.point in ids), None)

    @property
    def shown_on(self) -> dt.date:
        """Return the day by which results are put in order: the episode's, or else the test's."""
        episode = self.bundle.episode
        return (episode.published if episode else None) or self.bundle.tested

    def role(self, point: str) -> PointRole | None:
        """Return what a test point is for, or None where the protocol does not know it."""
        found = self.protocol.point(point)
        return found.role if found else None


def subjects(catalogue: Catalogue, results: Mapping[str, BundleResult]) -> tuple[Subject, ...]:
    """Return every bundle that has a result, newest first, then by id."""
    found = [_subject(catalogue, bundle_id, result) for bundle_id, result in results.items()]
    return tuple(sorted(found, key=lambda s: (-s.shown_on.toordinal(), s.id)))


def _subject(catalogue: Catalogue, bundle_id: str, result: BundleResult) -> Subject:
    bundle = catalogue.bundles[bundle_id]
    return Subject(
        id=bundle_id,
        bundle=bundle,
        card=catalogue.cards[bundle.card],
        cooler=catalogue.coolers[bundle.cooler],
        bench=catalogue.benches[bundle.bench],
        protocol=catalogue.protocols[bundle.protocol],
        result=result,
    )


def settled(point: PointResult) -> bool:
    """Return whether every run of a test point had settled."""
    return point.verdict is Verdict.SETTLED
