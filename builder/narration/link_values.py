"""What an address stands for: the computed figure or difference, and whether a difference can be told from none."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, replace
from enum import Enum

from builder.archive.protocol import PointRole
from builder.comparison import (
    NotComparable,
    PointOf,
    Standing,
    Tested,
    against_own,
    by_hand,
    group_of,
    head_to_head,
    leads,
)
from builder.core.errors import closest, nearest
from builder.core.quantity import Estimate
from builder.core.results import FIGURES, Bound, PointResult, Verdict
from builder.core.words import listing
from builder.narration.links import GRAMMAR, Address, parse_address


class Apart(Enum):
    """Whether a difference can be told from none."""

    YES = "yes"
    TOO_CLOSE = "too close to call"


@dataclass(frozen=True, kw_only=True)
class Truth:
    """A computed figure, or a difference as the address orders it (this less the other, this less stock).

    `percent` is the same difference in percent, where that means something. Of a figure that is a `bound`, the value at
    rest lies beyond the end of the estimate's interval. `by_hand` says that it rests on readings by hand.
    """

    address: Address
    value: Estimate
    percent: Estimate | None = None
    apart: Apart = Apart.YES
    settled: bool = True
    bound: Bound = Bound.NONE
    by_hand: bool = False


@dataclass(frozen=True, kw_only=True)
class NotFound:
    """Why an address leads nowhere, and what may have been meant."""

    message: str
    hint: str


@dataclass(frozen=True, kw_only=True)
class NoDifference:
    """Why the difference that an address names does not exist."""

    address: Address
    why: str


Answer = Truth | NotFound | NoDifference


def look_up(target: str, here: str, tested: Tested) -> Answer:
    """Return what a link's target in the files of the bundle `here` stands for, or why it stands for nothing.

    `here` is empty in the archive's own pages, where an address names its bundle.
    """
    address = parse_address(target, here=here)
    if address is None:
        return NotFound(message=f'"{target}" is not the address of a figure', hint=f"write {GRAMMAR}")
    if not address.bundle:
        full = replace(address, bundle="BUNDLE").text()
        return NotFound(message=f'"{target}" names no bundle, and a page belongs to none', hint=f"write {full}")
    for bundle, partner in ((address.bundle, address.other), (address.other, address.bundle)):
        if bundle and bundle not in tested.results:
            return _unknown("bundle", bundle, [b for b in tested.results if b != partner])
    return _at_point(address, here, tested)


def _at_point(address: Address, here: str, tested: Tested) -> Answer:
    place = "in this bundle" if address.bundle == here else f"in {address.bundle}"
    point = tested.point(address.bundle, address.point)
    if point is None:
        return _unknown("test point", address.point, [p.point for p in tested.results[address.bundle].points], place)
    if address.kind not in point.figures:
        return _no_figure(address, here, point, place, tested)
    if address.other:
        return _difference(address, tested)
    if address.own:
        return _against_own(address, tested)
    if address.change:
        return _change(address, here, point, tested)
    settled = point.verdict is Verdict.SETTLED
    figure = point.figures[address.kind]
    hand = by_hand(point)
    return Truth(address=address, value=figure.estimate, settled=settled or hand, bound=figure.bound, by_hand=hand)


def _unknown(what: str, given: str, known: Iterable[str], place: str = "") -> NotFound:
    choices = list(known)
    hint = nearest(given, choices) or f"there are: {listing(choices)}"
    return NotFound(message=f'there is no {what} "{given}" {place}'.rstrip(), hint=hint)


def _no_figure(address: Address, here: str, point: PointResult, place: str, tested: Tested) -> NotFound:
    kinds = point.changes if address.change else point.figures
    # Of a difference only a figure that both have and that is judged can be meant: any other would be refused next.
    meant = {kind: replace(address, kind=kind) for kind in kinds}
    choices = [k for k, near in meant.items() if not near.other or isinstance(_difference(near, tested), Truth)]
    close = closest(address.kind, choices)
    listed = f"there are: {listing(choices)}" if choices else f"link a figure by itself: {listing(point.figures)}"
    hint = f'did you mean "{meant[close].text(here=here)}"?' if close else listed
    kind = FIGURES.get(address.kind)
    what = f"{kind.name} has no figure" if kind else f'there is no figure "{address.kind}"'
    return NotFound(message=f"{what} at {point.name} {place}", hint=hint)


def _change(address: Address, here: str, point: PointResult, tested: Tested) -> Truth | NotFound:
    change = point.changes.get(address.kind)
    if change is None:
        message = f'"{address.text(here=here)}": {FIGURES[address.kind].name} has no change from stock at {point.name}'
        changes = listing(point.changes)
        hint = f"there are changes of: {changes}" if changes else "link the figure itself"
        return NotFound(message=message, hint=hint)
    stock = _stock(address, tested)
    told = abs(change.absolute.value) > change.absolute.expanded()
    return Truth(
        address=address,
        value=change.absolute,
        percent=change.percent,
        apart=Apart.YES if told else Apart.TOO_CLOSE,
        settled=leads(point) and (stock is None or leads(stock)),
        by_hand=by_hand(point) or (stock is not None and by_hand(stock)),
    )


def _stock(address: Address, tested: Tested) -> PointResult | None:
    """Return the test point that a change starts from."""
    stock = next((p.id for p in tested.setup(address.bundle).protocol.points if p.role is PointRole.STOCK), "")
    return tested.point(address.bundle, stock)


def _difference(address: Address, tested: Tested) -> Answer:
    group = group_of(tested, address.bundle, address.point)
    point = group.point_of(tested.setup(address.other).bundle) or address.point
    if tested.point(address.other, point) is None:
        why = f"{tested.label(address.other)} was not run at a test point that compares with this one."
        return NoDifference(address=address, why=why)
    here, there = (PointOf(bundle=address.bundle, point=address.point), PointOf(bundle=address.other, point=point))
    found = head_to_head(tested, here, there)
    row = next((r for r in found.rows if r.kind == address.kind), None)
    if isinstance(found.comparability, NotComparable):
        return NoDifference(address=address, why=" ".join(r.text for r in found.comparability.reasons))
    if row is None or row.difference is None:
        why = row.text if row else f"{FIGURES[address.kind].name} is not compared."
        return NoDifference(address=address, why=why)
    apart = Apart.TOO_CLOSE if row.standing is Standing.TOO_CLOSE else Apart.YES
    both = (tested.point(address.bundle, address.point), tested.point(address.other, point))
    return Truth(
        address=address,
        value=row.difference,
        percent=_percent(row.difference, row.b),
        apart=apart,
        by_hand=any(by_hand(one) for one in both if one),
    )


def _against_own(address: Address, tested: Tested) -> Truth | NoDifference:
    group = group_of(tested, address.bundle, address.point)
    found = against_own(tested, group, address.bundle, address.kind)
    if found is None:
        why = "No test of the card's own cooler compares with this one."
        return NoDifference(address=address, why=why)
    if found.is_own:
        return NoDifference(address=address, why="This is the card's own cooler.")
    if found.difference is None:
        why = found.why or f"{FIGURES[address.kind].name} is not compared"
        return NoDifference(address=address, why=f"{why[:1].upper()}{why[1:]}.")
    apart = Apart.YES if found.apart else Apart.TOO_CLOSE
    percent = None if found.figure.unit in _NO_RATIO else found.share
    return Truth(address=address, value=found.difference, percent=percent, apart=apart)


_NO_RATIO = {"degC", "dBA", "percent"}  # their zero is arbitrary, or they are percents themselves


def _percent(difference: Estimate, other: Estimate | None) -> Estimate | None:
    if other is None or other.unit in _NO_RATIO or other.value <= 3 * other.u:
        return None
    return difference.scaled(100 / other.value, "percent")
