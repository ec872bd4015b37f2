"""Cleaning of a run's columns: order, impossible readings, single spikes, and the time at which the load begins."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from numpy.lib.stride_tricks import sliding_window_view
from numpy.typing import NDArray

from builder.core.quantity import Estimate, FloatArray, format_number
from builder.settling.grid import LONGEST_RUN_S
from builder.settling.signals import Channel, Signals

COLDEST_C, HOTTEST_C = -273.15, 1000.0
MOST_W = 1e5
FASTEST_RPM = 1e5
SPIKE_SAMPLES = 11
SPIKE_SPREADS = 6 * 1.4826  # six standard deviations, by the median of deviations
SPIKE_LEAST_K = 2.0
SWING = 0.1  # of the median power, from sample to sample: a temperature that jumps along with it is no spike
SWING_SAMPLES = 3  # the die follows within so many
SEEN_SHARE = 0.02  # of the steps between readings may be finer than the resolution: mended readings, averages
COARSER = 1.2  # times the declared resolution, before that is worth a note
LOAD_SHARE = 0.6  # below this share of its usual power a run has not begun
LOAD_DELAY_S = 5.0


@dataclass(frozen=True, kw_only=True, eq=False)
class Prepared:
    """A run in order of time, from the start of its load, without impossible readings and spikes."""

    signals: Signals
    step_s: float
    start_s: float
    end_s: float
    notes: tuple[str, ...]

    @property
    def length_s(self) -> float:
        """Return the run's length in seconds, its last sample counted in full."""
        return self.end_s - self.start_s

    @property
    def longest_gap_s(self) -> float:
        """Return the longest time between two samples, in seconds."""
        return float(np.diff(self.signals.time_s).max())


def prepare(signals: Signals) -> Prepared | None:
    """Return a run that can be judged, or None with fewer than two samples that hold a temperature."""
    ordered = _ordered(signals)
    if ordered.time_s.size < 2 or np.isfinite(ordered.temperature.values).sum() < 2:  # noqa: PLR2004 - no step
        return None
    possible, notes = _possible(ordered)
    swings = power_swings(possible.power)
    temperature, further = possible.temperature, possible.further
    smooth, removed = despiked(temperature.values, swings)
    if removed:
        notes += (f"{_count(removed, 'spike')} removed from the temperature",)
    seen = seen_resolution(smooth)
    if seen > COARSER * temperature.resolution > 0:
        notes += (f"readings come in steps of {seen:g} K, coarser than the declared {temperature.resolution:g} K",)
    cleaned = replace(
        possible,
        temperature=replace(temperature, values=smooth, resolution=max(seen, temperature.resolution)),
        coolant=None if possible.coolant is None else _resolved(possible.coolant),
        further=tuple(_resolved(replace(c, values=despiked(c.values, swings)[0])) for c in further),
    )
    gaps = np.diff(cleaned.time_s)
    step = float(np.median(gaps[gaps > 0])) if (gaps > 0).any() else 0.0
    if step <= 0 or np.isfinite(smooth).sum() < 2:  # noqa: PLR2004 - no step
        return None
    begins = load_start(cleaned.time_s, cleaned.power)
    if begins > cleaned.time_s[0]:
        notes += (f"load begins {format_number(begins - cleaned.time_s[0], 0)} s into the log",)
    end = float(cleaned.time_s[-1]) + step
    return Prepared(signals=cleaned, step_s=step, start_s=max(begins, end - LONGEST_RUN_S), end_s=end, notes=notes)


def seen_resolution(values: FloatArray) -> float:
    """Return the smallest step between readings that follow each other, shape (n,); 0 where none ever changes.

    Two steps in a hundred may be finer, as a mended or averaged reading leaves them.

    >>> seen_resolution(np.array([40.0, 41.0, 41.0, 43.0, 42.0]))
    1.0
    """
    known = values[np.isfinite(values)]
    steps = np.abs(np.diff(known))
    steps = steps[steps > 1e-9]  # noqa: PLR2004 - arithmetic's own
    return float(f"{np.quantile(steps, SEEN_SHARE, method='higher'):.6g}") if steps.size else 0.0


def _resolved(channel: Channel) -> Channel:
    return replace(channel, resolution=max(seen_resolution(channel.values), channel.resolution))


def power_swings(power: Channel | None) -> NDArray[np.bool_] | None:
    """Return at which samples the power has just jumped by a tenth or more of its median; None without power."""
    if power is None or np.isfinite(power.values).sum() < SPIKE_SAMPLES:
        return None
    usual = float(np.nanmedian(power.values))
    jumps = np.abs(np.diff(power.values, prepend=power.values[0])) > SWING * max(usual, 1.0)
    near = np.convolve(jumps, np.ones(SWING_SAMPLES + 1))[: jumps.size]
    return np.asarray(near > 0)


def despiked(values: FloatArray, swings: NDArray[np.bool_] | None = None) -> tuple[FloatArray, int]:
    """Return a series with single outliers replaced by NaN, and their number.

    A sample is an outlier where it differs from the median of the 11 samples around it by more than six robust standard
    deviations of those, and by more than 2 K, unless board power `swings` there: a duty cycle is real. Source: Hampel
    1974, J. Am. Stat. Assoc. 69, 383, as a running filter.
    """
    if values.size < SPIKE_SAMPLES:
        return values, 0
    side = SPIKE_SAMPLES // 2
    around = sliding_window_view(np.pad(values, side, mode="reflect"), SPIKE_SAMPLES)
    filled = np.where(np.isfinite(around), around, values[:, None])
    # Most samples lie close to their neighbours; medians are worked out for the rest only.
    suspects = np.flatnonzero(np.isfinite(values) & (np.ptp(filled, axis=1) > SPIKE_LEAST_K))
    if not suspects.size:
        return values, 0
    near = around[suspects]
    middle = np.nanmedian(near, axis=1)
    spread = np.nanmedian(np.abs(near - middle[:, None]), axis=1)
    bad = suspects[np.abs(values[suspects] - middle) > np.maximum(SPIKE_SPREADS * spread, SPIKE_LEAST_K)]
    bad = bad if swings is None else bad[~swings[bad]]
    result = values.copy()
    result[bad] = np.nan
    return result, int(bad.size)


def load_start(time_s: FloatArray, power: Channel | None) -> float:
    """Return the time at which the load begins: the run's first, or later where power stays low for over 5 s."""
    first = float(time_s[0])
    if power is None or np.isfinite(power.values).sum() < 10:  # noqa: PLR2004 - too few to say
        return first
    later = power.values[time_s >= (first + float(time_s[-1])) / 2]
    usual = float(np.nanmedian(later)) if np.isfinite(later).any() else 0.0
    loaded = np.flatnonzero(power.values >= LOAD_SHARE * usual)
    if usual <= 0 or not loaded.size:
        return first
    begins = float(time_s[loaded[0]])
    return begins if begins - first > LOAD_DELAY_S else first


def _ordered(signals: Signals) -> Signals:
    usable = np.isfinite(signals.time_s) & (np.abs(signals.time_s) < 1e9)  # noqa: PLR2004 - thirty years
    order = np.flatnonzero(usable)
    order = order[np.argsort(signals.time_s[order], kind="stable")]
    return Signals(
        time_s=signals.time_s[order],
        temperature=replace(signals.temperature, values=signals.temperature.values[order]),
        power=_taken(signals.power, order),
        ambient=signals.ambient if isinstance(signals.ambient, Estimate) else _taken(signals.ambient, order),
        coolant=_taken(signals.coolant, order),
        fan=_taken(signals.fan, order),
        further=tuple(replace(c, values=c.values[order]) for c in signals.further),
    )


def _taken(channel: Channel | None, order: NDArray[np.intp]) -> Channel | None:
    return None if channel is None else replace(channel, values=channel.values[order])


def _possible(signals: Signals) -> tuple[Signals, tuple[str, ...]]:
    counts: dict[str, int] = {}

    def within(channel: Channel, name: str, low: float, high: float) -> Channel:
        bad = ~np.isnan(channel.values) & ~((channel.values >= low) & (channel.values <= high))
        counts[name] = int(bad.sum())
        return replace(channel, values=np.where(bad, np.nan, channel.values))

    ambient, power, coolant, fan = signals.ambient, signals.power, signals.coolant, signals.fan
    cleaned = replace(
        signals,
        temperature=within(signals.temperature, "temperature", COLDEST_C, HOTTEST_C),
        power=None if power is None else within(power, "power", 0.0, MOST_W),
        ambient=within(ambient, "ambient", COLDEST_C, HOTTEST_C) if isinstance(ambient, Channel) else ambient,
        coolant=None if coolant is None else within(coolant, "coolant", COLDEST_C, HOTTEST_C),
        fan=None if fan is None else within(fan, "fan", 0.0, FASTEST_RPM),
        further=tuple(within(c, "further", COLDEST_C, HOTTEST_C) for c in signals.further),
    )
    notes = (
        f"{_count(n, f'impossible {name} reading')} left out" for name, n in counts.items() if n and name != "further"
    )
    return cleaned, tuple(notes)


def _count(number: int, thing: str) -> str:
    return f"{number} {thing}{'' if number == 1 else 's'}"
