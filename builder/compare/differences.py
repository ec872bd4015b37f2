"""The difference of two results with its uncertainty: what both share cancels, each one's mounts do not."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from builder.compare.members import Member, SharedLine, Term
from builder.figures import Component
from builder.quantity import Estimate
from builder.uncertainty import estimate_from_budget


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
    lines_a, lines_b = ({line.name: line for line in m.shared} for m in (a, b))
    for name in sorted({*lines_a, *lines_b}):
        u = _left(lines_a.get(name), lines_b.get(name), same=a.bench == b.bench)
        if u > 0:
            yield Component(name=f"{name}, what does not cancel", kind="B", u=u, unit=unit, dof=math.inf)


def _left(a: SharedLine | None, b: SharedLine | None, *, same: bool) -> float:
    one = a or SharedLine(name="", offset=0.0, gain=0.0)
    two = b or SharedLine(name="", offset=0.0, gain=0.0)
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
