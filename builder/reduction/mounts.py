"""Several mounts of one cooler: the mean figure, with the spread from mount to mount."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from builder.archive.catalogue import CoolerKind
from builder.archive.protocol import Protocol
from builder.core.quantity import Estimate
from builder.core.results import Component, Figure
from builder.settling import SHARED
from builder.uncertainty import estimate_from_budget

# The protocol's declared spread weighs as much as a spread estimated with this many degrees of freedom.
DECLARED_DOF = 10.0
MOUNT_COMPONENT = "mounting spread"
# The room is what it is on each day: its readings in several sessions do not repeat one value.
ROOM_KINDS = {"ambient_temperature", "coolant_in_temperature", "coolant_out_temperature"}
_LEVEL = 0.05
_MOST_DOF = 1e6


@dataclass(frozen=True, kw_only=True)
class MountSpread:
    """Standard deviation from mount to mount in a figure's unit, its degrees of freedom, and where it came from."""

    sd: float
    dof: float
    source: str


def is_common(component: Component) -> bool:
    """Return whether a budget line is shared by all runs on one bench and card, so that it cancels in differences."""
    return component.name in SHARED


def own_part(figure: Figure) -> Estimate:
    """Return the figure with only the run's own uncertainty: lines common to all runs left out."""
    if not figure.budget:
        return figure.estimate
    own = [c for c in figure.budget if not is_common(c)]
    return estimate_from_budget(figure.estimate.value, figure.estimate.unit, own)


def spread_of(values: Sequence[float], declared: float | None) -> MountSpread | None:
    """Return the spread of a figure over mounts, or None for one mount with no declared spread.

    Measured and declared variances are pooled by their degrees of freedom, the declared one counting as ten.
    """
    measured = float(np.var(values, ddof=1)) if len(values) > 1 else 0.0
    dof = float(len(values) - 1)
    if declared is None:
        return MountSpread(sd=math.sqrt(measured), dof=dof, source="measured") if dof else None
    pooled = (DECLARED_DOF * declared**2 + dof * measured) / (DECLARED_DOF + dof)
    source = "measured, pooled with the protocol's" if dof else "declared by the protocol"
    return MountSpread(sd=math.sqrt(pooled), dof=DECLARED_DOF + dof, source=source)


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


def over_mounts(figures: Sequence[Figure], declared: float | None) -> Figure:
    """Return the mean figure over mounts, with the mounting spread as a line of its budget.

    A declared spread is pooled with the measured one and never vanishes because an estimate came out small. Figures
    without one (frames, power, clocks) take the measured spread where it is beyond what their own uncertainty
    explains. Common lines (sensor accuracy) are kept whole. `figures` holds one figure a mount, all of
    one kind; raises ValueError when empty.
    """
    if not figures:
        raise ValueError("no mounts to average")
    values = [f.estimate.value for f in figures]
    spread = None if figures[0].kind in ROOM_KINDS else spread_of(values, declared)
    n = len(figures)
    own = _pooled_own(figures)
    budget = [*_own_lines(figures, own, n), *_spread_lines(spread, own, n, figures[0].estimate.unit)]
    budget += [c for c in figures[0].budget if is_common(c)]
    estimate = estimate_from_budget(float(np.mean(values)), figures[0].estimate.unit, budget)
    return Figure(
        kind=figures[0].kind,
        estimate=estimate,
        samples=sum(f.samples for f in figures),
        budget=tuple(budget),
        definition=figures[0].definition,
        note=figures[0].note,
    )


def _pooled_own(figures: Sequence[Figure]) -> Estimate:
    parts = [own_part(f) for f in figures]
    u = math.sqrt(float(np.mean([p.u**2 for p in parts])))
    return Estimate(value=0.0, u=u, unit=parts[0].unit, dof=min(p.dof for p in parts) * len(parts))


def _own_lines(figures: Sequence[Figure], own: Estimate, n: int) -> list[Component]:
    if n == 1 and figures[0].budget:
        return [c for c in figures[0].budget if not is_common(c)]
    return [Component(name="within a run", kind="A", u=own.u / math.sqrt(n), unit=own.unit, dof=own.dof)]


def _spread_lines(spread: MountSpread | None, own: Estimate, n: int, unit: str) -> list[Component]:
    """Return the part of the mean's variance that the runs' own uncertainty does not already explain."""
    if spread is None:
        return []
    measured_only = spread.source == "measured"
    if measured_only and not beyond_chance(spread.sd, spread.dof, own.u, own.dof):
        return []
    beyond = spread.sd**2 - own.u**2 if measured_only else spread.sd**2
    if beyond <= 0:
        return []
    name = f"{MOUNT_COMPONENT}, {spread.source}"
    return [Component(name=name, kind="A" if n > 1 else "B", u=math.sqrt(beyond / n), unit=unit, dof=spread.dof)]


# --- The mounting spread that a protocol declares, in the unit of a figure


_KELVINS = {
    "core_temperature",
    "hotspot_temperature",
    "memory_temperature",
    "core_rise",
    "hotspot_rise",
    "memory_rise",
}
_PER_WATT = {"core_psi", "hotspot_psi", "memory_psi"}


def declared_spread(protocol: Protocol, cooler: CoolerKind, kind: str, watts: float | None) -> float | None:
    """Return the declared standard deviation from mount to mount in the figure's unit; None where none is declared.

    `watts` is the board power, which turns kelvins into K/W.
    """
    spread = protocol.mount_spread_k
    kelvins = spread.liquid if cooler.liquid else spread.air
    if kelvins is None or kind in _KELVINS:
        return kelvins
    return kelvins / watts if kind in _PER_WATT and watts and watts > 0 else None
