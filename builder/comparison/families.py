"""All results of one card sample, test point and figure: each pair's own verdict, and an order of the coolers.

A pair that somebody asks for is one comparison, judged at 95 % whatever else the archive holds. An order makes many
comparisons at once, so its ties are adjusted for them, with one entry for each cooler: its tests are pooled.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from enum import StrEnum

from builder.archive.catalogue import CoolerKind, Setup
from builder.comparison.members import (
    Case,
    Difference,
    Member,
    difference,
    mount_term,
    mounted,
    pooled,
    shared_lines,
)
from builder.comparison.mount_spreads import Spreads, mount_spreads
from builder.comparison.reasons import (
    SPREAD_UNKNOWN,
    Reason,
    bundle_reasons,
    no_figure,
    other_definition,
    other_loop,
)
from builder.comparison.tested import Group, Tested
from builder.core.results import FIGURES, Bound
from builder.uncertainty import holm

LEVEL = 0.05  # the error that is accepted, of one pair or of a whole order, so that both speak of 95 %
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
    """Two coolers of an order: their difference, its p value adjusted by Holm, and whether it tells them apart."""

    difference: Difference
    adjusted_p: float
    separable: bool


@dataclass(frozen=True, kw_only=True, eq=False)
class Family:
    """Results that compare: `tests` one by one, `members` as coolers, best first, with the tests of each pooled.

    `pairs` holds the order's pairs by (better, worse) bundle of the members, `letters` its ties by member.
    """

    group: Group
    kind: str
    basis: Basis
    tests: Mapping[str, Member]
    members: tuple[Member, ...]
    pooled_from: Mapping[str, tuple[str, ...]]
    pairs: Mapping[tuple[str, str], Judged]
    letters: Mapping[str, tuple[str, ...]]
    left_out: tuple[LeftOut, ...] = ()
    notes: tuple[str, ...] = ()

    def tests_of(self, bundle: str) -> tuple[str, ...]:
        """Return the bundles that are pooled in the member of this name."""
        return self.pooled_from[bundle]


def measured_family(tested: Tested, group: Group, kind: str) -> Family:
    """Return a group's results for one kind of figure as measured, judged together.

    Raises KeyError for an unknown kind of figure.
    """
    found = eligible(tested, group, kind)
    members = [_member(case, kind, found.spreads) for case in found.cases]
    notes = (*found.spreads.notes, *([ROOM_NOTE] if FIGURES[kind].unit == "degC" else []))
    return judge(tested, group, kind, Basis.MEASURED, members, left_out=found.left_out, notes=notes)


@dataclass(frozen=True, kw_only=True, eq=False)
class Eligible:
    """The results that compare directly for a figure, those on the card that do not, and the mounting spreads."""

    cases: tuple[Case, ...]
    left_out: tuple[LeftOut, ...]
    spreads: Spreads


def eligible(tested: Tested, group: Group, kind: str) -> Eligible:
    """Return which results of a group compare directly for a figure, by bundle, and how they spread over mounts."""
    cases: list[Case] = []
    left_out: list[LeftOut] = []
    for setup in (tested.setup(bundle) for bundle in sorted(tested.results)):
        if setup.bundle.card != group.card:
            continue
        result = tested.point(setup.id, group.point_of(setup.bundle) or "")
        reasons = bundle_reasons(tested, group, setup.id)
        if not reasons and result and kind in result.figures:
            cases.append(Case(setup=setup, result=result))
        else:
            left_out.append(LeftOut(bundle=setup.id, reasons=reasons or (no_figure(tested, setup.id, kind),)))
    # Figures that are defined in two ways do not compare: the definition that most results use is kept, and of two
    # that are equally frequent, the first bundle's.
    definitions = [case.result.figures[kind].definition for case in cases]
    usual = next((text for text, _ in Counter(definitions).most_common(1)), "")
    kept = tuple(case for case, text in zip(cases, definitions, strict=True) if text == usual)
    left_out += [
        LeftOut(bundle=case.bundle, reasons=(other_definition(tested, case.bundle, kind, text),))
        for case, text in zip(cases, definitions, strict=True)
        if text != usual
    ]
    return Eligible(
        cases=kept,
        left_out=tuple(sorted(left_out, key=lambda x: x.bundle)),
        spreads=mount_spreads([mounted(case, kind, tested.spreads) for case in kept]),
    )


def _member(case: Case, kind: str, spreads: Spreads) -> Member:
    figure, count = case.result.figures[kind], len(mounted(case, kind).values)
    return Member(
        bundle=case.bundle,
        estimate=figure.estimate,
        terms=mount_term(spreads.terms[case.bundle], count),
        shared=shared_lines(case, figure.budget),
        definition=figure.definition,
        bound=figure.bound,
        mounts=count,
    )


def judge(  # noqa: PLR0913 - what is judged, and what is known of it
    tested: Tested,
    group: Group,
    kind: str,
    basis: Basis,
    members: Sequence[Member],
    *,
    left_out: Sequence[LeftOut],
    notes: tuple[str, ...],
) -> Family:
    """Return results with their coolers in order, best first, all pairs judged by Holm's step-down at 5 %."""
    sign = -1.0 if FIGURES[kind].better == "higher" else 1.0
    by_cooler: dict[str, list[Member]] = {}
    other_loops = _in_other_loops(tested, kind, members)
    apart_by_loop = [LeftOut(bundle=bundle, reasons=(reason,)) for bundle, reason in other_loops.items()]
    in_order = [member for member in members if member.bundle not in other_loops]
    for member in sorted(in_order, key=lambda m: (tested.setup(m.bundle).bundle.tested, m.bundle)):
        by_cooler.setdefault(tested.setup(member.bundle).bundle.cooler, []).append(member)
    coolers = [pooled(tests) for tests in by_cooler.values()]
    ordered = sorted(coolers, key=lambda m: (sign * m.estimate.value, m.bundle))
    judgeable = [m for m in ordered if not why_unjudged(kind, basis, m)]
    pairs = _judged(judgeable)
    index = {m.bundle: i for i, m in enumerate(judgeable)}
    apart = frozenset((index[a], index[b]) for (a, b), judged in pairs.items() if judged.separable)
    return Family(
        group=group,
        kind=kind,
        basis=basis,
        tests={member.bundle: member for member in members},
        members=tuple(ordered),
        pooled_from={tests[-1].bundle: tuple(test.bundle for test in tests) for tests in by_cooler.values()},
        pairs=pairs,
        letters=dict(zip(index, tie_letters(len(judgeable), apart), strict=True)),
        left_out=tuple(sorted((*left_out, *apart_by_loop), key=lambda x: x.bundle)),
        notes=notes,
    )


def _in_other_loops(tested: Tested, kind: str, members: Sequence[Member]) -> Mapping[str, Reason]:
    """Return the water blocks that an order over the room cannot hold, with why: it holds those of one declared loop.

    The loop that most tests share is kept. A single block without a declared loop has nobody to differ from.
    """
    setups = [tested.setup(member.bundle) for member in members]
    blocks = [setup for setup in setups if setup.cooler.kind is CoolerKind.WATER_BLOCK]
    declared = any(setup.bench.loop for setup in blocks)
    alone = not declared and len({setup.bundle.cooler for setup in blocks}) == 1
    if not blocks or not FIGURES[kind].over_room or alone:
        return {}
    usual = max(blocks, key=lambda one: sum(compare_over_room(one, other) for other in blocks))
    odd = [setup for setup in blocks if not compare_over_room(setup, usual)]
    return {setup.id: other_loop(tested.label(setup.id), setup.bench.loop) for setup in odd}


def compare_over_room(a: Setup, b: Setup) -> bool:
    """Whether the loops of two results let them be compared over the room: two water blocks share one declared loop."""
    if any(setup.cooler.kind is not CoolerKind.WATER_BLOCK for setup in (a, b)):
        return True
    return a.bench.loop is not None and a.bench.loop == b.bench.loop


def _judged(members: Sequence[Member]) -> Mapping[tuple[str, str], Judged]:
    found = [difference(a, b) for i, a in enumerate(members) for b in members[i + 1 :]]
    known = [d for d in found if d]
    adjusted = holm([d.p for d in known])
    return {
        (d.a, d.b): Judged(difference=d, adjusted_p=p, separable=p <= LEVEL)
        for d, p in zip(known, adjusted, strict=True)
    }


def why_unjudged(kind: str, basis: Basis, member: Member) -> str:
    """Return why a member's differences are not judged, or an empty text where they are."""
    if FIGURES[kind].setting:
        return "a setting of the card or the bench: shown, not judged"
    if member.bound is not Bound.NONE:
        article = "an" if member.bound is Bound.UPPER else "a"
        return f"{article} {member.bound} bound: differences are not judged"
    if FIGURES[kind].unit == "degC" and basis is Basis.MEASURED:
        return "includes the room's temperature: differences are not judged"
    return SPREAD_UNKNOWN if member.terms is None else ""


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
