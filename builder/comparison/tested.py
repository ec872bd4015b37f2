"""What comparison works on: the archive with its figures, and which test points belong together."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field
from typing import Any

from builder.archive.bundle import Bundle
from builder.archive.catalogue import Catalogue, Cooler
from builder.archive.protocol import PointRef, PointRole, Protocol, TestPoint
from builder.core.results import BundleResult, PointResult


@dataclass(frozen=True, kw_only=True, eq=False)
class Tested:
    """A catalogue with the figures of its bundles; judged families are kept, since many pages ask for the same."""

    catalogue: Catalogue
    results: Mapping[str, BundleResult]
    memo: dict[Any, Any] = field(default_factory=dict, repr=False)

    __test__ = False  # no test class

    def bundle(self, bundle: str) -> Bundle:
        """Return a bundle; raises KeyError where there is none."""
        return self.catalogue.bundles[bundle]

    def cooler(self, bundle: str) -> Cooler:
        """Return the cooler that a bundle tested."""
        return self.catalogue.coolers[self.bundle(bundle).cooler]

    def protocol(self, bundle: str) -> Protocol:
        """Return the protocol that a bundle followed."""
        return self.catalogue.protocols[self.bundle(bundle).protocol]

    def point(self, bundle: str, point: str) -> PointResult | None:
        """Return a bundle's result at a test point, or None where there is none."""
        result = self.results.get(bundle)
        return result.point(point) if result else None

    def setting(self, bundle: str, point: str) -> TestPoint | None:
        """Return what a bundle's protocol says of a test point, or None where it has no such point."""
        return self.protocol(bundle).point(point)

    def label(self, bundle: str) -> str:
        """Return the cooler's name, with the day of the test where the same cooler was tested on that card twice."""
        mine = self.bundle(bundle)
        same = [b for b in self.catalogue.bundles.values() if (b.cooler, b.card) == (mine.cooler, mine.card)]
        name = self.cooler(bundle).name
        return f"{name}, tested {mine.tested.isoformat()}" if len(same) > 1 else name


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

    def on_card(self, bundle: Bundle) -> bool:
        """Whether a bundle was tested on this card sample."""
        return (bundle.card, bundle.card_sample) == (self.card, self.sample)


def groups(tested: Tested) -> tuple[Group, ...]:
    """Return every group that has a result, ordered by card, sample and the order of points in their protocol."""
    found: dict[Group, None] = {}
    for bundle in sorted(tested.results, key=lambda b: _card_key(tested, b)):
        for point in tested.results[bundle].points:
            if tested.setting(bundle, point.point):
                found.setdefault(group_of(tested, bundle, point.point))
    return tuple(sorted(found, key=lambda g: (g.card, g.sample)))


def _card_key(tested: Tested, bundle: str) -> tuple[str, int, str]:
    """Longer protocols come first, so that their order of points leads."""
    return (tested.bundle(bundle).card, -len(tested.protocol(bundle).points), bundle)


def group_of(tested: Tested, bundle: str, point: str) -> Group:
    """Return the group that a bundle's test point belongs to.

    Raises KeyError where the bundle or the test point does not exist.
    """
    mine = tested.bundle(bundle)
    points = equivalence_class(tested.catalogue, mine.protocol, point)
    first = tested.catalogue.protocols[points[0][0]].point(points[0][1])
    if first is None:  # cannot be: the class holds existing points only
        raise KeyError(point)
    return Group(card=mine.card, sample=mine.card_sample, points=points, name=first.name, role=first.role)


def equivalence_class(catalogue: Catalogue, protocol: str, point: str) -> tuple[tuple[str, str], ...]:
    """Return a test point with all that are declared equivalent to it, directly or through another, in order.

    A declaration counts from either side. Raises KeyError where the test point does not exist.
    """
    start = (protocol, point)
    links = dict(_links(catalogue))
    if start not in links:
        raise KeyError(f"{protocol}/{point}")
    found, waiting = {start}, [start]
    while waiting:
        here = waiting.pop()
        new = {there for there in links if there in links[here] or here in links[there]} - found
        found |= new
        waiting.extend(new)
    return tuple(sorted(found))


def _links(catalogue: Catalogue) -> Iterator[tuple[tuple[str, str], frozenset[tuple[str, str]]]]:
    for name, protocol in catalogue.protocols.items():
        for point in protocol.points:
            yield (name, point.id), frozenset(map(_pair, point.equivalent))


def _pair(ref: PointRef) -> tuple[str, str]:
    return (ref.protocol, ref.point)
