"""Regression of a window on time, the workload's loop and board power, with autocorrelated residuals."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from builder.quantity import FloatArray
from builder.uncertainty import lag1_correlation

HARMONICS = 3
SLOPE_CAUTION = 1.25  # the correlation is estimated from few samples; this keeps the coverage


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
