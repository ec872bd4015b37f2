"""The order of results on one card sample at one test point, with ties as letters and what is left out."""

from __future__ import annotations

from dataclasses import dataclass

from builder.compare.families import Basis, Family, LeftOut, measured_family, why_unjudged
from builder.compare.members import Member
from builder.compare.reference import reference_family
from builder.compare.tested import Group, Tested
from builder.quantity import Estimate


@dataclass(frozen=True, kw_only=True)
class RankRow:
    """One result in order: its figure, its letters (none where differences are not judged, `note` says why).

    `behind` is the difference from the first row with its own uncertainty, None for the first and where not judged.
    """

    bundle: str
    estimate: Estimate
    letters: tuple[str, ...]
    behind: Estimate | None = None
    note: str = ""


@dataclass(frozen=True, kw_only=True)
class Ranking:
    """Results in order, best first; rows that share a letter could not be told apart."""

    group: Group
    kind: str
    basis: Basis
    rows: tuple[RankRow, ...]
    left_out: tuple[LeftOut, ...]
    notes: tuple[str, ...]


def ranking(tested: Tested, group: Group, kind: str, basis: Basis = Basis.MEASURED) -> Ranking:
    """Return the order of a group's results by one kind of figure, with ties and what is left out.

    Raises KeyError for an unknown kind, ValueError for one that has no value at reference conditions where those are
    asked for.
    """
    found = family(tested, group, kind, basis)
    return Ranking(
        group=group,
        kind=kind,
        basis=basis,
        rows=tuple(_row(found, member) for member in found.members),
        left_out=found.left_out,
        notes=found.notes,
    )


def family(tested: Tested, group: Group, kind: str, basis: Basis) -> Family:
    """Return a group's results for one kind of figure, judged together on one basis."""
    return measured_family(tested, group, kind) if basis is Basis.MEASURED else reference_family(tested, group, kind)


def _row(found: Family, member: Member) -> RankRow:
    first = found.members[0].bundle
    judged = found.pairs.get((first, member.bundle))
    notes = (member.note, why_unjudged(found, member))
    return RankRow(
        bundle=member.bundle,
        estimate=member.estimate,
        letters=found.letters.get(member.bundle, ()),
        behind=judged.difference.estimate.scaled(-1, judged.difference.estimate.unit) if judged else None,
        note="; ".join(note for note in notes if note),
    )
