"""What more mounts would tell: how often both coolers of a pair must be mounted again until they come apart."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

from builder.comparison.members import Member, Term, difference
from builder.core.words import count
from builder.uncertainty import difference_told

MOST = 8  # more mounts of each than anybody will make


@dataclass(frozen=True, kw_only=True)
class MoreMounts:
    """So many more mounts of each of two coolers tell a difference of `told`, in the figure's unit, with 80 % power.

    `enough` says whether that is as small as the difference that was found; else `mounts` is the most that is asked of
    anybody.
    """

    mounts: int
    told: float
    enough: bool

    @property
    def said(self) -> str:
        """Return it as a sentence about the difference that was found."""
        if self.enough:
            return f"{count(self.mounts, 'more mount')} of each would tell a difference of this size."
        return f"Even {count(self.mounts, 'more mount')} of each would not tell a difference of this size."


def more_mounts(a: Member, b: Member) -> MoreMounts | None:
    """Return how many more mounts of each would tell the difference of two results that is too close to call.

    What mounts add shrinks with their number and gains degrees of freedom; what instruments leave stays. None where
    the mounting spread of either is unknown, or the two are equal.
    """
    found = difference(a, b)
    if found is None or found.estimate.value == 0:
        return None
    told = math.inf
    for more in range(1, MOST + 1):
        again = difference(_mounted_again(a, more), _mounted_again(b, more))
        if again is None or again.estimate.u == 0:
            return None
        told = difference_told(again.estimate.u, max(again.estimate.dof, 1.0))
        if told <= abs(found.estimate.value):
            return MoreMounts(mounts=more, told=told, enough=True)
    return MoreMounts(mounts=MOST, told=told, enough=False)


def _mounted_again(member: Member, more: int) -> Member:
    terms = tuple(_of_more(term, member.mounts, more) for term in member.terms or ())
    return replace(member, terms=terms, mounts=member.mounts + more)


def _of_more(term: Term, mounts: int, more: int) -> Term:
    """Return a mean's own term after more mounts; each adds a degree of freedom to the pool it is of."""
    return replace(term, u=term.u * math.sqrt(mounts / (mounts + more)), dof=term.dof + more)
