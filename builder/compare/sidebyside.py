"""Two results figure by figure: differences, intervals and verdicts, the same that the rankings use."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace
from enum import StrEnum

from builder.compare.differences import Difference, difference
from builder.compare.families import LEVEL, Basis, Family, Judged, group_spreads, why_unjudged
from builder.compare.members import Case, Member
from builder.compare.pairs import ByPsi, Comparability, Direct, PointOf, comparability
from builder.compare.rankings import family
from builder.compare.reasons import SPREAD_UNKNOWN, Reason
from builder.compare.reference import REFERENCE_KINDS, converted, rise_at
from builder.compare.tested import Group, Tested, group_of
from builder.compare.wording import told_apart, too_close
from builder.figures import FIGURES
from builder.quantity import Estimate

_LOOP_KINDS = {
    "coolant_in_temperature",
    "coolant_out_temperature",
    "core_over_coolant",
    "coolant_rise",
    "coolant_heat",
    "coolant_heat_share",
    "flow_rate",
    "pump_speed",
}


class Standing(StrEnum):
    """What is said of a pair."""

    A_BETTER = "a is better"
    B_BETTER = "b is better"
    DIFFERENT = "different"  # where neither direction is better
    TOO_CLOSE = "too close to call"
    NOT_JUDGED = "not judged"


@dataclass(frozen=True, kw_only=True)
class VersusRow:
    """One kind of figure of two results; `difference` is a less b, None where it is not judged."""

    kind: str
    a: Estimate | None
    b: Estimate | None
    difference: Estimate | None
    standing: Standing
    text: str
    adjusted_p: float | None = None


@dataclass(frozen=True, kw_only=True)
class HeadToHead:
    """Two results side by side; without rows where they do not compare."""

    a: PointOf
    b: PointOf
    basis: Basis
    comparability: Comparability
    rows: tuple[VersusRow, ...]


def head_to_head(tested: Tested, a: PointOf, b: PointOf, basis: Basis = Basis.MEASURED) -> HeadToHead:
    """Return every figure that two results have, with difference, interval and verdict, or why they do not compare.

    A direct pair has the verdict that it has among all results of its card sample, test point and figure. A pair that
    compares by Ψ only is judged by itself, whatever the basis. Raises KeyError for an unknown bundle or test point.
    """
    how = comparability(tested, a, b)
    rows: Iterator[VersusRow] = iter(())
    if isinstance(how, Direct):
        rows = _direct(tested, how.group, a.bundle, b.bundle, basis)
    elif isinstance(how, ByPsi):
        rows = _by_psi(tested, a, b, how.watts)
    return HeadToHead(a=a, b=b, basis=basis, comparability=how, rows=tuple(rows))


def _direct(tested: Tested, group: Group, a: str, b: str, basis: Basis) -> Iterator[VersusRow]:
    for kind in FIGURES if basis is Basis.MEASURED else REFERENCE_KINDS:
        found = family(tested, group, kind, basis)
        first, second = found.member(a), found.member(b)
        if first and second:
            yield _row(tested, found, first, second)
        elif (first or second) and not _needs_loop(tested, kind, b if first else a):
            yield _one_sided(found, first, second, b if first else a)


def _needs_loop(tested: Tested, kind: str, missing: str) -> bool:
    """Tell a figure that a cooler without a loop cannot have from one that was not measured."""
    return kind in _LOOP_KINDS and not tested.cooler(missing).kind.liquid


def _one_sided(found: Family, first: Member | None, second: Member | None, missing: str) -> VersusRow:
    reasons = next((x.reasons for x in found.left_out if x.bundle == missing), ())
    return VersusRow(
        kind=found.kind,
        a=first.estimate if first else None,
        b=second.estimate if second else None,
        difference=None,
        standing=Standing.NOT_JUDGED,
        text=" ".join(reason.text for reason in reasons),
    )


def _row(tested: Tested, found: Family, first: Member, second: Member) -> VersusRow:
    direct = found.pairs.get((first.bundle, second.bundle))
    swapped = found.pairs.get((second.bundle, first.bundle))
    judged = direct or (_turned(swapped) if swapped else None)
    if judged is None:
        why = [why_unjudged(found, member) for member in (first, second)]
        # The same whichever stands first, also where each has a reason of its own.
        return _unjudged(found.kind, first, second, min(filter(None, why), default=""))
    return _said(tested, found.kind, (first, second), judged, len(found.pairs))


def _turned(judged: Judged) -> Judged:
    """Return the same pair the other way round."""
    old = judged.difference
    estimate = old.estimate.scaled(-1, old.estimate.unit)
    return replace(judged, difference=replace(old, a=old.b, b=old.a, estimate=estimate))


def _unjudged(kind: str, first: Member, second: Member, why: str) -> VersusRow:
    text = f"{why[:1].upper()}{why[1:]}."
    return VersusRow(
        kind=kind, a=first.estimate, b=second.estimate, difference=None, standing=Standing.NOT_JUDGED, text=text
    )


def _said(tested: Tested, kind: str, members: tuple[Member, Member], judged: Judged, pairs: int) -> VersusRow:
    first, second = members
    estimate = judged.difference.estimate
    names = (tested.label(first.bundle), tested.label(second.bundle))
    return VersusRow(
        kind=kind,
        a=first.estimate,
        b=second.estimate,
        difference=estimate,
        standing=_standing(kind, estimate.value) if judged.separable else Standing.TOO_CLOSE,
        text=told_apart(kind, estimate, *names) if judged.separable else too_close(estimate, pairs),
        adjusted_p=judged.adjusted_p,
    )


def _standing(kind: str, value: float) -> Standing:
    better = FIGURES[kind].better
    if not better:
        return Standing.DIFFERENT
    return Standing.A_BETTER if (value < 0) == (better == "lower") else Standing.B_BETTER


def _by_psi(tested: Tested, a: PointOf, b: PointOf, watts: float) -> Iterator[VersusRow]:
    for kind in (k for k in REFERENCE_KINDS if k.endswith("_psi")):
        first, second = (_psi_member(tested, x, kind, watts) for x in (a, b))
        if isinstance(first, Member) and isinstance(second, Member):
            found = difference(first, second)
            yield _psi_row(tested, kind, first, second, found)


def _psi_row(tested: Tested, kind: str, first: Member, second: Member, found: Difference | None) -> VersusRow:
    if found is None:
        return _unjudged(kind, first, second, SPREAD_UNKNOWN)
    judged = Judged(difference=found, adjusted_p=found.p, separable=found.p <= LEVEL)
    return _said(tested, kind, (first, second), judged, 1)


def _psi_member(tested: Tested, at: PointOf, kind: str, watts: float) -> Member | None:
    result = tested.point(at.bundle, at.point)
    rise = REFERENCE_KINDS[kind]
    if result is None or rise not in result.figures:
        return None
    found = rise_at(tested, at.bundle, rise, watts)
    if isinstance(found, Reason):
        return None
    spreads = group_spreads(tested, group_of(tested, at.bundle, at.point), rise)
    return converted(Case(tested=tested, bundle=at.bundle, result=result), kind, spreads, found)
