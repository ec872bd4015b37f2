"""Lines through points that are uncertain in both directions, with the covariance of their coefficients."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

import numpy as np

from builder.core.quantity import Estimate, FloatArray
from builder.core.results import Bend
from builder.uncertainty.combine import effective_dof

LACK_OF_FIT_P = 0.05  # below this the residuals are more than the points' own uncertainty
ROUNDS = 200
TOLERANCE = 1e-13


@dataclass(frozen=True, kw_only=True, eq=False)
class Points:
    """Points that are uncertain in both directions: arrays of shape (n,), standard uncertainties, u_y above zero."""

    x: FloatArray
    y: FloatArray
    u_x: FloatArray
    u_y: FloatArray


@dataclass(frozen=True, kw_only=True)
class Line:
    """y = intercept + slope · x and the `bend`, with the covariance of intercept and slope.

    `chi2` is the weighted sum of squared residuals and `chi2_p` the probability of a larger one, None where the points
    are as many as the coefficients. `lack_of_fit` is how far the truth lies off the line as a standard deviation in the
    unit of y, 0 where the points' own uncertainty explains their residuals; it is inside all coefficients.
    """

    intercept: Estimate
    slope: Estimate
    covariance: float
    chi2: float
    chi2_p: float | None
    lack_of_fit: float = 0.0
    bend: Bend | None = None

    @property
    def order(self) -> int:
        """Return 1 for a straight line, whose bend is 0, and 2 for a curve."""
        return 2 if self.bend and self.bend.coefficient.value else 1


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
        chi2_p=upper_tail(chi2, points.x.size - 2),
    )


def widened_by_lack_of_fit(points: Points, line: Line) -> Line:
    """Return a line or curve whose band holds what its points show beyond their own uncertainty; else the same one.

    Where a chi-squared test rejects at 5 %, the residual spread s = sqrt(Σ r² / (n - m)), with m coefficients, stands
    for the distance of the truth from the line, as in the prediction at a new x: s² (1 + 1/n + (x - x̄)² / Sxx), of a
    curve with q² / Σ q² in addition, and n - m degrees of freedom, beside what the stated uncertainties give
    (Welch-Satterthwaite in the middle of the range, where the band is narrowest). Source: NIST/SEMATECH e-Handbook of
    Statistical Methods, 4.4.4.6 and 4.5.2.1 (value from memory).
    """
    n, free = points.x.size, points.x.size - 1 - line.order
    if line.chi2_p is None or line.chi2_p >= LACK_OF_FIT_P:
        return line
    residuals = points.y - [value_at(line, float(x)).value for x in points.x]
    variance = float(residuals @ residuals) / free
    middle = float(points.x.mean())
    by_slope = variance / float(((points.x - middle) ** 2).sum())
    own = value_at(line, middle)
    spread = math.sqrt(variance * (1 + 1 / n))
    dof = effective_dof((own.u, spread), (own.dof, float(free)))
    by_intercept = variance * (1 + 1 / n) + middle**2 * by_slope
    return replace(
        line,
        intercept=replace(line.intercept, u=math.sqrt(line.intercept.u**2 + by_intercept), dof=dof),
        slope=replace(line.slope, u=math.sqrt(line.slope.u**2 + by_slope), dof=dof),
        covariance=line.covariance - middle * by_slope,
        lack_of_fit=math.sqrt(variance),
        bend=_wider_bend(line.bend, points.x, variance) if line.bend else None,
    )


def _wider_bend(bend: Bend, x: FloatArray, variance: float) -> Bend:
    added = variance / math.fsum(bend.shape(float(one)) ** 2 for one in x)
    return replace(bend, coefficient=replace(bend.coefficient, u=math.sqrt(bend.coefficient.u**2 + added)))


def value_at(line: Line, x: float) -> Estimate:
    """Return a line's or curve's value at a place, in the intercept's unit."""
    return line_value(line.intercept, line.slope, line.covariance, x, line.bend)


def line_value(intercept: Estimate, slope: Estimate, covariance: float, x: float, bend: Bend | None = None) -> Estimate:
    """Return intercept + slope · x and the bend, in the intercept's unit, with the covariance of the coefficients.

    Source: JCGM 100:2008, H.3.4, equation (H.14).
    """
    variance = intercept.u**2 + 2 * x * covariance + (x * slope.u) ** 2
    value = intercept.value + slope.value * x
    if bend:
        value += bend.coefficient.value * bend.shape(x)
        variance += (bend.coefficient.u * bend.shape(x)) ** 2
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
    for _ in range(ROUNDS):
        state = _next(slope, points)
        if abs(state.slope - slope) <= TOLERANCE * max(abs(slope), steepest):
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


def upper_tail(chi2: float, dof: int) -> float | None:
    """Return the probability of a larger chi-squared; None without degrees of freedom."""
    from scipy import special

    return float(special.chdtrc(dof, chi2)) if dof > 0 else None
