"""Two results side by side: whether they compare, and the difference of every figure with its verdict."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TypeAlias

from builder.compare.members import watts_of
from builder.compare.reasons import Reason, other_card, run_reasons
from builder.compare.reference import load_points
from builder.compare.tested import Group, Tested, group_of
from builder.quantity import format_number


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
    groups = (group_of(tested, a.bundle, a.point), group_of(tested, b.bundle, b.point))
    reasons = _obstacles(tested, a, b)
    if reasons:
        return NotComparable(reasons=reasons)
    if groups[0] == groups[1]:
        return Direct(group=groups[0])
    return _by_psi(tested, a, b)


def _obstacles(tested: Tested, a: PointOf, b: PointOf) -> tuple[Reason, ...]:
    if a.bundle == b.bundle:
        text = "They belong to one result; its own page gives the change from stock."
        return (Reason(code="same-result", text=text),)
    apart = other_card(tested, a.bundle, b.bundle)
    runs = (*run_reasons(tested, a.bundle, a.point), *run_reasons(tested, b.bundle, b.point))
    return (apart, *runs) if apart else runs


def _by_psi(tested: Tested, a: PointOf, b: PointOf) -> ByPsi | NotComparable:
    why = _other_point(tested, a, b)
    powers = [watts_of(result) for x in (a, b) if (result := tested.point(x.bundle, x.point))]
    ranges = [power_range(tested, x.bundle) for x in (a, b)]
    if None in powers or None in ranges:
        text = "Their board power is not known, so Ψ cannot be compared either."
        return NotComparable(reasons=(why, Reason(code="no-power", text=text)))
    watts = sum(p for p in powers if p) / len(powers)
    if not all(r.low <= watts <= r.high for r in ranges if r):
        return NotComparable(reasons=(why, _outside(watts, [r for r in ranges if r])))
    return ByPsi(watts=watts, reasons=(why,))


def power_range(tested: Tested, bundle: str) -> PowerRange | None:
    """Return the range of board power over which a bundle was tested, or None without settled points under load."""
    watts = [watts_of(result) or 0.0 for result in load_points(tested, bundle)]
    return PowerRange(low=min(watts), high=max(watts)) if watts else None


def _other_point(tested: Tested, a: PointOf, b: PointOf) -> Reason:
    names = [
        f"{setting.name} by {tested.protocol(x.bundle).name}"
        for x in (a, b)
        if (setting := tested.setting(x.bundle, x.point))
    ]
    return Reason(code="other-point", text=f"Their test points are not declared equivalent: {' and '.join(names)}.")


def _outside(watts: float, ranges: list[PowerRange]) -> Reason:
    shown = " and ".join(f"{format_number(r.low, 0)} to {format_number(r.high, 0)} W" for r in ranges)
    text = f"Half-way between their board powers, at {format_number(watts, 0)} W, not both were tested ({shown})."
    return Reason(code="outside-power", text=text)
