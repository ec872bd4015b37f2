"""Rise and Ψ of a judged temperature with their budgets: at rest where it is settled, else its window's own."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import replace

import numpy as np

from builder.core.quantity import Estimate
from builder.core.results import Component, Settlement, Verdict
from builder.settling.heat_path import LEAST_W, StageRise
from builder.settling.regression import fit_trend, loop_columns
from builder.settling.run_grid import Work
from builder.settling.signals import (
    ACCURACY,
    AMBIENT_ACCURACY,
    AMBIENT_BY_HAND,
    COOLANT_ACCURACY,
    METER_ACCURACY,
    POWER_SCATTER,
    REMAINING,
    SCATTER,
    Bound,
    Channel,
    Derived,
    Judgement,
    WindowMean,
)
from builder.settling.window_mean import window_mean
from builder.uncertainty import ar1_inflation, estimate_from_budget, series_mean

UNSETTLED_POWER_S = 30.0  # the first half minute of a load is not its usual course


def derive(work: Work, rises: Sequence[StageRise], sensor: Channel, settlement: Settlement) -> Judgement:
    """Return the judgement of a temperature whose rises over the stages, from the inside out, are known.

    Only a settled run (or a study) gets values at rest.
    """
    time = work.run.signals.time_s
    ambient = work.ambient
    means = Judgement(
        settlement=settlement,
        mean=window_mean(time, sensor, work.window, unit="degC", loop_s=work.rule.loop_s),
        ambient_mean=None if ambient is None else window_mean(time, ambient, work.window, unit="degC"),
        coolant_mean=None if work.coolant is None else window_mean(time, work.coolant, work.window, unit="degC"),
    )
    if settlement.verdict is Verdict.SETTLED or work.rule.study:
        return _at_rest(work, rises, sensor, means)
    return _of_window(work, sensor, means)


def _samples(work: Work, sensor: Channel) -> int:
    return int(np.isfinite(sensor.values[work.run.signals.time_s >= work.window.start_s]).sum())


def _at_rest(work: Work, rises: Sequence[StageRise], sensor: Channel, means: Judgement) -> Judgement:
    power, samples = _mean_power(work), _samples(work, sensor)
    scatter = None if power is None else _power_scatter(work, power)
    between = _stage_instruments(work, sensor) if len(rises) > 1 else [()] * len(rises)
    parts = [
        derived(r.rise, (*r.budget, *_line(r.rise, power, scatter), *lines), samples)
        for r, lines in zip(rises, between, strict=True)
    ]
    looped = len(rises) > 1
    found = replace(
        means, core_over_coolant=parts[0] if looped else None, coolant_level=_coolant_level(work, rises, samples)
    )
    if not work.has_ambient:
        return found
    total = sum(r.rise for r in rises)
    own = (*(c for r in rises for c in r.budget), *_instruments(work, sensor))
    return replace(
        found,
        rise=derived(total, (*own, *_line(total, power, scatter)), samples),
        psi=_psi(work, total, own, power, samples),
        coolant_rise=parts[1] if looped else None,
    )


def _coolant_level(work: Work, rises: Sequence[StageRise], samples: int) -> Derived | None:
    """Return the coolant's temperature at rest in degrees Celsius: its rise over the window's ambient."""
    coolant, ambient = work.coolant, work.run.signals.ambient
    if coolant is None or len(rises) == 1:
        return None
    level = ambient.value if isinstance(ambient, Estimate) else float(work.ambient_bins()[work.bins_in_window].mean())
    budget = (*rises[1].budget, *coolant.instrument(COOLANT_ACCURACY, "degC"))
    return derived(rises[1].rise + level, budget, samples, "degC")


def _of_window(work: Work, sensor: Channel, means: Judgement) -> Judgement:
    """Return the window's own rise and Ψ with all that they may lack of rest as uncertainty, and a bound."""
    power, samples = _mean_power(work), _samples(work, sensor)
    remaining, mean = means.settlement.remaining, means.mean
    if not work.has_ambient or mean is None or remaining is None:
        return means
    level = float(work.ambient_bins()[work.bins_in_window].mean())
    rise = mean.estimate.value - level
    lacking = (abs(remaining.value) + remaining.u) / math.sqrt(3)
    own = (
        *(c for c in mean.budget if not c.of_instrument),
        Component(name=REMAINING, kind="B", u=lacking, unit="K", dof=math.inf),
        *_instruments(work, sensor),
    )
    return replace(
        means,
        window_rise=derived(rise, own, samples),
        window_psi=_psi(work, rise, own, power, samples),
        bound=_bound(work, sensor, means, rise),
    )


def _bound(work: Work, sensor: Channel, means: Judgement, rise: float) -> Bound | None:
    """Return what the rise at rest is at least (of a falling run: at most); None where the run may do either."""
    settlement, mean = means.settlement, means.mean
    remaining, half_width = settlement.remaining, settlement.half_width
    if remaining is None or half_width is None or mean is None or abs(remaining.value) <= half_width:
        return None
    rising = remaining.value > 0
    cells = work.window_grid.cell_means(sensor.values)
    trend = fit_trend(work.window_grid.cell_time, cells, [])  # the trend itself is no scatter
    scatter = mean.estimate.u if trend is None else trend.u_mean
    own = 2 * math.hypot(scatter, *(c.u for c in mean.budget if c.name != SCATTER))
    return Bound(value_k=rise - own if rising else rise + own, rising=rising)


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
    return (scatter.times(rise / power.estimate.value),)


def _stage_instruments(work: Work, sensor: Channel) -> list[tuple[Component, ...]]:
    """Return what sensors add to core over coolant and to coolant over ambient; the coolant's cancels in their sum."""
    coolant = work.run.signals.coolant or Channel(values=np.empty(0))
    core = (*sensor.instrument(ACCURACY, "K"), *coolant.instrument(COOLANT_ACCURACY, "K", -1.0))
    return [core, (*coolant.instrument(COOLANT_ACCURACY, "K"), *_ambient_instrument(work))]


def _instruments(work: Work, sensor: Channel) -> tuple[Component, ...]:
    return (*sensor.instrument(ACCURACY, "K"), *_ambient_instrument(work))


def _ambient_instrument(work: Work) -> tuple[Component, ...]:
    ambient = work.run.signals.ambient
    if isinstance(ambient, Estimate):
        by_hand = Component(name=AMBIENT_BY_HAND, kind="B", u=ambient.u, unit="K", dof=ambient.dof, sensitivity=-1.0)
        return (by_hand,) if ambient.u > 0 else ()
    return ambient.instrument(AMBIENT_ACCURACY, "K", -1.0) if ambient else ()


def _psi(work: Work, rise: float, own: tuple[Component, ...], power: WindowMean | None, samples: int) -> Derived | None:
    """Return rise over board power. The rise belongs to the window's own power, so its scatter plays no part."""
    meter = work.run.signals.power
    if power is None or meter is None:
        return None
    watts = power.estimate.value
    lines = (*(c.times(1 / watts) for c in own), *meter.instrument(METER_ACCURACY, "W", -rise / watts**2))
    return derived(rise / watts, lines, samples, "K/W")
