"""Two results figure by figure: differences, intervals and verdicts, the same that the rankings use."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace
from enum import StrEnum
from typing import TypeAlias

from builder.comparison.families import LEVEL, Basis, Family, compare_over_room, eligible, why_unjudged
from builder.comparison.members import Case, Difference, Member, difference, watts_of
from builder.comparison.more_mounts import MoreMounts, more_mounts
from builder.comparison.rankings import REFERENCE_KINDS, converted, family, load_points, rise_at
from builder.comparison.reasons import SPREAD_UNKNOWN, Reason, other_card, run_reasons
from builder.comparison.tested import Group, Tested, group_of
from builder.core.quantity import Estimate, format_estimate, format_number
from builder.core.results import FIGURES, SENSORS, Bound


@dataclass(frozen=True, kw_only=True, order=True)
class PointOf:
    """A test point of a bundle."""

    bundle: str
    point: str


@dataclass(frozen=True, kw_only=True)
class Direct:
    """Two results compare directly: same card sample, same or equivalent test point, settled, room in the band."""

    group: Group


@dataclass(frozen=True, kw_only=True)
class ByPsi:
    """Two results compare by Ψ only, at a board power in W inside both tested ranges; `reasons` say why."""

    watts: float
    reasons: tuple[Reason, ...]


@dataclass(frozen=True, kw_only=True)
class NotComparable:
    """Two results do not compare, and why."""

    reasons: tuple[Reason, ...]


Comparability: TypeAlias = Direct | ByPsi | NotComparable


@dataclass(frozen=True, kw_only=True)
class PowerRange:
    """Lowest and highest board power in W at which a bundle was tested under load and settled."""

    low: float
    high: float


def comparability(tested: Tested, a: PointOf, b: PointOf) -> Comparability:
    """Return how two results compare; the answer is the same with both swapped, save for the order of reasons.

    Raises KeyError for a bundle or test point that does not exist.
    """
    group, other = (group_of(tested, x.bundle, x.point) for x in (a, b))
    if a.bundle == b.bundle:
        text = "They belong to one result; its own page gives the change from stock."
        return NotComparable(reasons=(Reason(code="same-result", text=text),))
    apart = other_card(tested, a.bundle, b.bundle)
    runs = (*run_reasons(tested, a.bundle, a.point), *run_reasons(tested, b.bundle, b.point))
    reasons = (apart, *runs) if apart else runs
    if reasons:
        return NotComparable(reasons=reasons)
    return Direct(group=group) if group == other else _comparable_by_psi(tested, a, b)


def _comparable_by_psi(tested: Tested, a: PointOf, b: PointOf) -> ByPsi | NotComparable:
    names = [
        f"{declared.name} by {setup.protocol.name}"
        for setup, point in ((tested.setup(x.bundle), x.point) for x in (a, b))
        if (declared := setup.protocol.point(point))
    ]
    text = f"Their test points are not declared equivalent: {' and '.join(names)}."
    why = Reason(code="other-point", text=text)
    powers = [watts_of(result) for x in (a, b) if (result := tested.point(x.bundle, x.point))]
    ranges = [power_range(tested, x.bundle) for x in (a, b)]
    if None in powers or None in ranges:
        text = "Their board power is not known, so Ψ cannot be compared either."
        return NotComparable(reasons=(why, Reason(code="no-power", text=text)))
    watts = sum(p for p in powers if p) / len(powers)
    known = [r for r in ranges if r]
    if all(r.low <= watts <= r.high for r in known):
        return ByPsi(watts=watts, reasons=(why,))
    shown = " and ".join(f"{format_number(r.low, 0)} to {format_number(r.high, 0)} W" for r in known)
    text = f"Half-way between their board powers, at {format_number(watts, 0)} W, not both were tested ({shown})."
    return NotComparable(reasons=(why, Reason(code="outside-power", text=text)))


def power_range(tested: Tested, bundle: str) -> PowerRange | None:
    """Return the range of board power over which a bundle was tested, or None without settled points under load."""
    watts = [load.watts for load in load_points(tested, bundle)]
    return PowerRange(low=min(watts), high=max(watts)) if watts else None


# --- The figures of both, with the verdict on each difference

RISES = frozenset(s.rise for s in SENSORS)  # of what mounts make of a pair, these are what is asked for


class Standing(StrEnum):
    """What is said of a pair."""

    A_BETTER = "a is better"
    B_BETTER = "b is better"
    DIFFERENT = "different"  # where neither direction is better
    TOO_CLOSE = "too close to call"
    NOT_JUDGED = "not judged"


@dataclass(frozen=True, kw_only=True)
class VersusRow:
    """One kind of figure of two results; `difference` is a less b, None where it is not judged, as of a bound."""

    kind: str
    a: Estimate | None
    b: Estimate | None
    difference: Estimate | None
    standing: Standing
    text: str
    p: float | None = None
    more: MoreMounts | None = None  # of a pair that is too close to call
    a_bound: Bound = Bound.NONE
    b_bound: Bound = Bound.NONE


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

    Each pair is one comparison, judged at 95 % by itself: whatever else the archive holds changes no verdict. A
    pair that compares by Ψ only is judged there, whatever the basis. Raises KeyError for an unknown bundle or test
    point.
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
        first, second = found.tests.get(a), found.tests.get(b)
        if first and second:
            yield _row(tested, kind, basis, (first, second))
        elif first or second:
            missing = b if first else a
            # A cooler without a loop cannot have a loop's figures: nothing was left unmeasured.
            if not FIGURES[kind].of_loop or tested.setup(missing).cooler.kind.liquid:
                yield _one_sided(found, first, second, missing)


def _one_sided(found: Family, first: Member | None, second: Member | None, missing: str) -> VersusRow:
    reasons = next((x.reasons for x in found.left_out if x.bundle == missing), ())
    return VersusRow(
        kind=found.kind,
        a=first.estimate if first else None,
        b=second.estimate if second else None,
        a_bound=first.bound if first else Bound.NONE,
        b_bound=second.bound if second else Bound.NONE,
        difference=None,
        standing=Standing.NOT_JUDGED,
        text=" ".join(reason.text for reason in reasons),
    )


def _row(tested: Tested, kind: str, basis: Basis, members: tuple[Member, Member]) -> VersusRow:
    first, second = members
    why = [why_unjudged(kind, basis, member) for member in members]
    if FIGURES[kind].over_room and not compare_over_room(*(tested.setup(member.bundle) for member in members)):
        why.append("block and loop together, in loops that differ or are not declared: see core over coolant per watt")
    found = None if any(why) else difference(first, second)
    if found is None:
        # The same whichever stands first, also where each has a reason of its own.
        return _unjudged(kind, first, second, min(filter(None, why), default=SPREAD_UNKNOWN))
    return _said(tested, kind, members, found)


def _unjudged(kind: str, first: Member, second: Member, why: str) -> VersusRow:
    text = f"{why[:1].upper()}{why[1:]}."
    return VersusRow(
        kind=kind,
        a=first.estimate,
        b=second.estimate,
        a_bound=first.bound,
        b_bound=second.bound,
        difference=None,
        standing=Standing.NOT_JUDGED,
        text=text,
    )


def _said(tested: Tested, kind: str, members: tuple[Member, Member], found: Difference) -> VersusRow:
    first, second = members
    names = (tested.label(first.bundle), tested.label(second.bundle))
    apart = found.p <= LEVEL
    more = more_mounts(first, second) if not apart and kind in RISES else None
    return VersusRow(
        kind=kind,
        a=first.estimate,
        b=second.estimate,
        difference=found.estimate,
        standing=_standing(kind, found.estimate.value) if apart else Standing.TOO_CLOSE,
        text=told_apart(kind, found.estimate, *names) if apart else too_close(found.estimate, more=more),
        p=found.p,
        more=more,
    )


def _standing(kind: str, value: float) -> Standing:
    better = FIGURES[kind].better
    if not better:
        return Standing.DIFFERENT
    return Standing.A_BETTER if (value < 0) == (better == "lower") else Standing.B_BETTER


def _by_psi(tested: Tested, a: PointOf, b: PointOf, watts: float) -> Iterator[VersusRow]:
    for kind in (s.psi for s in SENSORS):
        first, second = (_psi_member(tested, x, kind, watts) for x in (a, b))
        if first and second:
            yield _row(tested, kind, Basis.REFERENCE, (first, second))


def _psi_member(tested: Tested, at: PointOf, kind: str, watts: float) -> Member | None:
    result = tested.point(at.bundle, at.point)
    rise = REFERENCE_KINDS[kind]
    if result is None or rise not in result.figures:
        return None
    case = Case(setup=tested.setup(at.bundle), result=result)
    found = rise_at(tested, case, rise, watts)
    if isinstance(found, Reason):
        return None
    spreads = eligible(tested, group_of(tested, at.bundle, at.point), rise).spreads
    return converted(case, kind, spreads, found)


# --- Verdicts on a difference as sentences

# What is said of a result whose figure is lower, and of one whose figure is higher.
_COOLER = ("cooler", "warmer")
_WORDS = {
    "K": _COOLER,
    "degC": _COOLER,
    "dBA": ("quieter", "louder"),
    "rpm": ("slower", "faster"),
    "1/s": ("slower", "faster"),
}
_BY_KIND = {"hotspot_gap": ("smaller", "larger")}


def told_apart(kind: str, difference: Estimate, a: str, b: str, size: str = "") -> str:
    """Return a sentence that names the better result first, or the higher one where neither is better.

    `size` stands in it for the size of the difference, which is written out where nothing is given.

    >>> told_apart("core_rise", Estimate(value=2.1, u=0.3, unit="K"), "A", "B").replace(chr(0xA0), " ")
    'B is 2.1 ± 0.6 K cooler than A.'
    """
    lower_first = FIGURES[kind].better == "lower"
    first_is_a = (difference.value < 0) == lower_first
    first, second = (a, b) if first_is_a else (b, a)
    word = direction_words(kind)[0 if lower_first else 1]
    return f"{first} is {size or _size(difference)} {word} than {second}."


def direction_words(kind: str) -> tuple[str, str]:
    """Return what is said of a result whose figure is lower, and of one whose figure is higher.

    >>> direction_words("sound_level")
    ('quieter', 'louder')
    """
    return _BY_KIND.get(kind) or _WORDS.get(FIGURES[kind].unit, ("lower", "higher"))


def too_close(difference: Estimate, size: str = "", *, more: MoreMounts | None = None) -> str:
    """Return what is said of a difference that could not be told from none; `size` as in `told_apart`.

    >>> too_close(Estimate(value=0.2, u=0.3, unit="K")).replace(chr(0xA0), " ")
    'Too close to call: 0.2 ± 0.6 K.'
    """
    said = f"Too close to call: {size or _size(difference)}."
    return f"{said} {more.said}" if more else said


def _size(difference: Estimate) -> str:
    return format_estimate(replace(difference, value=abs(difference.value)))
