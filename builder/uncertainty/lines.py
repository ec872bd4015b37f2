"""Straight lines with the covariance of their coefficients: ordinary least squares, and errors in both variables."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from builder.core.quantity import Estimate, FloatArray

_YORK_ROUNDS = 200
_YORK_TOLERANCE = 1e-13


@dataclass(frozen=True, kw_only=True)
class Line:
    """y = intercept + slope · (x - origin), with the covariance of both coefficients.

    `chi2_p` is the probability of a worse fit, None where no uncertainties of the points or no spare points exist.
    """

    origin: float
    intercept: Estimate
    slope: Estimate
    covariance: float
    residual_sd: float
    chi2: float | None = None
    chi2_p: float | None = None

    @property
    def correlation(self) -> float:
        """Return the correlation of intercept and slope."""
        product = self.intercept.u * self.slope.u
        return self.covariance / product if product > 0 else 0.0

    def at(self, x: float, u_x: float = 0.0) -> Estimate:
        """Return the line's value at x, with the coefficients' covariance and x's own standard uncertainty.

        Source: JCGM 100:2008, H.3.4, equation (H.14).
        """
        step = x - self.origin
        line = self.intercept.u**2 + (step * self.slope.u) ** 2 + 2 * step * self.covariance
        u = math.hypot(math.sqrt(max(line, 0.0)), self.slope.value * u_x)
        value = self.intercept.value + self.slope.value * step
        return Estimate(value=value, u=u, unit=self.intercept.unit, dof=self.intercept.dof)


def straight_line(x: FloatArray, y: FloatArray, *, unit: str, slope_unit: str, origin: float = 0.0) -> Line:
    """Return the least-squares line through points, shape (n,) each, n - 2 degrees of freedom.

    Raises ValueError with fewer than three points or no spread in x. The uncertainties are standard ones, from the
    scatter about the line. Source: JCGM 100:2008, H.3.2, equations (H.13a) to (H.13g).
    """
    if x.size < 3 or x.shape != y.shape or not np.ptp(x) > 0:  # noqa: PLR2004 - two points leave no scatter
        raise ValueError("a line needs three points and some spread in x")
    shifted = x - origin
    middle, n = float(shifted.mean()), x.size
    about = shifted - middle
    spread = float(about @ about)
    slope = float(about @ (y - y.mean())) / spread
    height = float(y.mean())
    residuals = y - height - slope * about
    dof = n - 2.0
    variance = float(residuals @ residuals) / dof
    u_slope = math.sqrt(variance / spread)
    u_intercept = math.sqrt(variance * (1 / n + middle**2 / spread))
    return Line(
        origin=origin,
        intercept=Estimate(value=height - slope * middle, u=u_intercept, unit=unit, dof=dof),
        slope=Estimate(value=slope, u=u_slope, unit=slope_unit, dof=dof),
        covariance=-middle * variance / spread,
        residual_sd=math.sqrt(variance),
    )


@dataclass(frozen=True, kw_only=True)
class _YorkState:
    slope: float
    x_mean: float
    y_mean: float
    weights: FloatArray
    beta: FloatArray


@dataclass(frozen=True, kw_only=True, eq=False)
class Points:
    """Points that are uncertain in both directions: arrays of shape (n,), standard uncertainties, u_y above zero."""

    x: FloatArray
    y: FloatArray
    u_x: FloatArray
    u_y: FloatArray


def york_line(points: Points, *, unit: str, slope_unit: str) -> Line:
    """Return the line through points that are uncertain in both directions.

    The errors of x and y are taken as independent. The covariance rests on the stated uncertainties alone, so its
    degrees of freedom are infinite. Raises ValueError with fewer than two points, no spread in x, or where the
    iteration does not settle. Source: York, Evensen, Martinez and De Basabe Delgado 2004, Am. J. Phys. 72, 367,
    section III (value from memory).
    """
    if points.x.size < 2 or not np.ptp(points.x) > 0 or not (points.u_y > 0).all():  # noqa: PLR2004 - two coefficients
        raise ValueError("a line needs two points with some spread in x and uncertain y")
    state = _york_iterate(points)
    weights, adjusted = state.weights, state.x_mean + state.beta
    middle = float(weights @ adjusted / weights.sum())
    var_slope = 1 / float(weights @ (adjusted - middle) ** 2)
    var_intercept = 1 / float(weights.sum()) + middle**2 * var_slope
    intercept = state.y_mean - state.slope * state.x_mean
    residuals = points.y - intercept - state.slope * points.x
    chi2 = float(weights @ residuals**2)
    return Line(
        origin=0.0,
        intercept=Estimate(value=intercept, u=math.sqrt(var_intercept), unit=unit),
        slope=Estimate(value=state.slope, u=math.sqrt(var_slope), unit=slope_unit),
        covariance=-middle * var_slope,
        residual_sd=float(np.sqrt(np.mean(residuals**2))),
        chi2=chi2,
        chi2_p=_chi2_p(chi2, points.x.size - 2),
    )


def _york_iterate(points: Points) -> _YorkState:
    slope = float(np.polyfit(points.x - points.x.mean(), points.y, 1)[0])
    steepest = float(np.ptp(points.y) / np.ptp(points.x))
    for _ in range(_YORK_ROUNDS):
        state = _york_step(slope, points)
        if abs(state.slope - slope) <= _YORK_TOLERANCE * max(abs(slope), steepest):
            return state
        slope = state.slope
    raise ValueError("the line through points uncertain in both directions did not settle")


def _york_step(slope: float, points: Points) -> _YorkState:
    weights = 1 / (points.u_y**2 + (slope * points.u_x) ** 2)
    x_mean = float(weights @ points.x / weights.sum())
    y_mean = float(weights @ points.y / weights.sum())
    dx, dy = points.x - x_mean, points.y - y_mean
    beta = weights * (dx * points.u_y**2 + slope * dy * points.u_x**2)
    down = float((weights * beta) @ dx)
    new = float((weights * beta) @ dy) / down if down else math.nan
    if not math.isfinite(new):
        raise ValueError("the points do not determine a line")
    return _YorkState(slope=new, x_mean=x_mean, y_mean=y_mean, weights=weights, beta=beta)


def _chi2_p(chi2: float, dof: int) -> float | None:
    from scipy import special

    return float(special.chdtrc(dof, chi2)) if dof > 0 else None
