"""The columns that describe a run: constants, exponentials, filtered power and filtered ambient."""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache

import numpy as np
from numpy.typing import NDArray

from builder.quantity import FloatArray
from builder.settle.grid import Grid, low_pass
from builder.settle.modes import mode_grid
from builder.settle.regress import loop_columns

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
