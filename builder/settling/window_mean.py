"""Mean of one logged quantity over a window, with its uncertainty."""

from __future__ import annotations

import math

import numpy as np

from builder.core.quantity import FloatArray
from builder.core.results import Component, Role, Window
from builder.settling.grid import LONGEST_RUN_S, make_grid
from builder.settling.regression import fit_trend, loop_columns
from builder.settling.signals import ACCURACY, RESOLUTION, SCATTER, Channel, WindowMean
from builder.uncertainty import estimate_from_budget, quantisation_u, series_mean

LARGEST = 1e12  # no logged quantity in its standard unit comes near this
LEAST_VALID = 0.7  # of the cells of a window


def window_mean(
    time_s: FloatArray, channel: Channel, window: Window, *, unit: str, loop_s: float | None = None
) -> WindowMean | None:
    """Return the mean of a quantity's samples with window.start_s <= time < window.end_s.

    `time_s` and the channel's values have shape (n,), NaN missing, in any order. Whole passes of `loop_s` do not count
    as scatter. The uncertainty combines scatter (autocorrelation allowed for), resolution and accuracy. None where
    fewer than two samples are there. Source: JCGM 100:2008, 4.2, 4.3.7 and F.2.2.1; AR(1) variance of a mean.
    """
    inside = (time_s >= window.start_s) & (time_s < window.end_s) & (np.abs(channel.values) < LARGEST)
    order = np.flatnonzero(inside)[np.argsort(time_s[inside], kind="stable")]
    time, values = time_s[order], channel.values[order]
    if values.size < 2:  # noqa: PLR2004 - one sample has no scatter
        return None
    mean = float(values.mean())
    scatter = _scatter(time, values, window, loop_s)
    budget = [scatter.line(unit)]
    if channel.resolution > 0:
        u = quantisation_u(float(values.std(ddof=1)), channel.resolution, scatter.effective)
        budget.append(Component(name=RESOLUTION, kind="B", u=u, unit=unit, dof=math.inf, role=Role.STEP))
    budget += channel.instrument(ACCURACY, unit)
    estimate = estimate_from_budget(mean, unit, budget)
    return WindowMean(
        estimate=estimate, samples=int(values.size), budget=tuple(budget), window=window, notes=_gaps(time, window)
    )


class _Scatter:
    """Type A uncertainty of a mean with degrees of freedom and effective number of samples."""

    def __init__(self, u: float, dof: float, effective: float) -> None:
        self.u, self.dof, self.effective = u, dof, effective

    def line(self, unit: str) -> Component:
        return Component(name=SCATTER, kind="A", u=self.u, unit=unit, dof=self.dof)


def _scatter(time: FloatArray, values: FloatArray, window: Window, loop_s: float | None) -> _Scatter:
    steps = np.diff(time)
    step = float(np.median(steps[steps > 0])) if (steps > 0).any() else 0.0
    if step > 0 and window.end_s - window.start_s <= LONGEST_RUN_S:
        grid = make_grid(time, start_s=window.start_s, end_s=window.end_s, step_s=step)
        cells = grid.cell_means(values)
        waves = loop_columns(grid.cell_time, loop_s, cells=int(np.isfinite(cells).sum()))
        trend = fit_trend(grid.cell_time, cells, waves) if waves else None
        if trend is not None:
            return _Scatter(trend.u_mean, trend.dof, trend.effective)
        result = series_mean(cells, "")
        if result is not None:
            return _Scatter(result.estimate.u, result.estimate.dof, result.effective_samples)
    sd = float(values.std(ddof=1))
    return _Scatter(sd / math.sqrt(values.size), values.size - 1.0, float(values.size))


def _gaps(time: FloatArray, window: Window) -> tuple[str, ...]:
    steps = np.diff(time)
    usual = float(np.median(steps[steps > 0])) if (steps > 0).any() else math.inf
    expected = (window.end_s - window.start_s) / usual
    share = time.size / expected if expected > 0 else 1.0
    return (f"only {share:.0%} of the window holds readings",) if share < LEAST_VALID else ()
