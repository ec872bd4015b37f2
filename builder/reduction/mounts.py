"""Several mounts of one cooler: the mean figure, with the spread from mount to mount."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace

import numpy as np

from builder.archive.catalogue import CoolerKind
from builder.archive.protocol import Protocol
from builder.core.quantity import Estimate
from builder.core.results import FIGURES, SENSORS, Bound, Component, Figure, Quantity, Role
from builder.reduction.pooled_spreads import Pool
from builder.uncertainty import estimate_from_budget

# The protocol's declared spread weighs as much as a spread estimated with this many degrees of freedom.
DECLARED_DOF = 10.0
FEW_DOF = 5.0  # a spread of fewer is no more than luck until a test says otherwise. Common practice, no source
_LEVEL = 0.05
_MOST_DOF = 1e6


def over_mounts(figures: Sequence[Figure], declared: float | None, pool: Pool | None = None) -> Figure:
    """Return the mean figure over mounts, with the mounting spread as a line of its budget.

    The spread is the archive's `pool`, or without one that of these mounts; a declared one is pooled with it and never
    vanishes because an estimate came out small. A pool has its line in a single mount too, so that more mounts never
    look worse than one. A measured spread of few degrees of freedom is taken only where it is beyond what the runs' own
    uncertainty explains. What instruments add, their rounding included, is the same in every mount and is not averaged away.
    `figures` holds one figure a mount, all of one kind; `declared` and `pool` are in their unit; raises ValueError when empty.
    """
    if not figures:
        raise ValueError("no mounts to average")
    first, n = figures[0], len(figures)
    values = [f.estimate.value for f in figures]
    spread = None if FIGURES[first.kind].of_room else spread_of(values, declared, pool)
    own = _typical([_with(f, Role.OWN) for f in figures])
    budget = (
        *_own_lines(figures, own),
        *_spread_lines(spread, _typical([run_part(f) for f in figures]), n),
        *_common_lines(figures),
    )
    return Figure(
        kind=first.kind,
        estimate=estimate_from_budget(float(np.mean(values)), first.estimate.unit, budget),
        samples=sum(f.samples for f in figures),
        budget=budget,
        definition=first.definition,
        note=first.note,
        bound=next((f.bound for f in figures if f.bound is not Bound.NONE), Bound.NONE),
    )


def _own_lines(figures: Sequence[Figure], own: Estimate) -> list[Component]:
    n = len(figures)
    if n == 1 and figures[0].budget:
        return [c for c in figures[0].budget if c.role is Role.OWN]
    return [Component(name="within a run", kind="A", u=own.u / math.sqrt(n), unit=own.unit, dof=own.dof)]


def _typical(parts: Sequence[Estimate]) -> Estimate:
    """Return one mount's usual uncertainty, with the degrees of freedom of all of them."""
    u = math.sqrt(float(np.mean([p.u**2 for p in parts])))
    return Estimate(value=0.0, u=u, unit=parts[0].unit, dof=min(p.dof for p in parts) * len(parts))


def _common_lines(figures: Sequence[Figure]) -> Iterator[Component]:
    """Yield what every mount has alike: each instrument's mean error, and its rounding as large as in one mount."""
    found: dict[tuple[Quantity | None, Role, str], list[Component]] = {}
    for line in (c for f in figures for c in f.budget if c.of_instrument or c.role is Role.STEP):
        found.setdefault((line.sensor, line.role, line.name if line.role is Role.STEP else ""), []).append(line)
    for lines in found.values():
        first, n = lines[0], len(figures)
        if first.role is Role.STEP:
            size = math.sqrt(math.fsum(c.contribution**2 for c in lines) / n)
        else:
            size = abs(math.fsum(c.sensitivity * c.u for c in lines)) / n
        yield replace(first, u=size / abs(first.sensitivity) if first.sensitivity else 0.0)


def own_part(figure: Figure) -> Estimate:
    """Return the figure without what instruments add to all runs on one bench alike, so that it cancels."""
    return _with(figure, Role.OWN, Role.MOUNT, Role.STEP)


def run_part(figure: Figure) -> Estimate:
    """Return the figure with the uncertainty of its runs alone: neither the instruments nor the mounts."""
    return _with(figure, Role.OWN, Role.STEP)


def _with(figure: Figure, *roles: Role) -> Estimate:
    if not figure.budget:
        return figure.estimate
    lines = [c for c in figure.budget if c.role in roles]
    return estimate_from_budget(figure.estimate.value, figure.estimate.unit, lines)


# --- The spread from mount to mount


@dataclass(frozen=True, kw_only=True)
class MountSpread:
    """Standard deviation from mount to mount in a figure's unit, its degrees of freedom, and where it came from."""

    sd: float
    dof: float
    measured: bool
    declared: bool
    pooled: bool = False

    @property
    def source(self) -> str:
        """Return where it came from in words."""
        if self.pooled:
            return "pooled over the archive and with the protocol's" if self.declared else "pooled over the archive"
        if self.measured:
            return "measured, pooled with the protocol's" if self.declared else "measured"
        return "declared by the protocol"


def spread_of(values: Sequence[float], declared: float | None, pool: Pool | None = None) -> MountSpread | None:
    """Return the spread of a figure over mounts, or None for one mount with no declared spread and no pool.

    Measured and declared variances are pooled by their degrees of freedom, the declared one counting as ten. What the
    archive measured stands for what these mounts did, which are part of it.
    """
    dof = pool.dof if pool else float(max(len(values) - 1, 0))
    measured = pool.variance if pool else float(np.var(values, ddof=1)) if dof else 0.0
    known = {"measured": bool(dof), "declared": declared is not None, "pooled": pool is not None}
    if declared is None:
        return MountSpread(sd=math.sqrt(measured), dof=dof, **known) if dof else None
    variance = (DECLARED_DOF * declared**2 + dof * measured) / (DECLARED_DOF + dof)
    return MountSpread(sd=math.sqrt(variance), dof=DECLARED_DOF + dof, **known)


def beyond_chance(sd: float, dof: float, own_u: float, own_dof: float) -> bool:
    """Return whether values scatter more than their own uncertainty explains, by an F test at 5 %.

    One degree of freedom multiplies an interval by 12.7, so a spread that chance explains is not taken for one; a
    negative variance component counts as zero. Source: Searle, Casella and McCulloch 1992, Variance Components,
    section 3.5 (value from memory).
    """
    if sd <= own_u:
        return False
    if own_u == 0:
        return True
    from scipy import special

    return bool(special.fdtr(dof, min(own_dof, _MOST_DOF), (sd / own_u) ** 2) > 1 - _LEVEL)


def _spread_lines(spread: MountSpread | None, own: Estimate, n: int) -> list[Component]:
    """Return the part of the mean's variance that the runs' own uncertainty does not already explain."""
    if spread is None:
        return []
    variance = spread.sd**2
    if not spread.declared:
        shown = spread.dof >= FEW_DOF or beyond_chance(spread.sd, spread.dof, own.u, own.dof)
        variance = variance - own.u**2 if shown else 0.0
    if variance <= 0:
        return []
    return [
        Component(
            name=f"mounting spread, {spread.source}",
            kind="A" if spread.measured else "B",
            u=math.sqrt(variance / n),
            unit=own.unit,
            dof=spread.dof,
            role=Role.MOUNT,
        )
    ]


def declared_spread(protocol: Protocol, cooler: CoolerKind, kind: str, watts: float | None) -> float | None:
    """Return the declared standard deviation from mount to mount in the figure's unit; None where none is declared.

    A protocol declares it in K for the card's temperatures and their differences; `watts` is the board power, which
    turns it into K/W.
    """
    spread = protocol.mount_spread_k
    kelvins = spread.liquid if cooler.liquid else spread.air
    if kelvins is None or any(kind in (s.temperature, s.rise, s.from_idle) for s in SENSORS):
        return kelvins
    return kelvins / watts if watts and watts > 0 and any(kind == s.psi for s in SENSORS) else None
