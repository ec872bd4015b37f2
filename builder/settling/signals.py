"""What settling is given and what it gives: a run's signals, the rule of a protocol, and the judgement."""

from __future__ import annotations

import math
from dataclasses import dataclass

from builder.core.quantity import Estimate, FloatArray, format_number
from builder.core.results import Component, Quantity, Settlement, Window
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
    where coolant was logged. Windows under 300 s are refused (ValueError) unless `study` is set, which only studies do:
    they also see the rise at rest of runs that are not settled, which is kept back otherwise.
    """

    tau_s: float
    window_s: float
    soak_s: float
    limit_k: float = 0.5
    loop_s: float | None = None
    coolant_tau_s: float = 600.0
    study: bool = False

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

    `resolution` is the step of its readings as declared (0 unknown or none; the step that the readings show counts
    where it is coarser). The `sensor` states half-widths in the same unit: `accuracy`, one for all readings, and
    `gain`, a share of the reading, here of the run's usual one; `assumed` where the bench states neither.
    """

    values: FloatArray
    resolution: float = 0.0
    accuracy: float = 0.0
    gain: float = 0.0
    sensor: Quantity | None = None
    assumed: bool = False

    def instrument(self, name: str, unit: str, sensitivity: float = 1.0) -> tuple[Component, ...]:
        """Return the budget lines of the sensor's accuracy, in `unit`; none where it states none."""
        stated = Instrument(offset=self.accuracy, gain=self.gain, sensor=self.sensor)
        return instrument_lines(f"{name}, assumed" if self.assumed else name, stated, unit, sensitivity)


@dataclass(frozen=True, kw_only=True, eq=False)
class Signals:
    """The columns of one run that settling needs, on common times in seconds, shape (n,).

    `temperature` is what the run is judged by; `further` are other sensors of the same card, which share its heat path.
    `ambient` is a column, one reading by hand with its uncertainty, or None: then the temperature itself is judged and
    there is no rise. `fan` is in r/min or percent. Samples may be irregular, with gaps; times that are not finite are
    left out.
    """

    time_s: FloatArray
    temperature: Channel
    power: Channel | None = None
    ambient: Channel | Estimate | None = None
    coolant: Channel | None = None
    fan: Channel | None = None
    further: tuple[Channel, ...] = ()


@dataclass(frozen=True, kw_only=True)
class Derived:
    """An estimate with the budget behind it and the number of samples in the window."""

    estimate: Estimate
    budget: tuple[Component, ...]
    samples: int


@dataclass(frozen=True, kw_only=True)
class WindowMean:
    """Mean of one quantity over a window, with its budget, number of samples, and what was left out."""

    estimate: Estimate
    samples: int
    budget: tuple[Component, ...]
    window: Window
    notes: tuple[str, ...] = ()


@dataclass(frozen=True, kw_only=True)
class Bound:
    """What the course of a run that is not settled allows to say of its rise at rest, in K, at the 95 % level.

    >>> Bound(value_k=21.74, rising=True).words()
    'at least 21.7 K'
    """

    value_k: float
    rising: bool  # at least the value; falling runs end at most there

    def words(self) -> str:
        """Return the bound in words."""
        return f"at {'least' if self.rising else 'most'} {format_number(self.value_k, 1)} K"


@dataclass(frozen=True, kw_only=True)
class Judgement:
    """The verdict on one temperature of a run with what was derived on the way; None where the data cannot give it.

    `settlement` holds verdict, window, changes in it, cause, and the remaining approach: the correction that leads from
    the window's mean to rest. `mean`, `ambient_mean` and `coolant_mean` are the window's own.

    Only a settled run has values at rest: `rise` over ambient in K, `psi` that over board power in K/W, and where
    coolant was logged `core_over_coolant`, `coolant_rise` and `coolant_level` (degrees Celsius). A run that is not has
    `window_rise` and `window_psi` instead, the window's own with all that it lacks of rest as uncertainty, and a
    `bound` where its course allows one. All have the accuracy of the instruments in, whose budget
    lines cancel between runs on one bench. `further` are the judgements of the further sensors, in their order.
    """

    settlement: Settlement
    mean: WindowMean | None = None
    ambient_mean: WindowMean | None = None
    coolant_mean: WindowMean | None = None
    rise: Derived | None = None
    psi: Derived | None = None
    core_over_coolant: Derived | None = None
    coolant_rise: Derived | None = None
    coolant_level: Derived | None = None
    window_rise: Derived | None = None
    window_psi: Derived | None = None
    bound: Bound | None = None
    further: tuple[Judgement, ...] = ()
