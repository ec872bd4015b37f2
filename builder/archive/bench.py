"""Frozen models of everything a tester writes: the schema of the archive, with no input or output."""

from __future__ import annotations

from typing import Annotated, Literal

from pydantic import Field

from builder.archive.fields import DatedNote, Finite, Id, Model, Name, NonNegative, Positive, Text
from builder.core.results import Quantity

# --- bench -----------------------------------------------------------------------------------------------------


class Sensor(Model):
    """What measures one quantity on this bench: half-width of its accuracy, and its resolution, in standard units."""

    quantity: Quantity
    name: Name | None = None
    accuracy: NonNegative | None = None  # rectangular half-width: K, W, ...
    accuracy_pct: NonNegative | None = None  # of reading, in addition
    resolution: Positive | None = None
    averaging: Literal["instant", "averaged"] | None = None


class TimeColumn(Model):
    """Where a log keeps its time."""

    column: Name
    kind: Literal["elapsed", "timestamp"] = "elapsed"
    unit: Name = "s"  # of elapsed time
    format: Name | None = None  # of a timestamp, as strptime reads it; ISO 8601 when absent
    zone: Name | None = None  # IANA name; elapsed time then survives a clock change
    restart: bool = False  # elapsed time that jumps back starts a new count instead of being an error


class ColumnMeaning(Model):
    """What a used column holds."""

    quantity: Quantity
    unit: Name
    optional: bool = False  # a log may lack the column, as an idle log lacks frames


class Reader(Model):
    """How this bench's logs of one shape are read."""

    id: Id
    match: tuple[Name, ...] = Field(min_length=1)  # header names that all must be present
    delimiter: Literal["auto", "comma", "semicolon", "tab"] = "auto"
    decimal: Literal["auto", "point", "comma"] = "auto"
    encoding: Literal["auto", "utf-8", "utf-16", "windows-1252"] = "auto"
    time: TimeColumn | None = None  # absent only for frame files, where frame times add up
    columns: dict[Name, ColumnMeaning] = Field(min_length=1)  # a repeated header's second column is `name#2`
    missing: tuple[str, ...] = ()  # spellings of a missing value, in addition to the usual ones


class Loop(Model):
    """The liquid loop of a bench."""

    coolant: Literal["water", "ethylene glycol", "propylene glycol"] = "water"
    mass_fraction: Annotated[float, Field(ge=0, le=0.6)] = 0.0  # of glycol
    radiators: Text = ""
    pump: Text = ""


class SoundSetup(Model):
    """How sound was measured: background level and distance, with the distance it is reported at."""

    background_dba: NonNegative
    distance_m: Positive = 1.0
    report_at_m: Positive = 1.0


class Bench(Model):
    """`benches/<id>.yaml`: rig, sensors, readers, loop and room."""

    name: Name
    description: Text = ""
    altitude_m: Finite = 0.0
    room: Text = ""
    sensors: tuple[Sensor, ...] = ()
    readers: tuple[Reader, ...] = Field(min_length=1)
    loop: Loop | None = None
    sound: SoundSetup | None = None
    changes: tuple[DatedNote, ...] = ()

    def sensor(self, quantity: Quantity) -> Sensor | None:
        """Return the sensor that measures a quantity, or None where the bench declares none."""
        return next((s for s in self.sensors if s.quantity is quantity), None)
