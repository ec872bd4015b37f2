"""`benches/<id>.yaml`: the rig, its sensors, and how its logs are read. Words below a field are its help in editors."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable
from dataclasses import dataclass
from typing import Annotated, Literal

from pydantic import ConfigDict, Field

from builder.archive.fields import DatedNote, Day, Finite, Id, Model, Name, NonNegative, Positive, Text
from builder.core.results import Quantity


class Sensor(Model):
    """What measures one quantity: half-width of its accuracy, its resolution and corrections, in standard units."""

    model_config = ConfigDict(populate_by_name=True)

    quantity: Quantity
    """The quantity that it measures."""
    name: Name | None = None
    """Name of the sensor."""
    accuracy: NonNegative | None = None  # rectangular
    """Half-width of its accuracy in the quantity's standard unit (K, W and so on)."""
    accuracy_pct: NonNegative | None = None
    """Accuracy in % of the reading, in addition."""
    resolution: Positive | None = None
    """Smallest step that it shows, in the quantity's standard unit."""
    averaging: Literal["instant", "averaged"] | None = None
    """Whether it gives instant or averaged values."""
    offset: Finite = 0.0
    """What is added to its readings, after the gain, in the quantity's standard unit."""
    gain: Positive = 1.0
    """What its readings are multiplied by; 1 leaves them as they are."""
    from_: Annotated[Day | None, Field(alias="from")] = None
    """First day on which it counts, for a sensor that took another one's place."""
    calibrated: Text = ""
    """How its corrections were found, and when; in words."""

    @property
    def corrects(self) -> bool:
        """Whether its readings are corrected."""
        return self.gain != 1.0 or self.offset != 0.0

    def corrected(self, value: float) -> float:
        """Return a reading as it counts, in the quantity's standard unit."""
        return value * self.gain + self.offset


def sensor_on(sensors: Iterable[Sensor], quantity: Quantity, day: dt.date) -> Sensor | None:
    """Return the sensor of a quantity that counts on a day: the latest that was there; None where there was none yet.

    One without a first day was always there.
    """
    there = [s for s in sensors if s.quantity is quantity and (s.from_ is None or s.from_ <= day)]
    return max(there, key=lambda s: s.from_ or dt.date.min, default=None)


class AssumedAccuracy(Model):
    """What is assumed of a sensor whose bench states no accuracy: a line of `assumed_accuracy.yaml` of the content."""

    quantity: Quantity
    """The quantity that it measures."""
    accuracy: NonNegative = 0.0  # rectangular
    """Half-width of its accuracy in the quantity's standard unit (K, W and so on)."""
    accuracy_pct: NonNegative = 0.0
    """Accuracy in % of the reading, in addition."""
    reason: Text
    """Where it comes from."""


@dataclass(frozen=True, kw_only=True)
class Accuracy:
    """Half-widths of a sensor's accuracy: in the quantity's standard unit, and in % of the reading in addition."""

    absolute: float = 0.0
    pct: float = 0.0
    assumed: bool = False


class TimeColumn(Model):
    """Where a log keeps its time."""

    column: Name
    """Header of the time column."""
    date: Name | None = None
    """Header of the column that holds the date, where the time column holds the time of day alone."""
    kind: Literal["elapsed", "timestamp"] = "elapsed"
    """Whether it holds elapsed time or timestamps."""
    unit: Name = "s"
    """Unit of elapsed time."""
    format: Name | None = None
    """Format of timestamps, as %Y-%m-%d %H:%M:%S, date first where it has its own column; ISO 8601 when absent."""
    zone: Name | None = None  # with a zone, elapsed time survives a clock change
    """Time zone of the timestamps, as Europe/Vienna."""
    restart: bool = False
    """Whether elapsed time that jumps back starts a new count."""


class ColumnMeaning(Model):
    """What a used column holds."""

    quantity: Quantity
    """The quantity that the column holds."""
    unit: Name
    """Its unit, as degC, W or rpm."""
    optional: bool = False
    """Whether a log may lack the column, as an idle log lacks frames."""


class Reader(Model):
    """How this bench's logs of one shape are read."""

    id: Id
    """Id of the reader."""
    match: tuple[Name, ...] = Field(min_length=1)
    """Headers that must all be present for this reader to be used."""
    delimiter: Literal["auto", "comma", "semicolon", "tab"] = "auto"
    """What separates the columns."""
    decimal: Literal["auto", "point", "comma"] = "auto"
    """Decimal point or comma."""
    encoding: Literal["auto", "utf-8", "utf-16", "windows-1252"] = "auto"
    """Encoding of the text."""
    time: TimeColumn | None = None  # frame times add up
    """Where the log keeps its time; absent only for frame files."""
    columns: dict[Name, ColumnMeaning] = Field(min_length=1)
    """Header to what its column holds; the second column of a repeated header is header#2."""
    missing: tuple[str, ...] = ()
    """Spellings of a missing value, in addition to the usual ones."""


class Loop(Model):
    """The liquid loop of a bench."""

    coolant: Literal["water", "ethylene glycol", "propylene glycol"] = "water"
    """The coolant."""
    mass_fraction: Annotated[float, Field(ge=0, le=0.6)] = 0.0
    """Mass fraction of glycol, 0 to 0.6."""
    radiators: Text = ""
    """Radiators and their fans, in words."""
    pump: Text = ""
    """Pump and its setting, in words."""


class SoundSetup(Model):
    """How sound was measured: background level and distance, with the distance it is reported at."""

    background_dba: NonNegative
    """Background level in dB(A)."""
    distance_m: Positive = 1.0
    """Distance of the microphone in m."""
    report_at_m: Positive = 1.0
    """Distance that levels are reported at, in m."""


class Bench(Model):
    """`benches/<id>.yaml`: rig, sensors, readers, loop and room."""

    name: Name
    """Name of the bench."""
    description: Text = ""
    """In words; plain text."""
    altitude_m: Finite = 0.0
    """Altitude above sea level in m."""
    room: Text = ""
    """The room, and how its temperature is kept; in words."""
    sensors: tuple[Sensor, ...] = ()
    """What measures each quantity, with accuracy and resolution."""
    readers: tuple[Reader, ...]
    """How logs of each shape are read; [] where everything was read by hand."""
    loop: Loop | None = None
    """The liquid loop, where there is one."""
    sound: SoundSetup | None = None
    """How sound is measured, where it is."""
    changes: tuple[DatedNote, ...] = ()
    """What changed on the bench, and when."""

    def sensor(self, quantity: Quantity) -> Sensor | None:
        """Return the sensor that measures a quantity today, or None where the bench declares none."""
        return sensor_on(self.sensors, quantity, dt.date.max)
