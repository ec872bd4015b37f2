"""Coolers against the one that their card was sold with: the difference that a viewer asks for first."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

from builder.archive.catalogue import CoolerKind
from builder.comparison.families import LEVEL, Basis, Family, why_unjudged
from builder.comparison.head_to_head import Standing
from builder.comparison.members import Difference, Member, difference, pooled
from builder.comparison.rankings import family
from builder.comparison.tested import Group, Tested
from builder.core.quantity import Estimate
from builder.core.results import FIGURES, Bound


@dataclass(frozen=True, kw_only=True)
class OwnCooler:
    """The card's own cooler in a family of results: its settled tests pooled, and the bundles they come from."""

    member: Member
    tests: tuple[str, ...]


@dataclass(frozen=True, kw_only=True)
class AgainstOwn:
    """One cooler, or one test of it, less the card's own cooler, in the figure's unit (K for temperatures).

    `bundle` is the test, or the newest of the pooled `tests`. `difference` has its own uncertainty, in which what both
    share cancels; `share` is the same in percent of the own cooler's figure. Both are None where nothing is judged,
    and `why` says so in words. `is_own` marks the own cooler itself, which differs from itself by nothing.
    """

    bundle: str
    tests: tuple[str, ...]
    figure: Estimate
    difference: Estimate | None
    share: Estimate | None
    apart: bool
    is_own: bool = False
    bound: Bound = Bound.NONE
    why: str = ""

    @property
    def better(self) -> bool:
        """Whether it is lower than the own cooler beyond doubt."""
        return self.apart and self.difference is not None and self.difference.value < 0

    @property
    def said(self) -> str:
        """Return what can be said of it, in a word or a few."""
        if self.is_own:
            return "own"
        if self.difference is None:
            return str(Standing.NOT_JUDGED)
        if not self.apart:
            return str(Standing.TOO_CLOSE)
        return "lower" if self.difference.value < 0 else "higher"


def own_cooler(tested: Tested, group: Group, kind: str = "core_rise") -> OwnCooler | None:
    """Return the card's own cooler at a group's test point, or None where no test of it takes part.

    It is the cooler of the kind `stock`, or the one that its file marks `reference`; of several the kind decides.
    """
    return _own(tested, family(tested, group, kind, Basis.MEASURED))


def _own(tested: Tested, found: Family) -> OwnCooler | None:
    tests = [test for test in found.tests.values() if test.bound is Bound.NONE]
    for is_own in (_is_stock, _is_reference):
        mine = sorted((t for t in tests if is_own(tested, t.bundle)), key=lambda t: _tested_on(tested, t.bundle))
        if mine:
            return OwnCooler(member=pooled(mine), tests=tuple(t.bundle for t in mine))
    return None


def _is_stock(tested: Tested, bundle: str) -> bool:
    return tested.setup(bundle).cooler.kind is CoolerKind.STOCK


def _is_reference(tested: Tested, bundle: str) -> bool:
    return tested.setup(bundle).cooler.reference


def _tested_on(tested: Tested, bundle: str) -> tuple[str, str]:
    return tested.setup(bundle).bundle.tested.isoformat(), bundle


def against_own(tested: Tested, group: Group, bundle: str, kind: str = "core_rise") -> AgainstOwn | None:
    """Return one test against the card's own cooler; None where the test, or any own cooler, does not take part.

    The pair is one comparison at 95 %, as every pair that somebody asks for.
    """
    found = family(tested, group, kind, Basis.MEASURED)
    own, test = _own(tested, found), found.tests.get(bundle)
    if own is None or test is None:
        return None
    return _against(kind, own, test, (bundle,))


def all_against_own(tested: Tested, group: Group, kind: str = "core_rise") -> tuple[AgainstOwn, ...]:
    """Return every cooler of a group against the card's own, retests pooled, best first; empty without an own cooler.

    Water blocks that stand in another loop are left out, as of every order over the room.
    """
    found = family(tested, group, kind, Basis.MEASURED)
    own = _own(tested, found)
    if own is None:
        return ()
    return tuple(_against(kind, own, member, found.tests_of(member.bundle)) for member in found.members)


def _against(kind: str, own: OwnCooler, member: Member, tests: Sequence[str]) -> AgainstOwn:
    if set(tests) <= set(own.tests):
        return AgainstOwn(
            bundle=member.bundle,
            tests=tuple(tests),
            figure=member.estimate,
            difference=None,
            share=None,
            apart=False,
            is_own=True,
        )
    why = next(filter(None, (why_unjudged(kind, Basis.MEASURED, m) for m in (member, own.member))), "")
    less = None if why or FIGURES[kind].setting else difference(member, own.member)
    return AgainstOwn(
        bundle=member.bundle,
        tests=tuple(tests),
        figure=member.estimate,
        difference=less.estimate if less else None,
        share=_share(member, own.member) if less else None,
        apart=less is not None and less.p <= LEVEL,
        bound=member.bound,
        why=why,
    )


def _share(one: Member, own: Member) -> Estimate | None:
    """Return 100 (a / b - 1) in percent to first order: both members in one comparison, scaled by 1/b and a/b²."""
    a, b = one.estimate.value, own.estimate.value
    if b <= 3 * own.estimate.u:
        return None
    less: Difference | None = difference(_scaled(one, 100 / b), _scaled(own, 100 * a / b**2))
    return replace(less.estimate, value=100 * (a / b - 1)) if less else None


def _scaled(member: Member, factor: float) -> Member:
    """Return a member times an exact factor, in percent."""
    terms = None if member.terms is None else tuple(replace(t, u=abs(factor) * t.u) for t in member.terms)
    shared = tuple(replace(s, offset=factor * s.offset, gain=factor * s.gain) for s in member.shared)
    return replace(member, estimate=member.estimate.scaled(factor, "percent"), terms=terms, shared=shared)
