"""Straight lines against published ones and independent libraries."""

from __future__ import annotations

import math

import numpy as np
import pytest
import statsmodels.api as sm
from GTC import get_covariance, type_b, uncertainty, ureal, value
from scipy import stats

from builder.core.quantity import Estimate
from builder.uncertainty import Line, Points, line_value, widened_by_lack_of_fit, york_line


def at(line: Line, x: float) -> Estimate:
    return line_value(line.intercept, line.slope, line.covariance, x)


# Pearson's data with York's weights, as printed in York 1966 and in the documentation of GTC's line_fit_wtls.
PEARSON_X = np.array([0.0, 0.9, 1.8, 2.6, 3.3, 4.4, 5.2, 6.1, 6.5, 7.4])
PEARSON_Y = np.array([5.9, 5.4, 4.4, 4.6, 3.5, 3.7, 2.8, 2.8, 2.4, 1.5])
WEIGHT_X = np.array([1000.0, 1000, 500, 800, 200, 80, 60, 20, 1.8, 1])
WEIGHT_Y = np.array([1.0, 1.8, 4, 8, 20, 20, 70, 70, 100, 500])
PEARSON = Points(x=PEARSON_X, y=PEARSON_Y, u_x=1 / np.sqrt(WEIGHT_X), u_y=1 / np.sqrt(WEIGHT_Y))


def test_pearsons_data_with_yorks_weights_have_the_published_line() -> None:
    # York 1966: intercept 5.47991, slope -0.480533; York et al. 2004: u 0.295 and 0.0580 (values from memory).
    line = york_line(PEARSON, unit="", slope_unit="")
    assert line.intercept.value == pytest.approx(5.47991022, abs=5e-8)
    assert line.slope.value == pytest.approx(-0.48053341, abs=5e-8)
    assert line.chi2 == pytest.approx(8 * 1.483294, abs=1e-4)
    assert line.intercept.u == pytest.approx(0.295, abs=5e-4)
    assert line.slope.u == pytest.approx(0.0580, abs=5e-5)


def test_gtc_gives_the_same_line_with_errors_in_both() -> None:
    # GTC uses Krystek and Anton 2011, another algorithm; its covariance is a first-order one of its own.
    x = [ureal(v, u) for v, u in zip(PEARSON.x, PEARSON.u_x, strict=True)]
    y = [ureal(v, u) for v, u in zip(PEARSON.y, PEARSON.u_y, strict=True)]
    a, b = type_b.line_fit_wtls(x, y).a_b
    line = york_line(PEARSON, unit="", slope_unit="")
    assert line.intercept.value == pytest.approx(value(a), abs=1e-6)
    assert line.slope.value == pytest.approx(value(b), abs=1e-6)
    assert line.intercept.u == pytest.approx(uncertainty(a), rel=0.02)
    assert line.slope.u == pytest.approx(uncertainty(b), rel=0.02)
    assert line.covariance == pytest.approx(get_covariance(a, b), rel=0.04)


def test_exact_x_reduces_the_line_to_weighted_least_squares() -> None:
    u_y = np.array([0.1, 0.2, 0.1, 0.3])
    x, y = np.array([100.0, 150.0, 200.0, 300.0]), np.array([10.1, 15.3, 19.8, 30.2])
    line = york_line(Points(x=x, y=y, u_x=np.zeros(4), u_y=u_y), unit="K", slope_unit="K/W")
    covariance = sm.WLS(y, sm.add_constant(x), weights=1 / u_y**2).fit(cov_type="fixed scale").cov_params()
    fit = sm.WLS(y, sm.add_constant(x), weights=1 / u_y**2).fit()
    assert line.slope.value == pytest.approx(fit.params[1], rel=1e-9)
    assert line.slope.u == pytest.approx(math.sqrt(covariance[1, 1]), rel=1e-9)
    assert line.covariance == pytest.approx(covariance[0, 1], rel=1e-9)
    assert line.chi2_p == pytest.approx(stats.chi2.sf(line.chi2, 2), rel=1e-9)


def test_a_line_that_does_not_fit_shows_in_its_chi_squared() -> None:
    x = np.array([100.0, 200.0, 300.0, 400.0])
    points = Points(x=x, y=(x / 100) ** 2, u_x=np.full(4, 0.5), u_y=np.full(4, 0.1))
    p = york_line(points, unit="K", slope_unit="K/W").chi2_p
    assert p is not None
    assert p < 1e-6


def test_two_points_give_a_line_without_a_check() -> None:
    points = Points(x=np.array([100.0, 300.0]), y=np.array([10.0, 30.0]), u_x=np.ones(2), u_y=np.full(2, 0.1))
    line = york_line(points, unit="K", slope_unit="K/W")
    assert line.slope.value == pytest.approx(0.1)
    assert line.chi2_p is None
    # By hand: u of the mean of two is each point's u over root two; each point's u is (0.1, 0.1 * 1) in quadrature.
    assert at(line, 200.0).u == pytest.approx(math.hypot(0.1, 0.1) / math.sqrt(2), rel=1e-9)


def test_the_predicted_correction_of_a_thermometer_needs_the_covariance() -> None:
    # JCGM 100:2008, H.3.3 and H.3.4, with more digits worked out by hand: -0.1494 with u 0.0041 at 30 degrees, which
    # is 10 from the origin; 9 degrees of freedom.
    intercept = Estimate(value=-0.171204, u=0.0028776, unit="K", dof=9)
    slope = Estimate(value=0.00218270, u=0.00066794, unit="", dof=9)
    predicted = line_value(intercept, slope, -0.93043 * intercept.u * slope.u, 10.0)
    assert predicted.value == pytest.approx(-0.149377, abs=5e-7)
    assert predicted.u == pytest.approx(0.0041386, abs=5e-7)
    assert predicted.dof == 9
    without = math.hypot(intercept.u, 10 * slope.u)
    assert without > 1.7 * predicted.u


def test_points_at_one_power_are_refused() -> None:
    same = Points(x=np.full(3, 200.0), y=np.array([1.0, 2.0, 3.0]), u_x=np.ones(3), u_y=np.ones(3))
    with pytest.raises(ValueError, match="spread"):
        york_line(same, unit="K", slope_unit="K/W")


def test_intervals_of_a_line_with_errors_in_both_cover() -> None:
    # Monte Carlo with a fixed seed: rise = 2 + 0.08 power.
    rng, hits = np.random.default_rng(5), 0
    power = np.array([150.0, 200.0, 250.0, 300.0])
    for _ in range(400):
        x, y = power + rng.normal(0, 2, 4), 2 + 0.08 * power + rng.normal(0, 0.2, 4)
        line = york_line(Points(x=x, y=y, u_x=np.full(4, 2.0), u_y=np.full(4, 0.2)), unit="K", slope_unit="K/W")
        found = at(line, 275.0)
        hits += abs(found.value - 24.0) <= found.expanded()
    assert 0.92 <= hits / 400 <= 0.98


# --- Lack of fit

# Invented: three repeats at each of four powers.
LEVELS = np.array([150.0, 200.0, 250.0, 300.0])
REPEATS = np.array([[20.1, 20.3, 20.2], [26.9, 27.1, 26.8], [33.0, 33.3, 33.2], [38.6, 38.9, 38.7]])


def means_of_repeats() -> tuple[Points, float]:
    """Return the means with the pure error of each, and the pure error's mean square."""
    pure = float(((REPEATS - REPEATS.mean(axis=1, keepdims=True)) ** 2).sum()) / 8
    u = np.full(4, math.sqrt(pure / 3))
    return Points(x=LEVELS, y=REPEATS.mean(axis=1), u_x=np.zeros(4), u_y=u), pure


def test_chi_squared_over_its_freedom_is_the_textbooks_f_of_lack_of_fit() -> None:
    # NIST/SEMATECH e-Handbook 4.4.4.6 (value from memory): F = lack-of-fit mean square over pure-error mean square,
    # here by statsmodels as a straight line against one mean for each level.
    straight = sm.OLS(REPEATS.ravel(), sm.add_constant(np.repeat(LEVELS, 3))).fit()
    free = sm.OLS(REPEATS.ravel(), np.repeat(np.eye(4), 3, axis=0)).fit()
    expected = float(free.compare_f_test(straight)[0])
    points, _ = means_of_repeats()
    line = york_line(points, unit="K", slope_unit="K/W")
    assert line.chi2 / 2 == pytest.approx(expected, rel=1e-6)


def test_lack_of_fit_widens_the_band_to_the_prediction_interval_of_least_squares() -> None:
    # Without uncertainty of the points' own, this is the textbook's prediction at a new x: statsmodels, obs_ci.
    points, _ = means_of_repeats()
    exact = Points(x=points.x, y=points.y, u_x=points.u_x, u_y=np.full(4, 1e-6))
    line = widened_by_lack_of_fit(exact, york_line(exact, unit="K", slope_unit="K/W"))
    fit = sm.OLS(points.y, sm.add_constant(points.x)).fit()
    for x in (150.0, 225.0, 260.0):
        frame = fit.get_prediction([[1.0, x]]).summary_frame(alpha=0.05)
        found = line_value(line.intercept, line.slope, line.covariance, x)
        assert found.value == pytest.approx(float(frame["mean"].iloc[0]), rel=1e-9)
        assert found.expanded() == pytest.approx(float((frame["obs_ci_upper"] - frame["mean"]).iloc[0]), rel=1e-4)


def test_a_line_that_its_points_uncertainty_explains_is_left_alone() -> None:
    points, _ = means_of_repeats()
    wide = Points(x=points.x, y=points.y, u_x=points.u_x, u_y=np.full(4, 1.0))
    line = york_line(wide, unit="K", slope_unit="K/W")
    assert widened_by_lack_of_fit(wide, line) is line
