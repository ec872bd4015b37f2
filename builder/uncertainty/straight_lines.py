"""Straight lines through points that are uncertain in both directions, with the covariance of their coefficients."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

import numpy as np

from builder.core.quantity import Estimate, FloatArray
from builder.uncertainty.combine import effective_dof

LACK_OF_FIT_P = 0.05  # below this the residuals are more than the points' own uncertainty
_ROUNDS = 200
_TOLERANCE = 1e-13


@dataclass(frozen=True, kw_only=True, eq=False)
class Points:
    """Points that are uncertain in both directions: arrays of shape (n,), standard uncertainties, u_y above zero."""

    x: FloatArray
    y: FloatArray
    u_x: FloatArray
    u_y: FloatArray


@dataclass(frozen=True, kw_only=True)
class Line:
    """y = intercept + slope · x, with the covariance of both coefficients.

    `chi2` is the weighted sum of squared residuals and `chi2_p` the probability of a larger one, None where two points
    leave nothing to check. `lack_of_fit` is how far the truth lies off the line as a standard deviation in the unit of
    y, 0 where the points' own uncertainty explains their residuals; it is inside both coefficients.
    """

    intercept: Estimate
    slope: Estimate
    covariance: float
    chi2: float
    chi2_p: float | None
    lack_of_fit: float = 0.0


def york_line(points: Points, *, unit: str, slope_unit: str) -> Line:
    """Return the line through points that are uncertain in both directions.

    The errors of x and y are taken as independent. The covariance rests on the stated uncertainties alone, so its
    degrees of freedom are infinite. Raises ValueError with fewer than two points, no spread in x, or where the
    iteration does not settle. Source: York, Evensen, Martinez and De Basabe Delgado 2004, Am. J. Phys. 72, 367,
    section III (value from memory).
    """
    if points.x.size < 2 or not np.ptp(points.x) > 0 or not (points.u_y > 0).all():  # noqa: PLR2004 - two coefficients
        raise ValueError("a line needs two points with some spread in x and uncertain y")
    state = _iterated(points)
    weights, adjusted = state.weights, state.x_mean + state.beta
    middle = float(weights @ adjusted / weights.sum())
    var_slope = 1 / float(weights @ (adjusted - middle) ** 2)
    var_intercept = 1 / float(weights.sum()) + middle**2 * var_slope
    intercept = state.y_mean - state.slope * state.x_mean
    chi2 = float(weights @ (points.y - intercept - state.slope * points.x) ** 2)
    return Line(
        intercept=Estimate(value=intercept, u=math.sqrt(var_intercept), unit=unit),
        slope=Estimate(value=state.slope, u=math.sqrt(var_slope), unit=slope_unit),
        covariance=-middle * var_slope,
        chi2=chi2,
        chi2_p=_upper_tail(chi2, points.x.size - 2),
    )


def widened_by_lack_of_fit(points: Points, line: Line) -> Line:
    """Return a line whose band holds what its points show beyond their own uncertainty; the same line elsewhere.

    Where a chi-squared test rejects at 5 %, the residual spread s = sqrt(Σ r² / (n - 2)) stands for the distance of the
    truth from the line, as in the prediction at a new x: s² (1 + 1/n + (x - x̄)² / Sxx), with n - 2 degrees of freedom,
    beside what the stated uncertainties give (Welch-Satterthwaite in the middle of the range, where the band is
    narrowest). Source: NIST/SEMATECH e-Handbook of Statistical Methods, 4.4.4.6 and 4.5.2.1 (value from memory).
    """
    n = points.x.size
    if line.chi2_p is None or line.chi2_p >= LACK_OF_FIT_P:
        return line
    residuals = points.y - line.intercept.value - line.slope.value * points.x
    variance = float(residuals @ residuals) / (n - 2)
    middle = float(points.x.mean())
    by_slope = variance / float(((points.x - middle) ** 2).sum())
    own = line_value(line.intercept, line.slope, line.covariance, middle)
    spread = math.sqrt(variance * (1 + 1 / n))
    dof = effective_dof((own.u, spread), (own.dof, n - 2.0))
    by_intercept = variance * (1 + 1 / n) + middle**2 * by_slope
    return replace(
        line,
        intercept=replace(line.intercept, u=math.sqrt(line.intercept.u**2 + by_intercept), dof=dof),
        slope=replace(line.slope, u=math.sqrt(line.slope.u**2 + by_slope), dof=dof),
        covariance=line.covariance - middle * by_slope,
        lack_of_fit=math.sqrt(variance),
    )


def line_value(intercept: Estimate, slope: Estimate, covariance: float, x: float) -> Estimate:
    """Return intercept + slope · x, in the intercept's unit, with the covariance of both coefficients.

    Source: JCGM 100:2008, H.3.4, equation (H.14).
    """
    variance = intercept.u**2 + 2 * x * covariance + (x * slope.u) ** 2
    value = intercept.value + slope.value * x
    return Estimate(value=value, u=math.sqrt(max(variance, 0.0)), unit=intercept.unit, dof=intercept.dof)


@dataclass(frozen=True, kw_only=True, eq=False)
class _State:
    """One round of York's iteration: the slope, the weighted means, and weight and shift of each point."""

    slope: float
    x_mean: float
    y_mean: float
    weights: FloatArray
    beta: FloatArray


def _iterated(points: Points) -> _State:
    slope = float(np.polyfit(points.x - points.x.mean(), points.y, 1)[0])
    steepest = float(np.ptp(points.y) / np.ptp(points.x))
    for _ in range(_ROUNDS):
        state = _next(slope, points)
        if abs(state.slope - slope) <= _TOLERANCE * max(abs(slope), steepest):
            return state
        slope = state.slope
    raise ValueError("the line through points uncertain in both directions did not settle")


def _next(slope: float, points: Points) -> _State:
    weights = 1 / (points.u_y**2 + (slope * points.u_x) ** 2)
    x_mean = float(weights @ points.x / weights.sum())
    y_mean = float(weights @ points.y / weights.sum())
    dx, dy = points.x - x_mean, points.y - y_mean
    beta = weights * (dx * points.u_y**2 + slope * dy * points.u_x**2)
    down = float((weights * beta) @ dx)
    new = float((weights * beta) @ dy) / down if down else math.nan
    if not math.isfinite(new):
        raise ValueError("the points do not determine a line")
    return _State(slope=new, x_mean=x_mean, y_mean=y_mean, weights=weights, beta=beta)


def _upper_tail(chi2: float, dof: int) -> float | None:
    from scipy import special

    return float(special.chdtrc(dof, chi2)) if dof > 0 else None
