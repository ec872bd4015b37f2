"""The settling rule of a protocol, and the inputs and results of judging a run."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

import numpy as np
from numpy.lib.stride_tricks import sliding_window_view
from numpy.typing import NDArray

from builder.core.quantity import Estimate, FloatArray, format_number
from builder.core.results import Component, Quantity, Settlement, Window
from builder.core.words import count
from builder.uncertainty import Instrument, instrument_lines

SHORTEST_WINDOW_S = 300.0
LOOPS_IN_WINDOW = 3

# Names of budget lines, for readers alone.
SCATTER = "scatter of the samples"
RESOLUTION = "sensor resolution"
REMAINING = "remaining approach"
POWER_SCATTER = "scatter of board power"
ACCURACY = "sensor accuracy"
AMBIENT_RESOLUTION = "ambient sensor resolution"
COOLANT_RESOLUTION = "coolant sensor resolution"
AMBIENT_ACCURACY = "ambient sensor accuracy"
COOLANT_ACCURACY = "coolant sensor accuracy"
AMBIENT_BY_HAND = "ambient reading by hand"
METER_ACCURACY = "power meter accuracy"


@dataclass(frozen=True, kw_only=True)
class SettleRule:
    """How a run is judged: times in seconds, the limit on the remaining approach in K.

    `loop_s` is the length of one pass of a repeating workload. `coolant_tau_s` is the time constant of the loop, used
    where coolant was logged. Windows under 300 s are refused (ValueError) unless `study` is set, which only studies do;
    so is `window_only`, which judges by the slope of the window alone.
    """

    tau_s: float
    window_s: float
    soak_s: float
    limit_k: float = 0.5
    loop_s: float | None = None
    coolant_tau_s: float = 600.0
    study: bool = False
    window_only: bool = False

    def __post_init__(self) -> None:
        numbers = (self.tau_s, self.window_s, self.limit_k, self.coolant_tau_s, self.loop_s or 1.0)
        if not all(math.isfinite(n) and n > 0 for n in numbers) or not 0 <= self.soak_s < math.inf:
            raise ValueError("times and limit of a settling rule must be positive and finite")
        if self.window_s < SHORTEST_WINDOW_S and not self.study:
            raise ValueError(f"a window of {self.window_s:g} s is under {SHORTEST_WINDOW_S:g} s")

    def window_length(self) -> float:
        """Return the window's length in seconds: whole loops where the workload repeats, at least three."""
        if self.loop_s is None:
            return self.window_s
        return max(LOOPS_IN_WINDOW, math.ceil(self.window_s / self.loop_s - 1e-9)) * self.loop_s


@dataclass(frozen=True, kw_only=True, eq=False)
class Channel:
    """One logged quantity: values of shape (n,) in its standard unit, NaN missing.

    `resolution` is the step of its readings (0 unknown or none). The `sensor` states half-widths in the same unit:
    `accuracy`, one for all readings, and `gain`, a share of the reading, here of the run's usual one.
    """

    values: FloatArray
    resolution: float = 0.0
    accuracy: float = 0.0
    gain: float = 0.0
    sensor: Quantity | None = None

    def instrument(self, name: str, unit: str, sensitivity: float = 1.0) -> tuple[Component, ...]:
        """Return the budget lines of the sensor's accuracy, in `unit`; none where it states none."""
        stated = Instrument(offset=self.accuracy, gain=self.gain, sensor=self.sensor)
        return instrument_lines(name, stated, unit, sensitivity)


@dataclass(frozen=True, kw_only=True, eq=False)
class Signals:
    """The columns of one run that settling needs, on common times in seconds, shape (n,).

    `ambient` is a column, one reading by hand with its uncertainty, or None: then the temperature itself is judged and
    there is no rise. `fan` (r/min or percent) only serves to name changes. Samples may be irregular, with gaps; times
    that are not finite are left out.
    """

    time_s: FloatArray
    temperature: Channel
    power: Channel | None = None
    ambient: Channel | Estimate | None = None
    coolant: Channel | None = None
    fan: Channel | None = None


@dataclass(frozen=True, kw_only=True)
class Derived:
    """An estimate with the budget behind it and the number of samples in the window."""

    estimate: Estimate
    budget: tuple[Component, ...]
    samples: int


@dataclass(frozen=True, kw_only=True)
class Judgement:
    """The verdict on a run with what was derived on the way; None where the data cannot give it.

    `rise` is over ambient in K and `psi` that over board power in K/W, both without the accuracy of the instruments
    taken out: the budget lines of instruments cancel between runs on one bench. `core_over_coolant` and `coolant_rise`
    need a coolant column.
    """

    settlement: Settlement
    rise: Derived | None = None
    psi: Derived | None = None
    core_over_coolant: Derived | None = None
    coolant_rise: Derived | None = None


@dataclass(frozen=True, kw_only=True)
class WindowMean:
    """Mean of one quantity over a window, with its budget, number of samples, and what was left out."""

    estimate: Estimate
    samples: int
    budget: tuple[Component, ...]
    window: Window
    notes: tuple[str, ...] = ()


# --- Cleaning of a run's columns: order, impossible readings, single spikes, and the time at which the load begins


COLDEST_C, HOTTEST_C = -273.15, 1000.0
MOST_W = 1e5
FASTEST_RPM = 1e5
SPIKE_SAMPLES = 11
SPIKE_SPREADS = 6 * 1.4826  # six standard deviations, by the median of deviations
SPIKE_LEAST_K = 2.0
LONGEST_S = 86_400.0  # what lies further back says nothing about the end
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


def prepare(signals: Signals) -> Prepared | None:
    """Return a run that can be judged, or None with fewer than two samples that hold a temperature."""
    ordered = _ordered(signals)
    if ordered.time_s.size < 2 or np.isfinite(ordered.temperature.values).sum() < 2:  # noqa: PLR2004 - no step
        return None
    possible, notes = _possible(ordered)
    smooth, removed = despiked(possible.temperature.values)
    if removed:
        notes += (f"{count(removed, 'spike')} removed from the temperature",)
    cleaned = replace(possible, temperature=replace(possible.temperature, values=smooth))
    gaps = np.diff(cleaned.time_s)
    step = float(np.median(gaps[gaps > 0])) if (gaps > 0).any() else 0.0
    if step <= 0 or np.isfinite(smooth).sum() < 2:  # noqa: PLR2004 - no step
        return None
    begins = load_start(cleaned.time_s, cleaned.power)
    if begins > cleaned.time_s[0]:
        notes += (f"load begins {format_number(begins - cleaned.time_s[0], 0)} s into the log",)
    end = float(cleaned.time_s[-1]) + step
    return Prepared(signals=cleaned, step_s=step, start_s=max(begins, end - LONGEST_S), end_s=end, notes=notes)


def despiked(values: FloatArray) -> tuple[FloatArray, int]:
    """Return a series with single outliers replaced by NaN, and their number.

    A sample is an outlier where it differs from the median of the 11 samples around it by more than six robust standard
    deviations of those, and by more than 2 K. Source: Hampel 1974, J. Am. Stat. Assoc. 69, 383, as a running filter.
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
    )
    notes = (f"{count(n, f'impossible {name} reading')} left out" for name, n in counts.items() if n)
    return cleaned, tuple(notes)
