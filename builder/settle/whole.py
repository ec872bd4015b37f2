"""Describing a whole run: where it would settle, and how far its window still is from there."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from builder.quantity import FloatArray
from builder.settle.approach import fit_approach
from builder.settle.design import SKIPPED_S, Design, Drive, Frame, bin_design, cell_design
from builder.settle.modes import Prior, mode_grid, prior
from builder.settle.posterior import Moments, PairFits, Rows, fit_pairs, mixture
from builder.settle.staircase import Readings, Seen, see_through
from builder.uncertainty import lag1_correlation

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
