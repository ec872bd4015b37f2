"""Rise and Ψ of a judged run, with their budgets."""

from __future__ import annotations

import math
from collections.abc import Sequence

import numpy as np

from builder.figures import Component, Settlement
from builder.quantity import Estimate
from builder.settle.fitted import LEAST_W
from builder.settle.means import window_mean
from builder.settle.regress import fit_trend, loop_columns
from builder.settle.rule import (
    ACCURACY,
    AMBIENT_ACCURACY,
    AMBIENT_BY_HAND,
    COOLANT_ACCURACY,
    METER_ACCURACY,
    POWER_SCATTER,
    Channel,
    Derived,
    Judgement,
    WindowMean,
)
from builder.settle.stage import Stage
from builder.settle.work import Work
from builder.uncertainty import ar1_inflation, estimate_from_budget, rectangular, series_mean

UNSETTLED_POWER_S = 30.0  # the first half minute of a load is not its usual course


def with_results(work: Work, stages: Sequence[Stage], settlement: Settlement) -> Judgement:
    """Return the judgement of a run with its rise over ambient, Ψ, and the stages of a loop."""
    samples = int(np.isfinite(work.inside(work.run.signals.temperature)).sum())
    power = _mean_power(work)
    scatter = None if power is None else _power_scatter(work, power)
    between = _stage_instruments(work) if len(stages) > 1 else [()] * len(stages)
    parts = [
        derived(s.rise, (*s.budget, *_line(s.rise, power, scatter), *lines), samples)
        for s, lines in zip(stages, between, strict=True)
    ]
    over_coolant = parts[0] if len(parts) > 1 else None
    if not work.has_ambient:
        return Judgement(settlement=settlement, core_over_coolant=over_coolant)
    total = sum(s.rise for s in stages)
    own = (*(c for s in stages for c in s.budget), *_instruments(work))
    return Judgement(
        settlement=settlement,
        rise=derived(total, (*own, *_line(total, power, scatter)), samples),
        psi=_psi(total, own, power, samples),
        core_over_coolant=over_coolant,
        coolant_rise=parts[1] if len(parts) > 1 else None,
    )


def derived(value: float, budget: tuple[Component, ...], samples: int, unit: str = "K") -> Derived:
    """Return an estimate from its budget."""
    return Derived(estimate=estimate_from_budget(value, unit, budget), budget=budget, samples=samples)


def _mean_power(work: Work) -> WindowMean | None:
    power = work.run.signals.power
    if power is None or not work.usable(power):
        return None
    mean = window_mean(work.run.signals.time_s, power, work.window, unit="W", loop_s=work.rule.loop_s)
    return mean if mean is not None and mean.estimate.value >= max(LEAST_W, 2 * mean.estimate.u) else None


def _power_scatter(work: Work, mean: WindowMean) -> Component | None:
    """Return how far the window's mean power may lie from the workload's own, judged by the whole run.

    The window alone holds too few passes of a slow workload to show its own spread.
    """
    power = work.run.signals.power
    late = work.grid.cell_time - work.run.start_s >= UNSETTLED_POWER_S
    if power is None:
        return None
    time, cells = work.grid.cell_time[late], work.cells(power)[late]
    waves = loop_columns(time, work.rule.loop_s, cells=int(np.isfinite(cells).sum()))
    trend = fit_trend(time, cells, waves) if waves else None
    series = series_mean(cells, "W")
    if series is None:
        return None
    sd, lag1, worth = series.sd, series.lag1, series.effective_samples
    if trend is not None:
        sd, lag1, worth = trend.residual_sd, trend.lag1, max(trend.effective, 1.0)
    inside = work.window_s / work.grid.cell_s
    small = math.sqrt(worth / max(worth - 1, 0.5))  # the mean took part of the spread along
    u = sd * small * math.sqrt(ar1_inflation(lag1, inside) / inside)
    return Component(name=POWER_SCATTER, kind="A", u=u, unit=mean.estimate.unit, dof=max(worth - 1, 1.0))


def _line(rise: float, power: WindowMean | None, scatter: Component | None) -> tuple[Component, ...]:
    if power is None or scatter is None:
        return ()
    return (_scaled(scatter, rise / power.estimate.value),)


def _scaled(line: Component, factor: float) -> Component:
    return Component(
        name=line.name, kind=line.kind, u=line.u, unit=line.unit, dof=line.dof, sensitivity=line.sensitivity * factor
    )


def _stage_instruments(work: Work) -> list[tuple[Component, ...]]:
    """Return what sensors add to core over coolant and to coolant over ambient; the coolant's cancels in their sum."""
    signals = work.run.signals
    half_width = signals.coolant.accuracy if signals.coolant else 0.0
    core = (_type_b(ACCURACY, signals.temperature.accuracy, 1.0), _type_b(COOLANT_ACCURACY, half_width, -1.0))
    loop = (_type_b(COOLANT_ACCURACY, half_width, 1.0), *_ambient_instrument(work))
    return [tuple(c for c in lines if c.u > 0) for lines in (core, loop)]


def _instruments(work: Work) -> tuple[Component, ...]:
    own = _type_b(ACCURACY, work.run.signals.temperature.accuracy, 1.0)
    return tuple(c for c in (own, *_ambient_instrument(work)) if c.u > 0)


def _ambient_instrument(work: Work) -> tuple[Component, ...]:
    ambient = work.run.signals.ambient
    if isinstance(ambient, Estimate):
        return (Component(name=AMBIENT_BY_HAND, kind="B", u=ambient.u, unit="K", dof=ambient.dof, sensitivity=-1.0),)
    return (_type_b(AMBIENT_ACCURACY, ambient.accuracy, -1.0),) if isinstance(ambient, Channel) else ()


def _type_b(name: str, half_width: float, sensitivity: float) -> Component:
    u = rectangular(half_width)
    return Component(name=name, kind="B", u=u, unit="K", dof=math.inf, sensitivity=sensitivity)


def _psi(rise: float, own: tuple[Component, ...], power: WindowMean | None, samples: int) -> Derived | None:
    """Return rise over board power. The rise belongs to the window's own power, so its scatter plays no part."""
    if power is None:
        return None
    watts = power.estimate.value
    lines = [_scaled(c, 1 / watts) for c in own]
    lines += [
        Component(name=METER_ACCURACY, kind="B", u=c.u, unit="W", dof=c.dof, sensitivity=-rise / watts**2)
        for c in power.budget
        if c.name == ACCURACY
    ]
    return derived(rise / watts, tuple(lines), samples, "K/W")
