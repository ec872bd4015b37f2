"""The columns that describe a run: constants, exponentials, filtered power and filtered ambient."""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import cache, lru_cache

import numpy as np
from numpy.typing import NDArray

from builder.core.quantity import FloatArray
from builder.settling.grid import Grid, low_pass
from builder.settling.regression import loop_columns

# --- What is believed of a run before its data are seen: pairs of time constants, and how large their parts may be


SHORTEST_S, LONGEST_S, RATIO = 12.0, 1600.0, 1.15
APART = 1.6  # two time constants closer than this look like one
SLOW_FROM = 1.6  # of the usual time constant: a part slower than this is a surprise ...
SLOW_PART = 0.06  # ... and so is small, as a share of the rise
SURPRISE = -2.0  # log of the odds of a pair with such a part: about one in eight
ANY_PART = 1.0
POWER_PART, POWER_SPREAD = 0.3, 0.3  # share of the rise that follows power with one of the time constants
AMBIENT_PART, AMBIENT_SPREAD = 0.5, 0.4


@dataclass(frozen=True, kw_only=True, eq=False)
class ModeGrid:
    """Time constants in seconds, shape (k,), and every pair of them that is far enough apart, shape (pairs,)."""

    taus: FloatArray
    fast: NDArray[np.intp]
    slow: NDArray[np.intp]

    @property
    def columns(self) -> NDArray[np.intp]:
        """Return which columns of a design's mode part belong to each pair, shape (pairs, 8).

        A design holds, for all k time constants in turn: exponentials, their derivatives, power, ambient.
        """
        k = self.taus.size
        parts = [b * k + m for b in (0, 1) for m in (self.fast, self.slow)]
        parts += [b * k + m for b in (2, 3) for m in (self.fast, self.slow)]
        return np.stack(parts, axis=1)


@dataclass(frozen=True, kw_only=True, eq=False)
class Prior:
    """Mean and standard deviation of each pair's eight coefficients, as shares of the rise, shape (pairs, 8).

    `odds` are the logarithms of the pairs' own odds, shape (pairs,).
    """

    mean: FloatArray
    sd: FloatArray
    odds: FloatArray


@cache
def mode_grid() -> ModeGrid:
    """Return the grid of time constants."""
    count = int(math.log(LONGEST_S / SHORTEST_S) / math.log(RATIO)) + 1
    taus = SHORTEST_S * RATIO ** np.arange(count, dtype=float)
    fast, slow = np.triu_indices(count, 1)
    apart = taus[slow] / taus[fast] > APART
    return ModeGrid(taus=taus, fast=fast[apart], slow=slow[apart])


@lru_cache(maxsize=32)
def prior(usual_tau_s: float) -> Prior:
    """Return what is believed of each pair's coefficients, given the time constant that is no surprise.

    The derivative's spread is that of a time constant anywhere between two grid points, for a part of its usual size.
    """
    grid = mode_grid()
    part = np.where(grid.taus > SLOW_FROM * usual_tau_s, SLOW_PART, ANY_PART)
    between = part * math.log(RATIO) / math.sqrt(12)
    pairs = grid.fast.size
    flat = np.ones(pairs)
    sd = [part[grid.fast], part[grid.slow], between[grid.fast], between[grid.slow]]
    sd += [POWER_SPREAD * flat] * 2 + [AMBIENT_SPREAD * flat] * 2
    mean = [0.0 * flat] * 4 + [POWER_PART * flat] * 2 + [AMBIENT_PART * flat] * 2
    odds = np.where(part[grid.slow] < ANY_PART, SURPRISE, 0.0)
    odds = np.where(part[grid.fast] < ANY_PART, -np.inf, odds)  # every cooler has a part of usual speed
    return Prior(mean=np.stack(mean, axis=1), sd=np.stack(sd, axis=1), odds=odds)


DIE_S = (3.0, 10.0)  # a die and its plate follow power at once, or within a few seconds: any mixture of these
SKIPPED_S = 60.0  # the first minute belongs to the fast parts of a cooler, which two exponentials do not describe


@dataclass(frozen=True, kw_only=True, eq=False)
class Drive:
    """What drives a run, in its bins: power as a share of its mean in the window less one, ambient less its mean."""

    power: FloatArray
    ambient: FloatArray


@dataclass(frozen=True, kw_only=True, eq=False)
class Design:
    """Columns at some times: `common` of shape (n, c), whose first is 1, and `modes` of shape (n, 4 k) in K."""

    common: FloatArray
    modes: FloatArray

    @property
    def all(self) -> FloatArray:
        """Return common and mode columns side by side."""
        return np.hstack([self.common, self.modes])


@dataclass(frozen=True, kw_only=True, eq=False)
class Frame:
    """Where a run is described: its grid, the start of its load, its loop, and the size of its rise in K."""

    grid: Grid
    start_s: float
    loop_s: float | None
    scale: float


def cell_design(frame: Frame, drive: Drive) -> Design:
    """Return the columns of every time constant, averaged over the cells of the grid."""
    taus, grid = mode_grid().taus, frame.grid
    every = np.arange(taus.size)
    shapes = _shapes(grid.cell_time - frame.start_s, taus)
    power = _to_cells(grid, _responses(frame, drive.power, every, 0.0))
    ambient = _to_cells(grid, _responses(frame, drive.ambient, every, float(drive.ambient[0])))
    modes = np.hstack([frame.scale * shapes, frame.scale * power, ambient])
    die = _to_cells(grid, _die(frame, drive))
    return Design(common=_common(frame, grid.cell_time - frame.start_s, die), modes=modes)


def bin_design(frame: Frame, drive: Drive, chosen: NDArray[np.intp]) -> Design:
    """Return the columns of the chosen time constants in every bin of the grid."""
    grid = frame.grid
    shapes = _shapes(grid.bin_time - frame.start_s, mode_grid().taus[chosen])
    power = _responses(frame, drive.power, chosen, 0.0)
    ambient = _responses(frame, drive.ambient, chosen, float(drive.ambient[0]))
    modes = np.hstack([frame.scale * shapes, frame.scale * power, ambient])
    die = _die(frame, drive)
    return Design(common=_common(frame, grid.bin_time - frame.start_s, die), modes=modes)


def _shapes(time_s: FloatArray, taus: FloatArray) -> FloatArray:
    ages = np.maximum((time_s[:, None] - SKIPPED_S) / taus, -5.0)  # before the first minute nothing is used
    decays = np.exp(-ages)
    return np.hstack([decays, ages * decays])


def _responses(frame: Frame, drive: FloatArray, chosen: NDArray[np.intp], start: float) -> FloatArray:
    if not drive.any():
        return np.zeros((drive.size, chosen.size))
    return _filtered(drive.tobytes(), tuple(mode_grid().taus[chosen].tolist()), frame.grid.bin_s, start)


@lru_cache(maxsize=8)
def _filtered(drive: bytes, taus: tuple[float, ...], step_s: float, start: float) -> FloatArray:
    """Return the drive behind a low-pass of each time constant, kept because all sensors of a run share their drive."""
    values = np.frombuffer(drive)
    columns = np.stack([low_pass(values, step_s=step_s, tau_s=tau, start=start) for tau in taus], axis=1)
    columns.flags.writeable = False
    return columns


def _die(frame: Frame, drive: Drive) -> FloatArray:
    step = frame.grid.bin_s
    return np.stack([low_pass(drive.power, step_s=step, tau_s=tau, start=0.0) for tau in DIE_S], axis=1)


def _to_cells(grid: Grid, binned: FloatArray) -> FloatArray:
    return np.asarray(binned.reshape(grid.cells, grid.per_cell, -1).mean(axis=1), dtype=float)


def _common(frame: Frame, time_s: FloatArray, die: FloatArray) -> FloatArray:
    waves = loop_columns(time_s, frame.loop_s, cells=frame.grid.cells)
    return np.column_stack([np.ones(time_s.size), *(frame.scale * die).T, *waves])
