"""All results of one card sample, test point and figure, judged together: one pair has one verdict everywhere."""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from enum import StrEnum

from builder.compare.differences import Difference, difference
from builder.compare.letters import tie_letters
from builder.compare.members import Case, Member, is_bound, mount_term, mounted, shared_lines
from builder.compare.reasons import SPREAD_UNKNOWN, Reason, bundle_reasons, no_figure, other_definition
from builder.compare.spread import Spreads, mount_spreads
from builder.compare.tested import Group, Tested
from builder.figures import FIGURES, PointResult
from builder.uncertainty import holm

LEVEL = 0.05  # the family-wise error that is accepted, so that intervals and verdicts speak of 95 %
ROOM_NOTE = "A temperature includes the room's: the order is that of these runs, and differences are not judged."


class Basis(StrEnum):
    """Whether figures are compared as measured or at reference conditions."""

    MEASURED = "as measured"
    REFERENCE = "at reference conditions"


@dataclass(frozen=True, kw_only=True)
class LeftOut:
    """A result that does not take part, and why."""

    bundle: str
    reasons: tuple[Reason, ...]


@dataclass(frozen=True, kw_only=True)
class Judged:
    """A pair with its difference, its p value adjusted by Holm for the family, and whether it can be told apart."""

    difference: Difference
    adjusted_p: float
    separable: bool


@dataclass(frozen=True, kw_only=True, eq=False)
class Family:
    """Results judged together, best first; `pairs` holds judged pairs by (better, worse) bundle."""

    group: Group
    kind: str
    basis: Basis
    members: tuple[Member, ...]
    pairs: Mapping[tuple[str, str], Judged]
    letters: Mapping[str, tuple[str, ...]]
    left_out: tuple[LeftOut, ...] = ()
    notes: tuple[str, ...] = ()

    def member(self, bundle: str) -> Member | None:
        """Return a bundle's member, or None where it was left out."""
        return next((m for m in self.members if m.bundle == bundle), None)


def measured_family(tested: Tested, group: Group, kind: str) -> Family:
    """Return a group's results for one kind of figure as measured, judged together.

    Raises KeyError for an unknown kind of figure.
    """
    key = ("measured", group, kind)
    if key not in tested.memo:
        tested.memo[key] = _measured(tested, group, kind)
    found: Family = tested.memo[key]
    return found


def _measured(tested: Tested, group: Group, kind: str) -> Family:
    eligible, left_out = eligible_points(tested, group, kind)
    spreads = group_spreads(tested, group, kind)
    members = [_member(Case(tested=tested, bundle=b, result=r), kind, spreads) for b, r in eligible.items()]
    notes = [*spreads.notes, *([ROOM_NOTE] if _is_temperature(kind) else [])]
    return replace(judge(group, kind, Basis.MEASURED, members), left_out=left_out, notes=tuple(notes))


def _is_temperature(kind: str) -> bool:
    return FIGURES[kind].unit == "degC"


def eligible_points(tested: Tested, group: Group, kind: str) -> tuple[dict[str, PointResult], tuple[LeftOut, ...]]:
    """Return the results that compare directly for a figure, by bundle, and those on the card that do not, with why."""
    eligible: dict[str, PointResult] = {}
    left_out: list[LeftOut] = []
    for bundle in sorted(b for b in tested.results if tested.bundle(b).card == group.card):
        result = tested.point(bundle, group.point_of(tested.bundle(bundle)) or "")
        reasons = bundle_reasons(tested, group, bundle)
        if not reasons and result and kind in result.figures:
            eligible[bundle] = result
        else:
            left_out.append(LeftOut(bundle=bundle, reasons=reasons or (no_figure(tested, bundle, kind),)))
    return _of_one_definition(tested, kind, eligible, left_out)


def _of_one_definition(
    tested: Tested, kind: str, eligible: dict[str, PointResult], left_out: list[LeftOut]
) -> tuple[dict[str, PointResult], tuple[LeftOut, ...]]:
    """Keep the definition that most results use; figures that are defined in two ways do not compare."""
    counts = Counter(result.figures[kind].definition for result in eligible.values())
    usual = min(counts, key=lambda d: (-counts[d], d), default="")
    other = {b: r.figures[kind].definition for b, r in eligible.items() if r.figures[kind].definition != usual}
    odd = [LeftOut(bundle=b, reasons=(other_definition(tested, b, kind, text),)) for b, text in other.items()]
    kept = {b: r for b, r in eligible.items() if b not in other}
    return kept, tuple(sorted((*left_out, *odd), key=lambda x: x.bundle))


def group_spreads(tested: Tested, group: Group, kind: str) -> Spreads:
    """Return the mounting spread of a figure for every result that compares directly in a group."""
    eligible, _ = eligible_points(tested, group, kind)
    cases = (Case(tested=tested, bundle=bundle, result=result) for bundle, result in eligible.items())
    return mount_spreads([mounted(case, kind) for case in cases])


def _member(case: Case, kind: str, spreads: Spreads) -> Member:
    figure = case.result.figures[kind]
    return Member(
        bundle=case.bundle,
        bench=case.tested.bundle(case.bundle).bench,
        estimate=figure.estimate,
        terms=mount_term(spreads.terms[case.bundle], len(mounted(case, kind).values)),
        shared=shared_lines(case, figure.budget, kind),
        definition=figure.definition,
        bound=is_bound(figure),
    )


def judge(group: Group, kind: str, basis: Basis, members: Sequence[Member]) -> Family:
    """Return members in order, best first, with all pairs judged by Holm's step-down at 5 % for the family."""
    sign = -1.0 if FIGURES[kind].better == "higher" else 1.0
    ordered = sorted(members, key=lambda m: (sign * m.estimate.value, m.bundle))
    judgeable = [m for m in ordered if m.terms is not None and not m.bound]
    if _is_temperature(kind) and basis is Basis.MEASURED:
        judgeable = []
    pairs = _judged(judgeable)
    return Family(
        group=group,
        kind=kind,
        basis=basis,
        members=tuple(ordered),
        pairs=pairs,
        letters=_letters(judgeable, pairs),
    )


def _judged(members: Sequence[Member]) -> Mapping[tuple[str, str], Judged]:
    found = [difference(a, b) for i, a in enumerate(members) for b in members[i + 1 :]]
    known = [d for d in found if d]
    adjusted = holm([d.p for d in known])
    return {
        (d.a, d.b): Judged(difference=d, adjusted_p=p, separable=p <= LEVEL)
        for d, p in zip(known, adjusted, strict=True)
    }


def _letters(members: Sequence[Member], pairs: Mapping[tuple[str, str], Judged]) -> Mapping[str, tuple[str, ...]]:
    index = {m.bundle: i for i, m in enumerate(members)}
    apart = frozenset((index[a], index[b]) for (a, b), judged in pairs.items() if judged.separable)
    return dict(zip(index, tie_letters(len(members), apart), strict=True))


def why_unjudged(family: Family, member: Member) -> str:
    """Return why a member's differences are not judged, or an empty text where they are."""
    if member.bundle in family.letters:
        return ""
    if member.bound:
        return "an upper bound: differences are not judged"
    return SPREAD_UNKNOWN if member.terms is None else "includes the room's temperature: differences are not judged"
