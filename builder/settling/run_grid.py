"""A run on its grid with its window: what every part of judging starts from."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from builder.core.quantity import Estimate, FloatArray
from builder.core.results import Window
from builder.settling.cleaning import Prepared
from builder.settling.grid import Grid, make_grid
from builder.settling.signals import Channel, SettleRule
from builder.settling.window_mean import LEAST_VALID


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

    @cached_property
    def window_grid(self) -> Grid:
        """Return cells of five seconds over the window, for changes in it."""
        return make_grid(
            self.run.signals.time_s, start_s=self.window.start_s, end_s=self.window.end_s, step_s=self.run.step_s
        )

    @property
    def bins_in_window(self) -> NDArray[np.bool_]:
        """Return which bins lie in the window."""
        return self.grid.bin_time > self.window.start_s

    def cells(self, channel: Channel) -> FloatArray:
        """Return a column's means by cell; NaN where missing."""
        return self.grid.cell_means(channel.values)

    def usable(self, channel: Channel | None) -> bool:
        """Return whether a column covers enough of the window."""
        if channel is None or not self.in_window.any():
            return False
        return bool(np.isfinite(self.cells(channel))[self.in_window].mean() >= LEAST_VALID)

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

    @property
    def coolant(self) -> Channel | None:
        """Return the coolant column where it covers the window."""
        coolant = self.run.signals.coolant
        return coolant if self.usable(coolant) else None

    def ambient_bins(self) -> FloatArray:
        """Return the ambient in degrees Celsius by bin; zeros where unknown."""
        ambient = self.run.signals.ambient
        if isinstance(ambient, Estimate):
            return np.full(self.grid.bin_time.size, ambient.value)
        column = self.ambient
        return np.zeros(self.grid.bin_time.size) if column is None else self.grid.bin_means(column.values)
