"""Describing a whole run: where it would settle, and how far its window still is from there."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from builder.core.quantity import FloatArray
from builder.settling.course import SKIPPED_S, Design, Drive, Frame, Prior, bin_design, cell_design, mode_grid, prior
from builder.settling.regression import fit_approach
from builder.uncertainty import lag1_correlation

# --- Weighing pairs of time constants by the data: a linear model for each, with autocorrelated noise; their mixture


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


# --- Coarse readings: what a whole-degree reading says of the temperature under it, given a description of the run


SEEN_LEAST = 0.02  # a cell that says almost nothing keeps this weight, so that it cannot run away
_ROOT_TAU = math.sqrt(2 * math.pi)


@dataclass(frozen=True, kw_only=True, eq=False)
class Readings:
    """Samples of a coarse reading: values, step in the same unit, and the bin and cell of each, shape (n,)."""

    values: FloatArray
    step: float
    bin_of: NDArray[np.intp]
    cell_of: NDArray[np.intp]
    cells: int


@dataclass(frozen=True, kw_only=True, eq=False)
class Seen:
    """What the readings say, by cell: a working response, its weight from 0 to 1, and the spread under the rounding."""

    response: FloatArray
    weight: FloatArray
    worth: FloatArray
    sd: float


def see_through(readings: Readings, expected: FloatArray, expected_cells: FloatArray, sd: float) -> Seen:
    """Return the working response of rounded readings about an expected course, by bin and by cell.

    A reading says that the temperature lay within half a step of it. With normal scatter `sd` about the expected
    course, its log-likelihood has the score (x̂ - m)/σ² and the information w/σ², where x̂ and 1 - w are mean and
    variance ratio of the truncated normal; m + (x̂ - m)/w is then a Newton step. Source: interval-censored normal
    likelihood; Johnson, Kotz and Balakrishnan, Continuous Univariate Distributions 1, section 10.1 (from memory).
    """
    middle = expected[readings.bin_of]
    for _ in range(2):
        shift, share = _truncated(readings.values - middle, readings.step, sd)
        sd = float(np.clip(sd * math.sqrt(float(np.mean(share + shift**2))), 0.03 * readings.step, readings.step))
    count = np.bincount(readings.cell_of, minlength=readings.cells)
    seen = np.bincount(readings.cell_of, 1 - share, readings.cells)
    moved = np.bincount(readings.cell_of, shift * sd, readings.cells)
    floor = np.maximum(seen, SEEN_LEAST * np.maximum(count, 1))
    correction = np.clip(moved / floor, -readings.step, readings.step)
    return Seen(
        response=expected_cells + correction,
        weight=floor / np.maximum(count, 1),
        worth=np.minimum(seen, 1.0),
        sd=sd,
    )


def _truncated(offset: FloatArray, step: float, sd: float) -> tuple[FloatArray, FloatArray]:
    """Return mean and variance of a standard normal kept within half a step about `offset`, both in units of sd."""
    from scipy import special

    low, high = (offset - step / 2) / sd, (offset + step / 2) / sd
    mass = special.ndtr(high) - special.ndtr(low)
    far = mass < 1e-9  # noqa: PLR2004 - there the normal is a wall at the nearer edge
    safe = np.where(far, 1.0, mass)
    at_low, at_high = np.exp(-(low**2) / 2) / _ROOT_TAU, np.exp(-(high**2) / 2) / _ROOT_TAU
    mean = np.where(far, np.where(low > 0, low, high), (at_low - at_high) / safe)
    edge = np.where(far, 0.0, low * at_low - high * at_high)
    variance = np.where(far, 0.0, np.clip(1 + edge / safe - mean**2, 0.0, 1.0))
    return mean, variance


FIRST_PHI = 0.5
KEEP, KEEP_COARSE = 10.0, 20.0  # pairs whose log evidence lies further below the best are dropped
ROUNDS = 3
SPARE_ROWS = 12
SURE_AMPLITUDE = 4.0
MODEL_SHARE = 0.07  # of the remaining approach: real convection is not quite linear


@dataclass(frozen=True, kw_only=True, eq=False)
class Target:
    """What is described: cell means about `offset` (shape (bins,) or a constant) and, where coarse, its samples."""

    frame: Frame
    drive: Drive
    cells: FloatArray
    offset: FloatArray
    in_window: NDArray[np.bool_]
    tau_s: float
    readings: Readings | None = None


@dataclass(frozen=True, kw_only=True, eq=False)
class WholeRun:
    """A run described, in K: level at rest over the offset, remaining approach of the window, drift across the window.

    `effective` is the number of independent cells, `tau_s` the time constant that the approach shows, at least the
    declared one, `residuals` the cells' deviations (NaN where unused).
    """

    level: Moments
    remaining: Moments
    drift: float
    tau_s: float
    phi: float
    effective: float
    residuals: FloatArray


def describe(target: Target) -> WholeRun | None:
    """Return the description of a run, or None where it has too few cells for one."""
    design = cell_design(target.frame, target.drive)
    late = target.frame.grid.cell_time - target.frame.start_s >= SKIPPED_S
    used = late & np.isfinite(target.cells)
    if used.sum() < design.common.shape[1] + SPARE_ROWS:
        return None
    rows = _rows(design, used, target.cells)
    tau = _usual_tau(target, used)
    belief = prior(tau)
    possible = np.flatnonzero(np.isfinite(belief.odds))
    fits = fit_pairs(rows, mode_grid().columns, belief, possible, phi=FIRST_PHI)
    phi = _correlation(rows, fits)
    keep = KEEP if target.readings is None else KEEP_COARSE
    pairs = possible[fits.evidence > fits.evidence.max() - keep]
    described = _Described(design=design, used=used, belief=belief, tau_s=tau)
    fits = fit_pairs(rows, mode_grid().columns, belief, pairs, phi=phi)
    if target.readings is not None:
        return _summary(target, described, _coarse(target, target.readings, described, fits))
    return _summary(target, described, _Fitted(rows=rows, fits=fits, phi=phi))


@dataclass(frozen=True, kw_only=True, eq=False)
class _Described:
    design: Design
    used: NDArray[np.bool_]
    belief: Prior
    tau_s: float


@dataclass(frozen=True, kw_only=True, eq=False)
class _Fitted:
    rows: Rows
    fits: PairFits
    phi: float


def _usual_tau(target: Target, used: NDArray[np.bool_]) -> float:
    """Return the time constant that is no surprise: the declared one, or a longer one that the whole approach shows."""
    found = fit_approach(target.frame.grid.cell_time[used], target.cells[used])
    if found is None or found.low_s <= target.tau_s or abs(found.amplitude) <= SURE_AMPLITUDE * found.u_amplitude:
        return target.tau_s
    return found.tau_s


def _rows(design: Design, used: NDArray[np.bool_], response: FloatArray) -> Rows:
    return Rows(common=design.common[used], modes=design.modes[used], response=response[used], worth=float(used.sum()))


def _residuals(rows: Rows, fits: PairFits) -> FloatArray:
    own = mode_grid().columns[fits.pairs[fits.best]]
    fitted = rows.common @ fits.common + rows.modes[:, own] @ fits.modes[fits.best]
    return np.asarray(rows.response - fitted, dtype=float)


def _correlation(rows: Rows, fits: PairFits) -> float:
    return lag1_correlation(_residuals(rows, fits), rows.common.shape[1] + 6)


def _coarse(target: Target, readings: Readings, described: _Described, fits: PairFits) -> _Fitted:
    sd, phi = 0.35 * readings.step, 0.0
    for _ in range(ROUNDS):
        seen = _see(target, readings, fits, sd)
        sd = seen.sd
        rows = _weighted(described, seen)
        fits = fit_pairs(rows, mode_grid().columns, described.belief, fits.pairs, phi=phi)
        phi = _correlation(rows, fits)
    return _Fitted(rows=rows, fits=fits, phi=phi)


def _see(target: Target, readings: Readings, fits: PairFits, sd: float) -> Seen:
    grid, best = mode_grid(), fits.pairs[fits.best]
    chosen = np.array([grid.fast[best], grid.slow[best]])
    design = bin_design(target.frame, target.drive, chosen)
    course = design.common @ fits.common + design.modes @ fits.modes[fits.best]
    shifted = replace(readings, values=readings.values - target.offset[readings.bin_of])
    return see_through(shifted, course, target.frame.grid.to_cells(course), sd)


def _weighted(described: _Described, seen: Seen) -> Rows:
    design, used = described.design, described.used
    weight = np.sqrt(seen.weight[used])
    return Rows(
        common=design.common[used] * weight[:, None],
        modes=design.modes[used] * weight[:, None],
        response=seen.response[used] * weight,
        worth=float(seen.worth[used].sum()),
    )


def _summary(target: Target, described: _Described, fitted: _Fitted) -> WholeRun:
    fits, phi = fitted.fits, fitted.phi
    index = mode_grid().columns[fits.pairs]
    window = described.design.modes[target.in_window]
    to_go, moved = -window.mean(axis=0)[index], (window[-1] - window[0])[index]
    to_go[:, 4:], moved[:, 4:] = 0.0, 0.0  # power and ambient do not settle
    spread = np.einsum("ij,ijk,ik->i", to_go, fits.covariance, to_go)
    plain = _residuals(_rows(described.design, described.used, target.cells), fits)
    return WholeRun(
        level=mixture(fits.weights, fits.level, fits.level_variance),
        remaining=mixture(fits.weights, (to_go * fits.modes).sum(axis=1), spread),
        drift=float(fits.weights @ (moved * fits.modes).sum(axis=1)),
        tau_s=described.tau_s,
        phi=phi,
        effective=max(fitted.rows.worth * (1 - phi) / (1 + phi), 1.0),
        residuals=_spread_out(plain, described.used),
    )


def _spread_out(values: FloatArray, used: NDArray[np.bool_]) -> FloatArray:
    full = np.full(used.size, np.nan)
    full[used] = values
    return full
