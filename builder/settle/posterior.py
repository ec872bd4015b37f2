"""Weighing pairs of time constants by the data: a linear model for each, with autocorrelated noise; their mixture."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from builder.quantity import FloatArray
from builder.settle.modes import Prior

LEAST_VARIANCE = 1e-8  # K²: below this a series is exact for every purpose here


@dataclass(frozen=True, kw_only=True, eq=False)
class Rows:
    """Rows of a regression: common and mode columns, the response, and how many full rows they are worth."""

    common: FloatArray
    modes: FloatArray
    response: FloatArray
    worth: float


@dataclass(frozen=True, kw_only=True, eq=False)
class PairFits:
    """The fit of each pair, shape (pairs, …): log evidence, coefficients of its modes and their covariance.

    `level` is the constant with its variance; `common` gives the common coefficients of the pair with most evidence.
    """

    pairs: NDArray[np.intp]
    evidence: FloatArray
    modes: FloatArray
    covariance: FloatArray
    level: FloatArray
    level_variance: FloatArray
    common: FloatArray
    best: int

    @property
    def weights(self) -> FloatArray:
        """Return each pair's share of belief."""
        raw = np.exp(self.evidence - self.evidence.max())
        return np.asarray(raw / raw.sum(), dtype=float)


@dataclass(frozen=True, kw_only=True)
class Moments:
    """Mean and standard deviation."""

    mean: float
    sd: float


def fit_pairs(rows: Rows, columns: NDArray[np.intp], prior: Prior, pairs: NDArray[np.intp], *, phi: float) -> PairFits:
    """Return the fits of the chosen pairs, for noise of lag-1 correlation `phi`.

    Rows are whitened by x_t - φ x_{t-1}. Common columns have flat priors and are eliminated; the pair's own have normal
    ones. The noise variance is integrated out. Source: conjugate normal linear model, e.g. Gelman et al., Bayesian Data
    Analysis, 3rd ed. 2013, chapter 14 (value from memory); whitening after Prais and Winsten 1954.
    """
    reduced = _eliminate(rows, phi)
    index = columns[pairs]
    normal = reduced.modes[index[:, :, None], index[:, None, :]]
    right = reduced.cross[index]
    mean, sd = prior.mean[pairs], prior.sd[pairs]
    variance = _noise(normal, right, reduced, mean, sd)
    weight = variance / sd**2
    inverse = np.linalg.inv(normal + weight[:, :, None] * np.eye(index.shape[1]))
    right = right + weight * mean
    modes = np.einsum("ijk,ik->ij", inverse, right)
    squares = reduced.total + (weight * mean**2).sum(axis=1) - (right * modes).sum(axis=1)
    squares = np.maximum(squares, LEAST_VARIANCE * reduced.worth)
    volume = np.linalg.slogdet(inverse)[1] + np.log(weight).sum(axis=1)
    evidence = prior.odds[pairs] + 0.5 * volume - 0.5 * reduced.worth * np.log(squares)
    spread = squares / reduced.worth
    covariance = spread[:, None, None] * inverse
    slopes = reduced.levels[index]
    best = int(np.argmax(evidence))
    return PairFits(
        pairs=pairs,
        evidence=evidence,
        modes=modes,
        covariance=covariance,
        level=reduced.level - (slopes * modes).sum(axis=1),
        level_variance=spread * reduced.level_inverse + np.einsum("ij,ijk,ik->i", slopes, covariance, slopes),
        common=reduced.common - reduced.shift[:, index[best]] @ modes[best],
        best=best,
    )


def mixture(weights: FloatArray, means: FloatArray, variances: FloatArray) -> Moments:
    """Return mean and standard deviation of a mixture, shape (pairs,) each: spread within and between pairs."""
    mean = float(weights @ means)
    return Moments(mean=mean, sd=math.sqrt(max(float(weights @ (variances + (means - mean) ** 2)), 0.0)))


@dataclass(frozen=True, kw_only=True, eq=False)
class _Reduced:
    """Normal equations of the modes with the common columns eliminated."""

    modes: FloatArray
    cross: FloatArray
    total: float
    worth: float
    common: FloatArray
    shift: FloatArray
    level_inverse: float

    @property
    def level(self) -> float:
        return float(self.common[0])

    @property
    def levels(self) -> FloatArray:
        return np.asarray(self.shift[0], dtype=float)


def _eliminate(rows: Rows, phi: float) -> _Reduced:
    stacked = np.column_stack([rows.common, rows.modes, rows.response])
    white = stacked[1:] - phi * stacked[:-1]
    gram = white.T @ white
    c = rows.common.shape[1]
    own = gram[:c, :c] + np.diag([0.0, *([1e-6 * gram[0, 0] + 1e-12] * (c - 1))])  # a column may be empty
    inverse = np.linalg.inv(own)
    solved = inverse @ gram[:c, c:]
    left = gram[c:, c:] - gram[c:, :c] @ solved
    worth = max(rows.worth - 1 - c - 4, 3.0)  # four of a pair's coefficients take up freedom, the rest are held
    return _Reduced(
        modes=left[:-1, :-1],
        cross=left[:-1, -1],
        total=max(float(left[-1, -1]), 0.0),
        worth=worth,
        common=solved[:, -1],
        shift=solved[:, :-1],
        level_inverse=float(inverse[0, 0]),
    )


def _noise(normal: FloatArray, right: FloatArray, reduced: _Reduced, mean: FloatArray, sd: FloatArray) -> float:
    """Return the noise variance of the best pair, which sets the priors' weight: two rounds from a small one."""
    variance = 1e-3
    for _ in range(2):
        weight = variance / sd**2
        pulled = right + weight * mean
        modes = np.linalg.solve(normal + weight[:, :, None] * np.eye(sd.shape[1]), pulled[..., None])[..., 0]
        squares = reduced.total + (weight * mean**2).sum(axis=1) - (pulled * modes).sum(axis=1)
        variance = max(float(squares.min()) / reduced.worth, LEAST_VARIANCE)
    return variance
