"""Curves of second order, and the F test that lets them in, against the load cell of NIST and independent libraries."""

from __future__ import annotations

import math

import numpy as np
import pytest
import statsmodels.api as sm

from builder.core.quantity import FloatArray
from builder.uncertainty import Line, Points, earns_its_place, line_or_curve, second_order, value_at, york_line

# NIST StRD Pontius, the load cell of NIST/SEMATECH e-Handbook 4.6.1: deflections in 1/1000 at 20 loads, each twice
# (values from memory; the certified coefficients below hold them).
LOADS = np.linspace(150_000.0, 3_000_000.0, 20)
FIRST = """110.19 219.56 329.49 438.99 548.03 656.94 765.62 874.87 982.92 1091.46
1200.01 1308.22 1415.99 1523.99 1631.94 1739.47 1846.46 1953.92 2061.28 2168.44"""
SECOND = """110.52 220.18 329.39 438.86 547.98 657.39 765.96 874.74 983.00 1091.50
1200.04 1308.18 1416.13 1524.08 1631.59 1739.65 1846.96 1954.45 2061.77 2168.29"""
DEFLECTIONS = np.array([[float(word) / 1000 for word in text.split()] for text in (FIRST, SECOND)])
PURE = (
    float(((DEFLECTIONS[0] - DEFLECTIONS[1]) ** 2 / 2).sum()) / 20
)  # mean square of the repeats, 20 degrees of freedom


def load_cell() -> Points:
    """Return the means of two with the pure error of each."""
    return Points(x=LOADS, y=DEFLECTIONS.mean(axis=0), u_x=np.zeros(20), u_y=np.full(20, math.sqrt(PURE / 2)))


def through(points: Points) -> Line:
    return line_or_curve(points, unit="K", slope_unit="K/W", bend_unit="K/W**2")


def plain_coefficients(curve: Line) -> tuple[float, float, float]:
    """Return the coefficients of 1, x and x²."""
    assert curve.bend
    c = curve.bend.coefficient.value
    return curve.intercept.value - c * curve.bend.q0, curve.slope.value - c * curve.bend.q1, c


def test_the_f_tests_of_lack_of_fit_are_the_handbooks() -> None:
    # NIST/SEMATECH e-Handbook 4.4.4.6 and 4.6.1: F = 214.75 with 18 and 20 degrees of freedom for the straight line,
    # 0.8107 with 17 and 20 for the quadratic; standard deviation of the repeats 0.0002147 (values from memory).
    assert math.sqrt(PURE) == pytest.approx(0.2147264895e-3, rel=1e-6)
    points = load_cell()
    line = york_line(points, unit="K", slope_unit="K/W")
    assert line.chi2 / 18 == pytest.approx(214.75, abs=0.01)
    assert second_order(points, line, unit="K/W**2").chi2 / 17 == pytest.approx(0.8107, abs=5e-5)


def test_the_curve_through_the_load_cell_has_the_certified_coefficients() -> None:
    # NIST StRD Pontius, certified: 0.673565789473684E-03, 0.732059160401003E-06, -0.316081871345029E-14.
    curve = through(load_cell())
    expected = (0.673565789473684e-3, 0.732059160401003e-6, -0.316081871345029e-14)
    assert plain_coefficients(curve) == pytest.approx(expected, rel=1e-9)
    assert curve.lack_of_fit == 0


def test_exact_x_reduces_the_curve_to_weighted_least_squares() -> None:
    x, u_y = np.array([150.0, 180.0, 220.0, 260.0, 300.0]), np.array([0.1, 0.2, 0.1, 0.3, 0.1])
    y = 2 + 0.05 * x + 2e-4 * x**2 + np.array([0.05, -0.1, 0.08, 0.1, -0.04])
    points = Points(x=x, y=y, u_x=np.zeros(5), u_y=u_y)
    curve = second_order(points, york_line(points, unit="K", slope_unit="K/W"), unit="K/W**2")
    fit = sm.WLS(y, np.vander(x, 3, increasing=True), weights=1 / u_y**2).fit(cov_type="fixed scale")
    assert plain_coefficients(curve) == pytest.approx(tuple(fit.params), rel=1e-7)
    for at in (150.0, 233.0, 300.0):
        mean = fit.get_prediction([[1.0, at, at**2]])
        assert value_at(curve, at).value == pytest.approx(float(mean.predicted_mean[0]), rel=1e-9)
        assert value_at(curve, at).u == pytest.approx(float(mean.se_mean[0]), rel=1e-6)


def test_the_f_test_of_the_second_order_is_that_of_nested_models() -> None:
    # Points that scatter by more than they state; statsmodels, straight line inside the quadratic: with 5 points the
    # two F tests decide alike on both sides of 5 %.
    x, u_y = np.array([150.0, 180.0, 220.0, 260.0, 300.0]), np.full(5, 0.01)
    decided = set()
    for bend in np.linspace(0, 4e-4, 41):
        y = 2 + 0.1 * x + bend * (x - 225) ** 2 + np.array([0.05, -0.1, 0.08, 0.0, -0.04])
        points = Points(x=x, y=y, u_x=np.zeros(5), u_y=u_y)
        curve = second_order(points, york_line(points, unit="K", slope_unit="K/W"), unit="K/W**2")
        full = sm.OLS(y, np.vander(x, 3, increasing=True)).fit()
        p = float(full.compare_f_test(sm.OLS(y, sm.add_constant(x)).fit())[1])
        assert earns_its_place(curve, 5) is (p < 0.05)
        decided.add(p < 0.05)
    assert decided == {True, False}


def bent(x: FloatArray, exponent: float) -> FloatArray:
    return np.asarray(40.0 * (x / 300.0) ** exponent)


def test_a_line_that_its_points_do_not_reject_stays_a_line_and_so_do_three_points() -> None:
    x = np.linspace(180.0, 300.0, 5)
    loose = Points(x=x, y=bent(x, 1.2), u_x=np.full(5, 0.5), u_y=np.full(5, 0.5))
    assert through(loose).order == 1
    three = x[::2]
    tight = Points(x=three, y=bent(three, 1.2), u_x=np.full(3, 0.1), u_y=np.full(3, 0.02))
    line = through(tight)
    assert line.order == 1
    assert line.lack_of_fit > 0
    two = Points(x=three[:2], y=tight.y[:2], u_x=tight.u_x[:2], u_y=tight.u_y[:2])
    assert through(two).bend is None
    with pytest.raises(ValueError, match="three points"):
        second_order(two, line, unit="K/W**2")


def test_a_line_allows_for_the_bend_that_its_points_could_not_show() -> None:
    # Half-way between two of three points a curve lies off its chord by c (h² - (x - x̄)²) - that of the middle: by hand
    # q = x² - 2·240 x + 240² - 2·60²/3 for points at 180, 240 and 300 W, so q(240) = -2400 and q(180) = 1200.
    x = np.array([180.0, 240.0, 300.0])
    points = Points(x=x, y=2 + 0.14 * x + np.array([0.0, 0.03, 0.0]), u_x=np.zeros(3), u_y=np.full(3, 0.03))
    line = through(points)
    assert line.bend
    assert (line.order, line.bend.coefficient.value, line.lack_of_fit) == (1, 0.0, 0.0)
    assert (line.bend.shape(240.0), line.bend.shape(180.0)) == pytest.approx((-2400.0, 1200.0))
    # c = Σ q y / Σ q², with Σ q² = 2·1200² + 2400²; u_c = 0.03 / sqrt(Σ q²).
    square = 2 * 1200.0**2 + 2400.0**2
    assert line.bend.coefficient.u == pytest.approx(math.hypot(-2400 * 0.03 / square, 0.03 / math.sqrt(square)))
    assert value_at(line, 240.0).u == pytest.approx(math.hypot(0.03 / math.sqrt(3), 2400 * line.bend.coefficient.u))


def test_points_that_jump_about_get_a_wider_line_and_no_curve() -> None:
    x = np.linspace(180.0, 300.0, 5)
    y = 2 + 0.13 * x + np.array([1.0, -1.0, 1.0, -1.0, 1.0])
    line = through(Points(x=x, y=y, u_x=np.full(5, 0.1), u_y=np.full(5, 0.05)))
    assert line.order == 1
    assert line.lack_of_fit == pytest.approx(math.sqrt(4.8 / 3), abs=0.02)


def test_a_curve_that_its_points_reject_has_its_lack_of_fit_in_its_band() -> None:
    # Without uncertainty of the points' own: the prediction at a new x of least squares, statsmodels, obs_ci.
    x = np.linspace(180.0, 300.0, 7)
    y = bent(x, 1.5) + 0.01 * np.array([1, -1, 1, -1, 1, -1, 1])
    curve = through(Points(x=x, y=y, u_x=np.zeros(7), u_y=np.full(7, 1e-6)))
    assert curve.bend is not None
    fit = sm.OLS(y, np.vander(x, 3, increasing=True)).fit()
    for at in (180.0, 225.0, 290.0):
        frame = fit.get_prediction([[1.0, at, at**2]]).summary_frame(alpha=0.05)
        assert value_at(curve, at).expanded() == pytest.approx(
            float((frame["obs_ci_upper"] - frame["mean"]).iloc[0]), rel=2e-3
        )


@pytest.mark.parametrize("exponent", [1.0, 1.15, 1.3])
def test_bands_of_line_or_curve_cover(exponent: float) -> None:
    # Monte Carlo with a fixed seed, errors in both; the truth is a power law, as of a fan that speeds up.
    rng, x, hits, curves = np.random.default_rng(7), np.linspace(180.0, 300.0, 5), 0, 0
    for _ in range(200):
        seen = Points(
            x=x + rng.normal(0, 0.3, 5),
            y=bent(x, exponent) + rng.normal(0, 0.08, 5),
            u_x=np.full(5, 0.3),
            u_y=np.full(5, 0.08),
        )
        found = through(seen)
        curves += found.order - 1
        hits += sum(
            abs(value_at(found, at).value - float(bent(np.array(at), exponent))) <= value_at(found, at).expanded()
            for at in (185.0, 225.0, 270.0, 295.0)
        )
    assert hits / 800 >= 0.93
    assert curves / 200 < 0.1 if exponent == 1.0 else curves > 0
