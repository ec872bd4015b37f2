"""Regression with autocorrelated residuals: a window's mean and slope, and a whole run as one exponential."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from builder.core.quantity import FloatArray, coverage_factor
from builder.uncertainty import lag1_correlation

HARMONICS = 3
SLOPE_CAUTION = 1.25  # the correlation is estimated from few samples; this keeps the coverage
LEAST_RATIO = 0.15  # of steps to spread, 2 for independent residuals
TAU_GRID_S = np.geomspace(20.0, 1500.0, 60)


@dataclass(frozen=True, kw_only=True)
class Trend:
    """Mean and slope (per second) of a window, with standard uncertainties, degrees of freedom and residual spread."""

    mean: float
    u_mean: float
    slope: float
    u_slope: float
    dof: float
    residual_sd: float
    effective: float
    lag1: float


def loop_columns(time_s: FloatArray, loop_s: float | None, *, cells: int) -> list[FloatArray]:
    """Return sine and cosine columns of a workload's loop; none where the loop is unknown or the cells too few."""
    if loop_s is None:
        return []
    spacing = float(np.median(np.diff(time_s))) if time_s.size > 1 else math.inf
    orders = [k for k in range(1, HARMONICS + 1) if loop_s / k > 2 * spacing and 2 * k + 4 < cells]
    phase = 2 * math.pi * time_s / loop_s
    return [wave for k in orders for wave in (np.sin(k * phase), np.cos(k * phase))]


def fit_trend(time_s: FloatArray, values: FloatArray, extra: list[FloatArray]) -> Trend | None:
    """Return mean and slope of an even series, shape (n,), NaN missing, allowing for the extra columns.

    Each extra column is centred, so the mean stays that of the window. None where fewer than three samples are left
    beyond the fitted columns. Source: ordinary least squares; variances times (1+φ)/(1-φ) for lag-1 residuals.
    """
    valid = np.isfinite(values)
    count = int(valid.sum())
    about = time_s - time_s[valid].mean() if count else time_s
    design = _design(about, extra, valid)
    if count < design.shape[1] + 3:
        return None
    scale = np.sqrt((design**2).mean(axis=0))
    inverse = np.linalg.pinv(design / scale, rcond=1e-9)
    coefficients = inverse @ values[valid] / scale
    residuals = np.full(values.size, np.nan)
    residuals[valid] = values[valid] - design @ coefficients
    fitted = 2 + len(extra)  # constant columns count too: the check cases were set so
    variance = float(np.nansum(residuals**2)) / (count - fitted)
    lag1 = lag1_correlation(residuals, fitted)
    inflation = (1 + lag1) / (1 - lag1)
    effective = count / inflation
    u = np.sqrt(variance * inflation * (inverse**2).sum(axis=1)) / scale
    return Trend(
        mean=float(coefficients[0]),
        u_mean=float(u[0]),
        slope=float(coefficients[1]),
        u_slope=SLOPE_CAUTION * float(u[1]),
        dof=max(effective - fitted, 2.0),
        residual_sd=math.sqrt(variance),
        effective=effective,
        lag1=lag1,
    )


def _design(about: FloatArray, extra: list[FloatArray], valid: NDArray[np.bool_]) -> FloatArray:
    columns = [np.ones(int(valid.sum())), about[valid]]
    for column in extra:
        part = column[valid] - column[valid].mean() if valid.any() else column[valid]
        if part.size and np.isfinite(part).all() and float(np.ptp(part)) > 1e-9 * (1 + float(np.abs(column).max())):
            columns.append(part)
    return np.column_stack(columns)


@dataclass(frozen=True, kw_only=True)
class Approach:
    """An exponential fit: time constant with its profile bounds, amplitude at the end with its standard uncertainty.

    `at_edge` says that a bound lies on the edge of the grid: then the data do not show the end of the approach.
    `trusted` is False there, and where the residuals wander too smoothly to be noise: then the asymptote means nothing.
    """

    tau_s: float
    low_s: float
    high_s: float
    amplitude: float
    u_amplitude: float
    asymptote: float
    at_edge: bool
    trusted: bool


def fit_approach(time_s: FloatArray, values: FloatArray) -> Approach | None:
    """Return the best y = a + b·exp(-(t - t0)/τ) over 60 time constants from 20 to 1,500 s; None with under 8 samples.

    The linear part is solved for each τ; the bounds hold every τ whose sum of squares, allowing for the residuals'
    lag-1 correlation, is not worse at the 5 % level. Source: profile likelihood, Seber and Wild, Nonlinear Regression,
    1989, section 5.2.3 (value from memory).
    """
    valid = np.isfinite(values)
    t, y = time_s[valid], values[valid]
    if t.size < 8:  # noqa: PLR2004 - three parameters and some scatter
        return None
    shapes = np.exp(-(t[:, None] - t[0]) / TAU_GRID_S)
    centred = shapes - shapes.mean(axis=0)
    spread = (centred**2).sum(axis=0)
    slopes = centred.T @ (y - y.mean()) / spread
    total = float(((y - y.mean()) ** 2).sum())
    squares = np.maximum(total - slopes**2 * spread, 0.0)
    best = int(np.argmin(squares))
    residuals = y - y.mean() - slopes[best] * centred[:, best]
    lag1 = lag1_correlation(residuals, 3)
    inflation = (1 + lag1) / (1 - lag1)
    dof = max(t.size / inflation - 3, 1.0)
    inside = np.flatnonzero(squares <= float(squares[best]) * (1 + coverage_factor(dof) ** 2 / dof) + 1e-12 * total)
    at_edge = bool(inside[0] == 0 or inside[-1] == TAU_GRID_S.size - 1)
    variance = float(squares[best]) / (t.size - 3) * inflation
    return Approach(
        tau_s=float(TAU_GRID_S[best]),
        low_s=float(TAU_GRID_S[inside[0]]),
        high_s=float(TAU_GRID_S[inside[-1]]),
        amplitude=float(slopes[best]),
        u_amplitude=math.sqrt(variance / float(spread[best])),
        asymptote=float(y.mean() - slopes[best] * shapes[:, best].mean()),
        at_edge=at_edge,
        trusted=not at_edge and _wanders_little(residuals),
    )


def _wanders_little(residuals: FloatArray) -> bool:
    """Return whether residuals look like noise. Source: von Neumann 1941, ratio of mean square step to variance."""
    total = float(residuals @ residuals)
    return total <= 0 or float((np.diff(residuals) ** 2).sum()) / total > LEAST_RATIO
