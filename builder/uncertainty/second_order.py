"""Curves of second order where a straight line does not describe the points, and whether they earn their place."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np

from builder.core.quantity import Estimate, FloatArray
from builder.core.results import Bend
from builder.uncertainty.straight_lines import (
    LACK_OF_FIT_P,
    ROUNDS,
    TOLERANCE,
    Line,
    Points,
    upper_tail,
    widened_by_lack_of_fit,
    york_line,
)

COEFFICIENTS = 3  # one point more can contradict them


def second_order(points: Points, line: Line, *, unit: str) -> Line:
    """Return the curve of second order through points whose straight line is given, by effective variances.

    y = a + b x + c q(x), with q(x) = x² - q1 x - q0 orthogonal to 1 and x under the weights, so that the error of c is
    independent of those of a and b; `unit` is that of c. A point weighs 1 / (u_y² + (dy/dx)² u_x²), with the slope
    where it stands. Raises ValueError with fewer than three points, or where the slopes do not settle. Source of the
    weights: Orear 1982, Am. J. Phys. 50, 912 (value from memory).
    """
    if points.x.size < COEFFICIENTS:
        raise ValueError("a curve of second order needs three points")
    slopes = np.full(points.x.size, line.slope.value)
    steepest = float(np.ptp(points.y) / np.ptp(points.x))
    for _ in range(ROUNDS):
        curve = _weighted_curve(points, 1 / (points.u_y**2 + (slopes * points.u_x) ** 2), line, unit)
        bend = curve.bend
        local = curve.slope.value + (2 * points.x - bend.q1) * bend.coefficient.value if bend else slopes
        if float(np.abs(local - slopes).max()) <= TOLERANCE * max(float(np.abs(local).max()), steepest):
            return curve
        slopes = local
    raise ValueError("the curve through points uncertain in both directions did not settle")


def _weighted_curve(points: Points, weights: FloatArray, line: Line, unit: str) -> Line:
    total = float(weights.sum())
    mean = float(weights @ points.x) / total
    off = points.x - mean
    by_slope = float(weights @ off**2)
    skew, spread = float(weights @ off**3) / by_slope, by_slope / total
    shape = off**2 - skew * off - spread
    by_bend = float(weights @ shape**2)
    slope, bend = float((weights * off) @ points.y) / by_slope, float((weights * shape) @ points.y) / by_bend
    middle = float(weights @ points.y) / total
    chi2 = float(weights @ (points.y - middle - slope * off - bend * shape) ** 2)
    return Line(
        intercept=replace(line.intercept, value=middle - slope * mean, u=math.sqrt(1 / total + mean**2 / by_slope)),
        slope=replace(line.slope, value=slope, u=math.sqrt(1 / by_slope)),
        covariance=-mean / by_slope,
        chi2=chi2,
        chi2_p=upper_tail(chi2, points.x.size - COEFFICIENTS),
        bend=Bend(
            coefficient=Estimate(value=bend, u=math.sqrt(1 / by_bend), unit=unit),
            q1=2 * mean + skew,
            q0=spread - mean * (mean + skew),
        ),
    )


def earns_its_place(curve: Line, count: int) -> bool:
    """Return whether the second order explains more of `count` points than chance does, at 5 %.

    Where the curve describes the points within their own uncertainty, the term is judged by that: chi-squared with one
    degree of freedom, (c / u_c)². Where the points scatter by more, it is an F test by their residuals:
    F = (chi2 of the straight line - chi2 of the curve) / (chi2 of the curve / (n - 3)) with 1 and n - 3 degrees of
    freedom, whose upper part is (c / u_c)² again, since the term is orthogonal to the others. Source: NIST/SEMATECH
    e-Handbook of Statistical Methods, 4.4.4.6 and 4.6.1 (value from memory).
    """
    from scipy import special

    if curve.bend is None or curve.chi2_p is None:
        return False
    free = count - COEFFICIENTS
    explained = (curve.bend.coefficient.value / curve.bend.coefficient.u) ** 2
    if curve.chi2_p >= LACK_OF_FIT_P:
        return float(special.chdtrc(1, explained)) < LACK_OF_FIT_P
    return float(special.fdtrc(1, free, explained * free / curve.chi2)) < LACK_OF_FIT_P


def line_or_curve(points: Points, *, unit: str, slope_unit: str, bend_unit: str) -> Line:
    """Return the curve of second order through four points or more where that earns its place, else York's line.

    What the points show beyond their own uncertainty is inside the band of either. A line that nothing contradicts
    still allows for a bend that three points or more could not show: of coefficient 0 with u = sqrt(c² + u_c²), by the
    bend that they do show. Raises ValueError as `york_line`.
    """
    line = york_line(points, unit=unit, slope_unit=slope_unit)
    try:
        curve = second_order(points, line, unit=bend_unit)
    except ValueError:  # two points, or no curve settles
        return widened_by_lack_of_fit(points, line)
    if earns_its_place(curve, points.x.size):
        return widened_by_lack_of_fit(points, curve)
    if curve.bend is None or (line.chi2_p or 0.0) < LACK_OF_FIT_P:
        return widened_by_lack_of_fit(points, line)
    seen = curve.bend.coefficient
    unseen = replace(seen, value=0.0, u=math.hypot(seen.value, seen.u))
    return replace(line, bend=replace(curve.bend, coefficient=unseen))
