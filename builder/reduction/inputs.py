"""What reduction works on: the tables read from a bundle's logs, next to the settings they belong to."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace

import numpy as np

from builder.archive.bench import Sensor
from builder.archive.bundle import Run
from builder.archive.catalogue import Setup
from builder.archive.protocol import AmbientBand, SettleLimits, TestPoint
from builder.core.quantity import FloatArray
from builder.core.results import Figure, OverLimit, Quantity, Window
from builder.logs import FrameTable, LogColumn, LogTable
from builder.settling import Channel, SettleRule, WindowMean, window_mean
from builder.settling.window_mean import LARGEST

# A card keeps its mean board power within this of the limit that it is given. Common practice, no source.
LIMIT_SHARE = 0.05


@dataclass(frozen=True, kw_only=True, eq=False)
class RunInput:
    """One run's settings and tables; `table` is already cut to the run."""

    mount: int  # from 1
    run: Run
    table: LogTable
    frames: FrameTable | None = None

    @property
    def length_s(self) -> float:
        """Return the time from the first to the last reading of the log in s."""
        time = self.table.time_s
        return float(time[-1] - time[0]) if time.size > 1 else 0.0

    @property
    def frames_s(self) -> float:
        """Return how long the frames of the frame file took in s; 0 without one."""
        return float(self.frames.frame_ms.sum()) / 1000.0 if self.frames else 0.0

    def inside(self, values: FloatArray, window: Window) -> FloatArray:
        """Return the finite values of a column, shape (n,), that were read in the window, shape (k,)."""
        time = self.table.time_s
        found = values[(time >= window.start_s) & (time < window.end_s)]
        return found[np.isfinite(found)]


@dataclass(frozen=True, kw_only=True, eq=False)
class HandInput:
    """One run whose figures were read by hand."""

    mount: int  # from 1
    run: Run


def limits_of(setup: Setup) -> SettleLimits:
    """Return the protocol's limits for the kind of cooler that was tested."""
    return setup.protocol.liquid if setup.cooler.kind.liquid else setup.protocol.air


def settle_rule(limits: SettleLimits, point: TestPoint, *, coolant_tau_s: float) -> SettleRule:
    """Return the settling rule of a protocol for a kind of cooler and a test point."""
    return SettleRule(
        tau_s=limits.tau_s,
        window_s=point.window_s or limits.window_s,
        soak_s=limits.soak_s if point.soak_s is None else point.soak_s,
        limit_k=limits.limit_k,
        loop_s=point.loop_s,
        coolant_tau_s=coolant_tau_s,
    )


def channel(setup: Setup, given: RunInput, quantity: Quantity) -> Channel | None:
    """Return a logged quantity with its sensor's resolution and accuracy, or None where it was not logged.

    The coarser of the declared resolution and the step seen in the readings counts; an accuracy that the bench does not
    state is assumed.
    """
    column = given.table.columns.get(quantity)
    if column is None or not np.isfinite(column.values).any():
        return None
    seen = column.resolution or 10.0**-column.spelled_decimals  # a column that never moves still has its last digit
    sensor = setup.sensor(quantity)
    accuracy = setup.accuracy(quantity)
    return Channel(
        values=column.values,
        resolution=max(seen, (sensor.resolution or 0.0) if sensor else 0.0),
        accuracy=accuracy.absolute,
        gain=accuracy.pct / 100.0 * _usual(column.values) if accuracy.pct else 0.0,
        sensor=quantity,
        assumed=accuracy.assumed,
    )


def corrected(setup: Setup, given: RunInput) -> RunInput:
    """Return a run with its readings corrected by what their sensors' offsets and gains say."""
    changed = {q: c for q, c in given.table.columns.items() if (s := setup.sensor(q)) and s.corrects}
    if not changed:
        return given
    columns = {q: _corrected(setup.sensor(q), c) if q in changed else c for q, c in given.table.columns.items()}
    return replace(given, table=replace(given.table, columns=columns))


def _corrected(sensor: Sensor | None, column: LogColumn) -> LogColumn:
    if sensor is None:
        return column
    values = column.values * sensor.gain + sensor.offset
    return replace(column, values=values, resolution=column.resolution * sensor.gain)


def _usual(values: FloatArray) -> float:
    """Return the size of the usual reading; 0 where none is a number that a mean would take."""
    known = np.abs(values[np.abs(values) < LARGEST])
    return float(np.median(known)) if known.size else 0.0


def mean_of(
    given: RunInput, logged: Channel, window: Window, quantity: Quantity, point: TestPoint
) -> WindowMean | None:
    """Return the mean of a channel over the window in its quantity's standard unit, or None without samples."""
    found = window_mean(given.table.time_s, logged, window, unit=quantity.unit, loop_s=point.loop_s)
    read_at = given.table.columns[quantity].read_at_s
    if found is None or read_at is None:
        return found
    return replace(found, samples=int(np.sum((read_at >= window.start_s) & (read_at < window.end_s))))


def in_band(band: AmbientBand, figures: Mapping[str, Figure]) -> bool | None:
    """Return whether the room was inside the protocol's band; None where its temperature is not known."""
    ambient = figures.get("ambient_temperature")
    return band.min_c <= ambient.estimate.value <= band.max_c if ambient else None


def over_limit(setup: Setup, point: TestPoint, figures: Mapping[str, Figure]) -> OverLimit | None:
    """Return the power limit that a run exceeds by more than a share and the uncertainty of its power explain."""
    power = figures.get("board_power")
    if power is None or point.power_limit_pct is None:
        return None
    limit = setup.card.board_power_w * point.power_limit_pct / 100.0
    above = power.estimate.value - power.estimate.expanded() > limit * (1.0 + LIMIT_SHARE)
    return OverLimit(limit_w=limit, power=power.estimate) if above else None
