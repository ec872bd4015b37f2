"""Rises of a run that had not come to rest: what its window shows is a bound of the rise at rest, and no more."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import replace

from builder.core.results import CORE, Bound, CardSensor, Component, Figure, Settlement, Verdict
from builder.settling import Judgement
from builder.uncertainty import estimate_from_budget

AMBIENT, COOLANT, POWER = "ambient_temperature", "coolant_in_temperature", "board_power"
BY_HAND = "ambient reading by hand"
BOUND_NOTE = "mean over the window of a run that was still drifting; at rest the figure lies beyond it"


def bounds_at_rest(judged: Mapping[CardSensor, Judgement], known: Mapping[str, Figure]) -> Iterator[Figure]:
    """Yield, for the figures of sensors that still drifted, the window's own mean as a bound of the figure at rest.

    `known` holds the run's means and rises by kind, in K, K/W and W. What a run has still to go is an extrapolation,
    and one that may miss by far more than its interval where the run was stopped early; that the rise will not turn
    back is all that such a run shows. A run that warms gives a lower bound, one that cools an upper one.
    """
    for sensor, judgement in judged.items():
        bound = bound_of(judgement.settlement)
        if bound is Bound.NONE:
            continue
        rise = _difference(sensor.rise, known.get(sensor.temperature), known.get(AMBIENT), bound)
        found = [rise, _per_watt(sensor.psi, rise, known.get(POWER))]
        if sensor is CORE:
            found.append(_difference("core_over_coolant", known.get(sensor.temperature), known.get(COOLANT), bound))
            found.append(_difference("coolant_rise", known.get(COOLANT), known.get(AMBIENT), bound))
        yield from (figure for figure in found if figure and figure.kind in known)


def bound_of(settlement: Settlement) -> Bound:
    """Return the side on which a drifting run's figures at rest lie; none for every other run.

    A lower bound is where the temperature still rises.
    """
    if settlement.verdict is not Verdict.DRIFTING or settlement.remaining is None:
        return Bound.NONE
    return Bound.LOWER if settlement.remaining.value > 0 else Bound.UPPER


def _difference(kind: str, upper: Figure | None, lower: Figure | None, bound: Bound) -> Figure | None:
    """Return the difference of two means of the window, in K, as a bound; their errors are independent."""
    if upper is None or lower is None:
        return None
    lines = (*_whole(upper, 1.0), *_whole(lower, -1.0))
    value = upper.estimate.value - lower.estimate.value
    estimate = estimate_from_budget(value, "K", lines)
    return Figure(kind=kind, estimate=estimate, samples=upper.samples, budget=lines, note=BOUND_NOTE, bound=bound)


def _whole(figure: Figure, factor: float) -> tuple[Component, ...]:
    """Return a mean's budget times a factor, in K; a reading by hand has none and is one line of type B."""
    u, dof = figure.estimate.u, figure.estimate.dof
    lines = figure.budget or (Component(name=BY_HAND, kind="B", u=u, unit="K", dof=dof),)
    return tuple(replace(line, unit="K" if line.unit == "degC" else line.unit).times(factor) for line in lines)


def _per_watt(kind: str, rise: Figure | None, power: Figure | None) -> Figure | None:
    """Return a bound of Ψ, in K/W, from that of the rise and the mean power of the window."""
    if rise is None or power is None or power.estimate.value <= 0:
        return None
    watts = power.estimate.value
    value = rise.estimate.value / watts
    lines = (*(line.times(1 / watts) for line in rise.budget), *(c.times(-value / watts) for c in power.budget))
    return replace(rise, kind=kind, estimate=estimate_from_budget(value, "K/W", lines), budget=lines)
