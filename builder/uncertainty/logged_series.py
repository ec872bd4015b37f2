"""Means of logged series: samples that depend on each other, and readings in whole steps."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from builder.core.quantity import Estimate, FloatArray

MAX_LAG1 = 0.97  # beyond this a mean over the window says nothing about its own spread


@dataclass(frozen=True, kw_only=True)
class SeriesMean:
    """Mean of a series with the number of independent samples that it is worth."""

    estimate: Estimate
    effective_samples: float
    lag1: float
    sd: float


def lag1_correlation(residuals: FloatArray, fitted: int = 1) -> float:
    """Return the lag-1 autocorrelation of residuals, shape (n,), corrected for `fitted` parameters, in [0, 0.97].

    Fitting takes correlation out of the residuals; (r + p/n) / (1 - 2p/n) puts it back on average (first order in
    1/n; our derivation, after Marriott and Pope 1954, value from memory). NaN pairs are left out.
    """
    centred = residuals - np.nanmean(residuals) if np.isfinite(residuals).any() else residuals
    products = centred[:-1] * centred[1:]
    pairs, n = np.isfinite(products), int(np.isfinite(centred).sum())
    spread = float(np.nanmean(centred**2)) if n else 0.0
    if pairs.sum() < 3 or n <= 2 * fitted or spread <= 0:  # noqa: PLR2004 - too few pairs to say anything
        return 0.0
    raw = float(products[pairs].mean()) / spread
    return float(np.clip((raw + fitted / n) / (1 - 2 * fitted / n), 0.0, MAX_LAG1))


def ar1_inflation(rho: float, n: float = math.inf) -> float:
    """Return by how much the variance of a mean of n samples of an AR(1) series exceeds that of independent ones.

    `rho` is the lag-1 correlation, below 1 in size (ValueError). Exact for finite n:
    (1+ρ)/(1-ρ) - 2ρ(1-ρⁿ) / (n (1-ρ)²), from summing ρ^|i-j|.

    >>> round(ar1_inflation(0.5, 100), 2), ar1_inflation(0.5)
    (2.96, 3.0)
    """
    if not abs(rho) < 1:
        raise ValueError(f"lag-1 correlation must lie inside -1 and 1, not {rho!r}")
    tail = 0.0 if math.isinf(n) else 2 * rho * (1 - rho**n) / (n * (1 - rho) ** 2)
    return (1 + rho) / (1 - rho) - tail


def series_mean(values: FloatArray, unit: str, *, lag1: float | None = None) -> SeriesMean | None:
    """Return the mean of an evenly spaced series, shape (n,), with the uncertainty that its autocorrelation leaves.

    NaN is missing. `lag1` replaces the correlation found in the data. The effective number of samples is n over the
    AR(1) variance inflation; degrees of freedom are one less, at least 1. None with fewer than two samples.
    """
    valid = values[np.isfinite(values)]
    n = valid.size
    if n < 2:  # noqa: PLR2004 - one sample has no spread
        return None
    rho = lag1_correlation(values) if lag1 is None else lag1
    effective = max(n / ar1_inflation(rho, n), 1.0)
    sd = float(valid.std(ddof=1))
    estimate = Estimate(value=float(valid.mean()), u=sd / math.sqrt(effective), unit=unit, dof=max(effective - 1, 1.0))
    return SeriesMean(estimate=estimate, effective_samples=effective, lag1=rho, sd=sd)


def dithering_factor(sd: float, resolution: float) -> float:
    """Return the share κ of the resolution error that noise of standard deviation `sd` does not average away.

    κ = exp(-2π²σ²/q²), the first harmonic of the staircase's mean error; `sd` and `resolution` in one unit.
    Source: Widrow and Kollár, Quantization Noise, 2008, chapter on dither (value from memory).

    >>> round(dithering_factor(0.25, 1.0), 4)
    0.2912
    """
    return 0.0 if resolution <= 0 else math.exp(-2 * (math.pi * sd / resolution) ** 2)


def quantisation_u(observed_sd: float, resolution: float, effective_samples: float) -> float:
    """Return the standard uncertainty that a reading's resolution leaves in a mean, in the unit of `resolution`.

    `observed_sd` is that of the rounded samples about their trend, so q²/12 is taken off to find the noise under
    them; what noise dithers away shrinks as 1/√n instead. Source: JCGM 100:2008, F.2.2.1 for q/√12.
    """
    noise = math.sqrt(max(observed_sd**2 - resolution**2 / 12, 0.0))
    left = max(dithering_factor(noise, resolution), 1 / math.sqrt(max(effective_samples, 1.0)))
    return resolution / math.sqrt(12) * left
