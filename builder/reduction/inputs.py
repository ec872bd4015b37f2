"""What reduction works on: the tables read from a bundle's logs, next to the settings they belong to."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np

from builder.archive.bench import Sensor
from builder.archive.bundle import Run
from builder.archive.catalogue import Setting
from builder.archive.protocol import SettleLimits, TestPoint
from builder.core.results import STANDARD_UNITS, Quantity, Window
from builder.logs import FrameTable, LogTable
from builder.settling import Channel, SettleRule, WindowMean, window_mean


@dataclass(frozen=True, kw_only=True, eq=False)
class RunInput:
    """One run's settings and tables; `table` is already cut to the run."""

    mount: int  # from 1
    run: Run
    table: LogTable
    frames: FrameTable | None = None


RunInputs = Mapping[str, tuple[RunInput, ...]]  # bundle id -> its runs


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


def channel(setting: Setting, given: RunInput, quantity: Quantity) -> Channel | None:
    """Return a logged quantity with its sensor's resolution and accuracy, or None where it was not logged."""
    column = given.table.columns.get(quantity)
    if column is None or not np.isfinite(column.values).any():
        return None
    sensor = setting.bench.sensor(quantity)
    seen = column.resolution or 10.0**-column.spelled_decimals  # a column that never moves still has its last digit
    resolution = sensor.resolution if sensor and sensor.resolution else seen
    return Channel(values=column.values, resolution=resolution, accuracy=_accuracy(sensor, column.values))


def _accuracy(sensor: Sensor | None, values: np.ndarray) -> float:
    if sensor is None:
        return 0.0
    relative = (sensor.accuracy_pct or 0.0) / 100.0 * abs(float(np.nanmedian(values)))
    return float(np.hypot(sensor.accuracy or 0.0, relative))


def _limits(setting: Setting) -> SettleLimits:
    return setting.protocol.liquid if setting.cooler.kind.liquid else setting.protocol.air


def mean_of(
    given: RunInput, logged: Channel, window: Window, quantity: Quantity, point: TestPoint
) -> WindowMean | None:
    """Return the mean of a channel over the window in its quantity's standard unit, or None without samples."""
    return window_mean(given.table.time_s, logged, window, unit=STANDARD_UNITS[quantity], loop_s=point.loop_s)
