"""Even time grids: bins of about a second for filters, cells of about five seconds for statistics."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from builder.core.quantity import FloatArray

CELL_S = 5.0
BIN_S = 1.0
LONGEST_RUN_S = 43_200.0  # twelve hours: no run lasts so long, and no grid
HALF_FULL = 0.5  # a cell with under half of its usual samples is missing


@dataclass(frozen=True, kw_only=True, eq=False)
class Grid:
    """Bins of `bin_s`, `per_cell` of them to a cell, counted back from `end_s`; `cells` cells in all.

    Samples sit half a sampling step inside their bin, so an even log gives every bin the same number.
    """

    bin_s: float
    per_cell: int
    cells: int
    end_s: float
    usual: float  # samples to a cell
    cell_of: NDArray[np.intp]  # of each sample; negative before the grid
    bin_of: NDArray[np.intp]

    @property
    def cell_s(self) -> float:
        """Return a cell's length in seconds."""
        return self.bin_s * self.per_cell

    @property
    def cell_time(self) -> FloatArray:
        """Return the middle of each cell, in seconds of the run."""
        return self.end_s - self.cell_s * (self.cells - 0.5 - np.arange(self.cells, dtype=float))

    @property
    def bin_time(self) -> FloatArray:
        """Return the middle of each bin, in seconds of the run."""
        count = self.cells * self.per_cell
        return self.end_s - self.bin_s * (count - 0.5 - np.arange(count, dtype=float))

    def cell_means(self, values: FloatArray) -> FloatArray:
        """Return the mean of a column in each cell; NaN where under half of the usual samples are there."""
        sums, counts = _sums(values, self.cell_of, self.cells)
        enough = counts >= max(HALF_FULL * self.usual, 1.0)
        return np.where(enough, sums / np.maximum(counts, 1.0), np.nan)

    def bin_means(self, values: FloatArray) -> FloatArray:
        """Return the mean of a column in each bin, gaps bridged by straight lines; NaN only where all is missing."""
        sums, counts = _sums(values, self.bin_of, self.cells * self.per_cell)
        known = counts > 0
        if not known.any():
            return np.full(counts.size, np.nan)
        position = np.arange(counts.size)
        return np.interp(position, position[known], sums[known] / counts[known])

    def to_cells(self, binned: FloatArray) -> FloatArray:
        """Return the mean over each cell of a quantity known in every bin."""
        return np.asarray(binned.reshape(self.cells, self.per_cell).mean(axis=1), dtype=float)


def make_grid(  # noqa: PLR0913 - all named
    time_s: FloatArray, *, start_s: float, end_s: float, step_s: float, cell_s: float = CELL_S, bin_s: float = BIN_S
) -> Grid:
    """Return the grid of a run sampled about every `step_s` seconds, whole cells from about `start_s` to `end_s`.

    `bin_s` and `cell_s` are the least lengths of bins and cells. Raises ValueError for a span longer than any run.
    """
    if not end_s - start_s <= LONGEST_RUN_S:
        raise ValueError(f"{end_s - start_s:g} s is longer than any run")
    bin_s = max(bin_s, step_s)
    per_cell = max(1, round(cell_s / bin_s))
    cell_s = bin_s * per_cell
    cells = max(1, math.floor((end_s - start_s) / cell_s + 0.5 * step_s / cell_s))
    back = (end_s - 0.5 * step_s - time_s) / bin_s
    bin_of = cells * per_cell - 1 - np.floor(np.clip(back, -1e9, 1e9) + 1e-9).astype(np.intp)
    return Grid(
        bin_s=bin_s,
        per_cell=per_cell,
        cells=cells,
        end_s=end_s,
        usual=cell_s / step_s,
        cell_of=np.floor_divide(bin_of, per_cell),
        bin_of=bin_of,
    )


def low_pass(values: FloatArray, *, step_s: float, tau_s: float, start: float) -> FloatArray:
    """Return a first-order low-pass of even series, shape (..., n), starting from `start`.

    Exact for an input that runs straight between samples' middles, to second order in step_s / tau_s.
    """
    from scipy import signal

    keep = math.exp(-step_s / tau_s)
    take = (1 - keep) / 2
    state = np.full((*values.shape[:-1], 1), (take + keep) * start)  # as if the input had always been `start`
    return np.asarray(signal.lfilter([take, take], [1.0, -keep], values, zi=state)[0], dtype=float)


def _sums(values: FloatArray, place: NDArray[np.intp], count: int) -> tuple[FloatArray, FloatArray]:
    valid = np.isfinite(values) & (place >= 0) & (place < count)
    where = place[valid]
    sums = np.bincount(where, values[valid], count)
    return np.asarray(sums, dtype=float), np.asarray(np.bincount(where, minlength=count), dtype=float)
