"""Rises of a run that had not come to rest: what its window shows is a bound of the rise at rest, and no more."""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import replace

from builder.core.results import Bound, CardSensor, Component, Figure, Role
from builder.settling import Derived, Judgement
from builder.uncertainty import estimate_from_budget

OF_WINDOW = "mean of the window, not at rest"
COVERAGE = 2.0  # of the bound that settling gives, about 95 %
_SCATTER = "scatter within the window"


def window_figures(sensor: CardSensor, judgement: Judgement) -> Iterator[Figure]:
    """Yield rise over ambient, in K, and Ψ, in K/W, of a run that is not at rest: the window's own.

    Where the run can only have gone on in one direction, each is a bound of the figure at rest: what a run has still
    to go is an extrapolation, and one that misses by far where the run was stopped early; that it will not turn back
    is all that it shows. Elsewhere the estimate holds all that the window may lack of rest.
    """
    rise, psi = judgement.window_rise, judgement.window_psi
    if rise is None:
        return
    bound = _side(judgement)
    if judgement.bound is None or bound is Bound.NONE:
        yield _figure(sensor.rise, rise, OF_WINDOW)
        if psi:
            yield _figure(sensor.psi, psi, OF_WINDOW)
        return
    scatter = _scatter(sensor, rise, judgement.bound.value_k)
    note = f"{OF_WINDOW}: at rest the figure is {'higher' if bound is Bound.LOWER else 'lower'}"
    yield _bounded(_figure(sensor.rise, rise, note), scatter, bound)
    if psi:
        share = psi.estimate.value / rise.estimate.value if rise.estimate.value else 0.0
        yield _bounded(_figure(sensor.psi, psi, note), scatter * share, bound)


def _scatter(sensor: CardSensor, rise: Derived, bound_k: float) -> float:
    """Return the part of a bound's distance from the mean, in K (k = 1), that the sensor's own lines do not hold."""
    distance = (rise.estimate.value - bound_k) / COVERAGE
    lines = (c for c in rise.budget if c.role is Role.STEP or (c.of_instrument and c.sensor is sensor.quantity))
    return math.sqrt(max(distance**2 - math.fsum(c.contribution**2 for c in lines), 0.0))


def _side(judgement: Judgement) -> Bound:
    """Return on which side of the window's mean the figures at rest lie; none where the run may do either."""
    if judgement.bound is None:
        return Bound.NONE
    return Bound.LOWER if judgement.bound.rising else Bound.UPPER


def _figure(kind: str, part: Derived, note: str) -> Figure:
    return Figure(kind=kind, estimate=part.estimate, samples=part.samples, budget=part.budget, note=note)


def _bounded(figure: Figure, scatter: float, bound: Bound) -> Figure:
    """Return the window's own figure as a bound, with its scatter and its instruments as uncertainty."""
    unit = figure.estimate.unit
    own = Component(name=_SCATTER, kind="A", u=abs(scatter), unit=unit, dof=math.inf)
    lines = (own, *(line for line in figure.budget if line.of_instrument or line.role is Role.STEP))
    estimate = estimate_from_budget(figure.estimate.value, unit, lines)
    return replace(figure, estimate=estimate, budget=lines, bound=bound)
