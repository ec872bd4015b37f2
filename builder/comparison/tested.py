"""What comparison works on: the archive with its figures, each result of it, and which test points belong together."""

from __future__ import annotations

import datetime as dt
from collections import Counter
from collections.abc import Mapping
from dataclasses import dataclass, field
from functools import cached_property
from typing import Any

from builder.archive.bundle import Bundle
from builder.archive.catalogue import Catalogue, Setup
from builder.archive.protocol import PointRole, TestPoint
from builder.core.results import BundleResult, PointResult, Verdict
from builder.reduction import ArchiveSpreads, BundleRuns, archive_spreads


@dataclass(frozen=True, kw_only=True, eq=False)
class Tested:
    """A catalogue with the figures of its bundles; judged families are kept, since many pages ask for the same."""

    catalogue: Catalogue
    results: Mapping[str, BundleResult]
    memo: dict[Any, Any] = field(default_factory=dict, repr=False)

    __test__ = False  # no test class

    def setup(self, bundle: str) -> Setup:
        """Return a bundle with everything it names; raises KeyError where there is none."""
        return self._setups[bundle]

    def point(self, bundle: str, point: str) -> PointResult | None:
        """Return a bundle's result at a test point, or None where there is none."""
        result = self.results.get(bundle)
        return result.point(point) if result else None

    def label(self, bundle: str) -> str:
        """Return the cooler's name, with the day of the test where the same cooler was tested on that card twice."""
        mine = self.setup(bundle)
        twice = self._tests[mine.bundle.cooler, mine.bundle.card] > 1
        return f"{mine.cooler.name}, tested {mine.bundle.tested.isoformat()}" if twice else mine.cooler.name

    @cached_property
    def spreads(self) -> ArchiveSpreads:
        """What all bundles together say of scatter between mounts and from run to run."""
        given = ((self.setup(bundle), result) for bundle, result in self.results.items())
        return archive_spreads(
            BundleRuns(setup=setup, runs=[run for point in result.points for run in point.runs])
            for setup, result in given
        )

    @cached_property
    def _setups(self) -> Mapping[str, Setup]:
        return {bundle: self.catalogue.setup(bundle) for bundle in self.catalogue.bundles}

    @cached_property
    def _tests(self) -> Counter[tuple[str, str]]:
        """How often each cooler was tested on each card."""
        return Counter((bundle.cooler, bundle.card) for bundle in self.catalogue.bundles.values())

    @cached_property
    def test_points(self) -> Mapping[tuple[str, str], TestPoint]:
        """Every test point of the archive by (protocol, point)."""
        return {(name, p.id): p for name, protocol in self.catalogue.protocols.items() for p in protocol.points}

    @cached_property
    def equivalents(self) -> Mapping[tuple[str, str], tuple[tuple[str, str], ...]]:
        """Every test point, as (protocol, point), with all that compare directly with it, itself included."""
        return equivalence_classes(self.test_points)


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


@dataclass(frozen=True, kw_only=True)
class Group:
    """Test points that compare directly on one card sample: one point, and those declared equivalent to it.

    `points` are (protocol, point) in order; `name` is the point's name in the first protocol.
    """

    card: str
    sample: str
    points: tuple[tuple[str, str], ...]
    name: str
    role: PointRole

    def point_of(self, bundle: Bundle) -> str | None:
        """Return the id by which a bundle's protocol calls this point, or None where it has no such point."""
        return next((point for protocol, point in self.points if protocol == bundle.protocol), None)


def groups(tested: Tested) -> tuple[Group, ...]:
    """Return every group that has a result, ordered by card, sample and the order of points in their protocol."""
    # Longer protocols come first, so that their order of points leads.
    setups = sorted(map(tested.setup, tested.results), key=lambda s: (s.bundle.card, -len(s.protocol.points), s.id))
    found: dict[Group, None] = {}
    for setup in setups:
        for point in tested.results[setup.id].points:
            if setup.protocol.point(point.point):
                found.setdefault(group_of(tested, setup.id, point.point))
    return tuple(sorted(found, key=lambda g: (g.card, g.sample)))


def group_of(tested: Tested, bundle: str, point: str) -> Group:
    """Return the group that a bundle's test point belongs to.

    Raises KeyError where the bundle or the test point does not exist.
    """
    mine = tested.setup(bundle).bundle
    points = tested.equivalents[mine.protocol, point]
    first = tested.test_points[points[0]]
    return Group(card=mine.card, sample=mine.card_sample, points=points, name=first.name, role=first.role)


def equivalence_classes(
    points: Mapping[tuple[str, str], TestPoint],
) -> Mapping[tuple[str, str], tuple[tuple[str, str], ...]]:
    """Return each test point, as (protocol, point), with all that are declared equivalent to it, in order.

    A declaration counts from either side, and through another test point; the point itself is one of them.
    """
    classes = {point: {point} for point in points}
    for point, declared in points.items():
        for other in declared.equivalent:
            merged = classes[point] | classes.get((other.protocol, other.point), set())
            classes.update(dict.fromkeys(merged, merged))
    return {point: tuple(sorted(same)) for point, same in classes.items()}
