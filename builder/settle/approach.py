"""The approach to equilibrium as one exponential: its time constant by a profile over a grid."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from builder.quantity import FloatArray
from builder.uncertainty import lag1_correlation

LEAST_RATIO = 0.15  # of steps to spread, 2 for independent residuals
TAU_GRID_S = np.geomspace(20.0, 1500.0, 60)


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
    inside = np.flatnonzero(squares <= float(squares[best]) * (1 + _f_bound(dof) / dof) + 1e-12 * total)
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


def _f_bound(dof: float) -> float:
    from builder.quantity import coverage_factor

    return coverage_factor(dof) ** 2


def _wanders_little(residuals: FloatArray) -> bool:
    """Return whether residuals look like noise. Source: von Neumann 1941, ratio of mean square step to variance."""
    total = float(residuals @ residuals)
    return total <= 0 or float((np.diff(residuals) ** 2).sum()) / total > LEAST_RATIO
