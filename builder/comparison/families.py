"""All results of one card sample, test point and figure, judged together: one pair has one verdict everywhere."""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from enum import StrEnum

from builder.comparison.members import (
    Case,
    Member,
    SharedLine,
    Spreads,
    Term,
    mount_spreads,
    mount_term,
    mounted,
    shared_lines,
)
from builder.comparison.reasons import SPREAD_UNKNOWN, Reason, bundle_reasons, no_figure, other_definition
from builder.comparison.tested import Group, Tested
from builder.core.quantity import Estimate
from builder.core.results import FIGURES, Bound, Component, PointResult
from builder.uncertainty import estimate_from_budget, holm

# --- The difference of two results with its uncertainty: what both share cancels, each one's mounts do not


@dataclass(frozen=True, kw_only=True)
class Difference:
    """Result a less result b, with its budget; a difference of temperatures is in K."""

    a: str
    b: str
    estimate: Estimate
    budget: tuple[Component, ...]

    @property
    def p(self) -> float:
        """Return the two-sided probability of a difference at least this large between equals (Student's t)."""
        return two_sided_p(self.estimate)


def difference(a: Member, b: Member) -> Difference | None:
    """Return a less b; None where the mounting spread of either is unknown.

    On one bench a sensor's offset and gain are the same error twice, so what remains is the difference of the signed
    contributions (JCGM 100:2008, 5.2.2, equation (16) with r = 1). On two benches they are independent. Terms of
    one pool combine with that pool's degrees of freedom; the rest by Welch-Satterthwaite (G.4.1).
    """
    if a.terms is None or b.terms is None:
        return None
    unit = "K" if a.estimate.unit == "degC" else a.estimate.unit
    budget = (*_own_lines((*a.terms, *b.terms), unit), *_shared_lines(a, b, unit))
    value = a.estimate.value - b.estimate.value
    return Difference(a=a.bundle, b=b.bundle, estimate=estimate_from_budget(value, unit, budget), budget=budget)


def _own_lines(terms: Sequence[Term], unit: str) -> Iterator[Component]:
    """Order of terms must not matter to the last digit, hence hypot over a sorted list."""
    pools: dict[str, list[Term]] = {}
    for term in terms:
        pools.setdefault(term.pool, []).append(term)
    for pool in sorted(pools):
        mine = pools[pool]
        u = math.hypot(*sorted(t.u for t in mine))
        yield Component(name=mine[0].name, kind="A", u=u, unit=unit, dof=min(t.dof for t in mine))


def _shared_lines(a: Member, b: Member, unit: str) -> Iterator[Component]:
    lines_a, lines_b = ({line.instrument: line for line in m.shared} for m in (a, b))
    for instrument in sorted({*lines_a, *lines_b}):
        one, two = (lines.get(instrument) or SharedLine(instrument=instrument) for lines in (lines_a, lines_b))
        u = _left(one, two, same=a.bench == b.bench)
        if u > 0:
            yield Component(name=instrument, kind="B", u=u, unit=unit, dof=math.inf)


def _left(one: SharedLine, two: SharedLine, *, same: bool) -> float:
    """Return what two lines of one instrument leave in a difference, which is nothing of an equal offset."""
    if same:
        return math.hypot(one.offset - two.offset, one.gain - two.gain)
    return math.hypot(*sorted((abs(one.offset), abs(one.gain), abs(two.offset), abs(two.gain))))


def two_sided_p(estimate: Estimate) -> float:
    """Return the probability of a value at least this far from zero if it were zero: 2 t(-|value|/u; dof).

    An exact value is zero (1) or is not (0).
    """
    from scipy import special

    if estimate.u == 0:
        return 1.0 if estimate.value == 0 else 0.0
    t = -abs(estimate.value) / estimate.u
    return float(2 * (special.ndtr(t) if math.isinf(estimate.dof) else special.stdtr(estimate.dof, t)))


# --- Ties as letters: two rows share a letter if and only if they could not be told apart


_ALPHABET = "abcdefghijklmnopqrstuvwxyz"


def tie_letters(count: int, separable: frozenset[tuple[int, int]]) -> tuple[tuple[str, ...], ...]:
    """Return the letters of `count` rows in order; `separable` holds pairs (i, j) with i < j.

    Two rows share a letter if and only if their pair is not separable, every row has a letter, and no letter can be
    left out. Each letter is a set of rows that are all tied, grown to the full; found greedily, so the number of
    letters need not be the least possible. The property is that of Piepho 2004, J. Comput. Graph. Stat. 13, 456.

    >>> tie_letters(4, frozenset({(0, 1), (0, 2), (2, 3)}))
    (('a',), ('b', 'c'), ('b',), ('a', 'c'))
    """
    cliques = _without_redundant(sorted(_covering_cliques(count, separable)))
    return tuple(tuple(letter(k) for k, clique in enumerate(cliques) if row in clique) for row in range(count))


def letter(index: int) -> str:
    """Return the name of the letter at an index from 0: a to z, then a1 to z1 and so on.

    >>> letter(0), letter(27)
    ('a', 'b1')
    """
    turn, place = divmod(index, len(_ALPHABET))
    return _ALPHABET[place] + (str(turn) if turn else "")


def _covering_cliques(count: int, separable: frozenset[tuple[int, int]]) -> list[tuple[int, ...]]:
    covered: set[tuple[int, int]] = set()
    cliques = []
    for i in range(count):
        for j in range(i + 1, count):
            if (i, j) not in separable and (i, j) not in covered:
                clique = _grown((i, j), count, separable)
                covered |= _pairs(clique)
                cliques.append(clique)
    tied = {row for clique in cliques for row in clique}
    return cliques + [(row,) for row in range(count) if row not in tied]


def _grown(seed: tuple[int, int], count: int, separable: frozenset[tuple[int, int]]) -> tuple[int, ...]:
    clique = list(seed)
    for row in range(count):
        if row not in clique and not any((min(row, k), max(row, k)) in separable for k in clique):
            clique.append(row)
    return tuple(sorted(clique))


def _pairs(clique: Sequence[int]) -> set[tuple[int, int]]:
    return {(i, j) for i in clique for j in clique if i < j}


def _without_redundant(cliques: list[tuple[int, ...]]) -> list[tuple[int, ...]]:
    """Leave out, from the last, every clique whose ties the others already show."""
    kept = list(cliques)
    for clique in reversed(cliques):
        others = [k for k in kept if k is not clique]
        shown = {pair for k in others for pair in _pairs(k)}
        if _pairs(clique) <= shown and {row for k in others for row in k} >= set(clique):
            kept = others
    return kept


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
    for bundle in sorted(b for b in tested.results if tested.setup(b).bundle.card == group.card):
        result = tested.point(bundle, group.point_of(tested.setup(bundle).bundle) or "")
        reasons = bundle_reasons(tested, group, bundle)
        if not reasons and result and kind in result.figures:
            eligible[bundle] = result
        else:
            left_out.append(LeftOut(bundle=bundle, reasons=reasons or (no_figure(tested, bundle, kind),)))
    return _of_one_definition(tested, kind, eligible, left_out)


def _of_one_definition(
    tested: Tested, kind: str, eligible: dict[str, PointResult], left_out: list[LeftOut]
) -> tuple[dict[str, PointResult], tuple[LeftOut, ...]]:
    """Keep the definition that most results use; figures that are defined in two ways do not compare.

    Of two that are equally frequent, the first bundle's is kept.
    """
    found = {b: r.figures[kind].definition for b, r in eligible.items()}
    usual = next((text for text, _ in Counter(found.values()).most_common(1)), "")
    other = {b: text for b, text in found.items() if text != usual}
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
        bench=case.tested.setup(case.bundle).bundle.bench,
        estimate=figure.estimate,
        terms=mount_term(spreads.terms[case.bundle], len(mounted(case, kind).values)),
        shared=shared_lines(case, figure.budget),
        definition=figure.definition,
        bound=figure.bound,
    )


def judge(group: Group, kind: str, basis: Basis, members: Sequence[Member]) -> Family:
    """Return members in order, best first, with all pairs judged by Holm's step-down at 5 % for the family."""
    sign = -1.0 if FIGURES[kind].better == "higher" else 1.0
    ordered = sorted(members, key=lambda m: (sign * m.estimate.value, m.bundle))
    judgeable = [m for m in ordered if m.terms is not None and m.bound is Bound.NONE]
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
    if member.bound is not Bound.NONE:
        article = "an" if member.bound is Bound.UPPER else "a"
        return f"{article} {member.bound} bound: differences are not judged"
    return SPREAD_UNKNOWN if member.terms is None else "includes the room's temperature: differences are not judged"
