"""The settling rule of a protocol, and the inputs and results of judging a run."""

from __future__ import annotations

import math
from dataclasses import dataclass

from builder.figures import Component, Settlement, Window
from builder.quantity import Estimate, FloatArray

SHORTEST_WINDOW_S = 300.0
LOOPS_IN_WINDOW = 3

# Names of budget lines. Those in SHARED belong to an instrument and mostly cancel between runs on one bench.
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
SHARED = frozenset({ACCURACY, AMBIENT_ACCURACY, COOLANT_ACCURACY, METER_ACCURACY})


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

    `resolution` is the step of its readings (0 unknown or none), `accuracy` the half-width that its sensor states.
    """

    values: FloatArray
    resolution: float = 0.0
    accuracy: float = 0.0


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
    taken out: budget lines named in `SHARED` cancel between runs on one bench. `core_over_coolant` and `coolant_rise`
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
