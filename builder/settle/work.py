"""A run on its grid with its window: what both ways of judging start from."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from builder.figures import Window
from builder.quantity import Estimate, FloatArray
from builder.settle.grid import Grid
from builder.settle.means import LEAST_VALID
from builder.settle.prepare import Prepared
from builder.settle.rule import Channel, SettleRule
from builder.settle.stage import Step, detrended_sd


@dataclass(frozen=True, kw_only=True, eq=False)
class Work:
    """A prepared run, its rule, the window to judge and the grid of its cells."""

    run: Prepared
    rule: SettleRule
    window: Window
    grid: Grid

    @property
    def window_s(self) -> float:
        """Return the window's length in seconds."""
        return self.window.end_s - self.window.start_s

    @property
    def in_window(self) -> NDArray[np.bool_]:
        """Return which cells lie in the window."""
        return self.grid.cell_time > self.window.start_s

    def inside(self, channel: Channel) -> FloatArray:
        """Return a column's samples in the window."""
        return channel.values[self.run.signals.time_s >= self.window.start_s]

    def cells(self, channel: Channel) -> FloatArray:
        """Return a column's means by cell; NaN where missing."""
        return self.grid.cell_means(channel.values)

    def usable(self, channel: Channel | None) -> bool:
        """Return whether a column covers enough of the window."""
        if channel is None or not self.in_window.any():
            return False
        return bool(np.isfinite(self.cells(channel))[self.in_window].mean() >= LEAST_VALID)

    def step(self, channel: Channel) -> Step:
        """Return a column's resolution and the spread of its samples about a line through the window."""
        time = self.run.signals.time_s
        inside = time >= self.window.start_s
        return Step(resolution=channel.resolution, sd=detrended_sd(time[inside], channel.values[inside]))

    @property
    def ambient(self) -> Channel | None:
        """Return the ambient column, None where it was read by hand, not at all, or holds nothing."""
        ambient = self.run.signals.ambient
        column = ambient if isinstance(ambient, Channel) else None
        return column if column is not None and bool(np.isfinite(column.values).any()) else None

    @property
    def has_ambient(self) -> bool:
        """Return whether a rise over ambient can be given at all."""
        return self.ambient is not None or isinstance(self.run.signals.ambient, Estimate)

    def ambient_level(self) -> float:
        """Return the ambient in the window in degrees Celsius, 0 where unknown."""
        ambient = self.run.signals.ambient
        if isinstance(ambient, Estimate):
            return ambient.value
        column = self.ambient
        if column is None:
            return 0.0
        binned = self.grid.bin_means(column.values)
        return float(binned[self.grid.bin_time > self.window.start_s].mean())
