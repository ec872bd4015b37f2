"""One result with everything that its bundle names, so that pages, exports and kits need no look-ups."""

from __future__ import annotations

import datetime as dt
from collections.abc import Mapping
from dataclasses import dataclass

from builder.archive.catalogue import Catalogue, Setup
from builder.archive.protocol import PointRole
from builder.core.results import BundleResult, PointResult, Verdict


@dataclass(frozen=True, kw_only=True, eq=False)
class Subject(Setup):
    """A bundle with everything it names, and its figures."""

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
    found = [Subject(**vars(catalogue.setup(bundle_id)), result=result) for bundle_id, result in results.items()]
    return tuple(sorted(found, key=lambda s: (-s.shown_on.toordinal(), s.id)))


def settled(point: PointResult) -> bool:
    """Return whether every run of a test point had settled."""
    return point.verdict is Verdict.SETTLED
