"""Frozen models of everything a tester writes: the schema of the archive, with no input or output."""

from __future__ import annotations

import datetime as dt
import re
from enum import StrEnum
from typing import Annotated, Literal, TypeAlias

from pydantic import (
    BaseModel,
    BeforeValidator,
    ConfigDict,
    Field,
    GetCoreSchemaHandler,
    StringConstraints,
    model_validator,
)
from pydantic_core import CoreSchema, PydanticCustomError, core_schema

from builder.figures import Quantity

ID_LENGTH = 64
ID_PATTERN = r"^[a-z0-9]+(?:-[a-z0-9]+)*$"
LINE_PATTERN = r"^[^\x00-\x1f\x7f-\x9f\u2028\u2029]*$"  # one line, no control characters
URL_PATTERN = r"""^https?://[^\s<>"'\\^`{|}/?#\[\]@:]+(?::[0-9]{1,5})?(?:[/?#][^\s<>"'\\^`{|}]*)?$"""
MOMENT_PATTERN = r"^(?:[0-9]{1,2}:)?[0-5]?[0-9]:[0-5][0-9]$"
PAGE_PATTERN = r"^(?:[A-Za-z0-9_-][A-Za-z0-9._-]*/)*[A-Za-z0-9_-][A-Za-z0-9._-]*$"
LANGUAGE_PATTERN = r"^[a-z]{2,3}(-[A-Za-z0-9]{2,8})*$"

Id: TypeAlias = Annotated[str, StringConstraints(pattern=ID_PATTERN, max_length=ID_LENGTH)]
Name: TypeAlias = Annotated[
    str, StringConstraints(pattern=LINE_PATTERN, min_length=1, max_length=120, strip_whitespace=True)
]
Text: TypeAlias = Annotated[str, StringConstraints(max_length=4000, strip_whitespace=True)]
Url: TypeAlias = Annotated[str, StringConstraints(pattern=URL_PATTERN, max_length=500)]
LogPath: TypeAlias = Annotated[str, StringConstraints(pattern=LINE_PATTERN, min_length=1, max_length=200)]
PageAddress: TypeAlias = Annotated[str, StringConstraints(pattern=PAGE_PATTERN, max_length=200)]
Moment: TypeAlias = Annotated[str, StringConstraints(pattern=MOMENT_PATTERN)]
Positive: TypeAlias = Annotated[float, Field(gt=0, allow_inf_nan=False)]
NonNegative: TypeAlias = Annotated[float, Field(ge=0, allow_inf_nan=False)]
Finite: TypeAlias = Annotated[float, Field(allow_inf_nan=False)]
Celsius: TypeAlias = Annotated[float, Field(ge=-50, le=200, allow_inf_nan=False)]


_DAY = re.compile(r"(?:19|20)[0-9]{2}-[0-9]{2}-[0-9]{2}")
_INSTANT = re.compile(
    _DAY.pattern + r"[T ][0-9]{2}:[0-9]{2}(?::[0-9]{2}(?:\.[0-9]{1,6})?)?(?:Z|[+-][0-9]{2}:[0-9]{2})?"
)


def _day(value: object) -> object:
    # Parsed here, since the library would read a text of digits as seconds since 1970.
    if not isinstance(value, str):
        return value
    try:
        return dt.date.fromisoformat(value if _DAY.fullmatch(value) else "")
    except ValueError:
        raise PydanticCustomError("bad_date", "expected a date that exists, as 2026-04-18") from None


def _cut(value: object) -> object:
    if value is None or isinstance(value, dt.datetime):
        return value
    if isinstance(value, int | float) and not isinstance(value, bool):
        return value
    text = value if isinstance(value, str) and _INSTANT.fullmatch(value) else ""
    try:
        return dt.datetime.fromisoformat(text)
    except ValueError:
        raise PydanticCustomError("bad_cut", "expected seconds, or a date and time as 2026-04-18 14:05:00") from None


class _OrNothing:
    """Lets a list be nothing, which reads as an empty one: so does a list of which every line is still a comment."""

    def __get_pydantic_core_schema__(self, source: object, handler: GetCoreSchemaHandler) -> CoreSchema:
        nullable = core_schema.nullable_schema(handler(source))
        return core_schema.no_info_after_validator_function(lambda value: value or (), nullable)


Day: TypeAlias = Annotated[dt.date, BeforeValidator(_day)]
Cut: TypeAlias = Annotated[Finite | dt.datetime, BeforeValidator(_cut)]


class Model(BaseModel):
    """Base of all models: frozen, strict, unknown fields refused, sequences are tuples."""

    model_config = ConfigDict(frozen=True, extra="forbid", strict=True)


# --- archive ---------------------------------------------------------------------------------------------------


class Reference(Model):
    """Conditions at which results are compared."""

    ambient_c: Celsius = 23.0  # ISO 554:1976, preferred atmosphere


class Licence(Model):
    """Terms under which others may use the figures and the data files."""

    name: Name
    url: Url


class Archive(Model):
    """`archive.yaml`: the channel and the site as a whole."""

    channel: Name
    title: Name | None = None  # of the site; default made from the channel's name
    summary: Text = ""
    base_url: Url | None = None
    contact: Url | None = None
    language: Annotated[str, StringConstraints(pattern=LANGUAGE_PATTERN)] = "en"
    notice: Text = ""  # shown on every page, e.g. that the data are invented
    reference: Reference = Reference()
    licence: Licence | None = None  # of figures and data files
    theme: Id = "notebook"
    moved: dict[PageAddress, PageAddress] = Field(default_factory=dict)  # old page address -> new page address


# --- card and cooler -------------------------------------------------------------------------------------------


class Link(Model):
    """A link that a page shows."""

    label: Name
    url: Url


class PowerLimitRange(Model):
    """Power limit settings that the card accepts, in percent of its reference board power."""

    min: Positive
    max: Positive


class Card(Model):
    """`cards/<id>.yaml`: a graphics card under test."""

    name: Name
    maker: Name | None = None
    board_power_w: Positive  # reference board power
    power_limit_pct: PowerLimitRange | None = None
    memory_type: Name | None = None
    memory_gb: Positive | None = None
    slots: Positive | None = None
    core_clock_mhz: Positive | None = None  # the reference clock
    sensors: Text = ""  # how its sensors are read, in words
    notes: Text = ""
    links: tuple[Link, ...] = ()


class CoolerKind(StrEnum):
    """What kind of cooler it is."""

    WATER_BLOCK = "water block"
    AIR = "air"
    STOCK = "stock"
    HYBRID = "hybrid"

    @property
    def liquid(self) -> bool:
        """Whether a loop's slow time constant governs how it settles."""
        return self in (CoolerKind.WATER_BLOCK, CoolerKind.HYBRID)


class Cooler(Model):
    """`coolers/<id>.yaml`: the product under test."""

    name: Name
    kind: CoolerKind
    maker: Name | None = None
    model_code: Name | None = None  # the maker's
    materials: tuple[Name, ...] = ()
    slots: Positive | None = None
    mass_g: Positive | None = None
    released: Day | None = None
    reference: bool = False  # retested to show that the bench did not move
    notes: Text = ""
    links: tuple[Link, ...] = ()


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


class DatedNote(Model):
    """Something that happened on a day."""

    date: Day
    text: Text


# --- protocol --------------------------------------------------------------------------------------------------


class PointRole(StrEnum):
    """What a test point is for."""

    IDLE = "idle"
    STOCK = "stock"
    POWER_LIMIT = "power limit"
    MATCHED_CLOCK = "matched clock"
    UNDERVOLT = "undervolt"
    OVERCLOCK = "overclock"
    CLOSING = "closing"  # stock again at the end: shows that the bench did not move


class PointRef(Model):
    """A test point of another protocol."""

    protocol: Id
    point: Id


class TestPoint(Model):
    """A setting at which a run is made."""

    id: Id
    name: Name
    role: PointRole
    settings: Text = ""  # in words, for the run sheet and the page
    power_limit_pct: Positive | None = None
    workload: Name = "game loop"
    loop_s: Positive | None = None  # length of one pass where the workload repeats and the length is known
    soak_s: NonNegative | None = None  # where this point needs another soak than the protocol's, e.g. idle
    window_s: Annotated[float, Field(ge=300, allow_inf_nan=False)] | None = None
    required: bool = True
    equivalent: tuple[PointRef, ...] = ()  # declared to compare directly

    __test__ = False  # no test class


class AmbientBand(Model):
    """Ambient temperature inside which runs compare directly."""

    min_c: Celsius = 18.0
    max_c: Celsius = 28.0


class SettleLimits(Model):
    """Constants of the settling rule for one kind of heat path (`air` or `liquid`)."""

    tau_s: Positive
    window_s: Annotated[float, Field(ge=300, allow_inf_nan=False)]
    soak_s: Positive  # shortest time before the window may start
    limit_k: Positive = 0.5


class SpreadByKind(Model):
    """Declared standard deviation of core rise from mount to mount, in K, used where there is one mount only."""

    air: NonNegative | None = None
    liquid: NonNegative | None = None


class FrameRule(Model):
    """Definition of the 1 % low, published with every such figure."""

    low_1pct: Literal["percentile", "slowest mean"] = "percentile"


class Workload(Model):
    """A class of load, described without naming a program."""

    name: Name
    description: Text


Required: TypeAlias = Literal["notice", "error"]


class Requirements(Model):
    """What a session lacks is a notice, or an error that stops publication: the protocol's choice."""

    points: Required = "notice"
    remount: Required = "notice"
    disclosure: Required = "notice"
    checks: Required = "notice"
    ambient_band: Required = "notice"


class Protocol(Model):
    """A test procedure with a version."""

    name: Name
    version: Annotated[int, Field(ge=1)]
    summary: Text = ""
    ambient: AmbientBand = AmbientBand()
    air: SettleLimits
    liquid: SettleLimits
    mount_spread_k: SpreadByKind = SpreadByKind()
    mounts: Annotated[int, Field(ge=1)] = 1  # assemblies that the protocol asks for
    frames: FrameRule = FrameRule()
    require: Requirements = Requirements()
    workloads: tuple[Workload, ...] = ()
    points: tuple[TestPoint, ...] = Field(min_length=1)

    @model_validator(mode="after")
    def _points_are_distinct(self) -> Protocol:
        ids = [p.id for p in self.points]
        if len(set(ids)) != len(ids):
            twice = next(i for i in ids if ids.count(i) > 1)
            raise ValueError(f'test point "{twice}" is listed twice')
        return self

    def point(self, point: str) -> TestPoint | None:
        """Return a test point by id, or None."""
        return next((p for p in self.points if p.id == point), None)


# --- bundle ----------------------------------------------------------------------------------------------------


def seconds_into(at: str) -> int:
    """Return a moment of a video in s.

    >>> seconds_into("6:40"), seconds_into("1:00:05")
    (400, 3605)
    """
    total = 0
    for part in at.split(":"):
        total = total * 60 + int(part)
    return total


class EpisodeMoment(Model):
    """A moment of the video."""

    at: Moment
    label: Name


class Episode(Model):
    """The video that goes with a result."""

    number: Annotated[int, Field(ge=0)] | None = None
    title: Name
    url: Url | None = None
    published: Day | None = None
    length: Moment | None = None
    moments: tuple[EpisodeMoment, ...] = ()


class Paste(Model):
    """Thermal paste and how it was applied."""

    name: Name
    pattern: Name | None = None


class Pad(Model):
    """A thermal pad: thickness as bought and the gap it fills."""

    where: Name
    thickness_mm: Positive
    gap_mm: Positive | None = None


class AssemblyChecks(Model):
    """Checks ticked on the run sheet."""

    leak_tested: bool | None = None
    flow_direction_checked: bool | None = None
    bled: bool | None = None
    screws_crosswise: bool | None = None
    card_supported: bool | None = None


class Assembly(Model):
    """How the cooler was put on the card."""

    paste: Paste | None = None
    pads: tuple[Pad, ...] = ()
    checks: AssemblyChecks = AssemblyChecks()
    notes: Text = ""


class Run(Model):
    """One log at one test point in one mount; `from` and `to` cut it out of a longer log.

    Cuts are elapsed seconds of the log, or timestamps (with a zone, or in the log's own).
    """

    model_config = ConfigDict(frozen=True, extra="forbid", strict=True, populate_by_name=True)

    point: Id
    log: LogPath
    frames: LogPath | None = None
    ambient_c: Celsius | None = None  # by hand, where no sensor logged it
    from_: Annotated[Cut | None, Field(alias="from")] = None
    to: Cut | None = None
    skip_frames: Annotated[int, Field(ge=0)] = 0  # warm-up frames to leave out
    note: Text = ""


class Mount(Model):
    """One assembly of cooler on card, with its runs; none yet where it is planned."""

    date: Day | None = None
    note: Text = ""
    runs: Annotated[tuple[Run, ...], _OrNothing()]


class Correction(Model):
    """A published figure that was wrong, with what it was and is, and why."""

    date: Day
    figure: Name  # `stock/core_rise`
    was: Name
    now: Name
    reason: Text


class Supplied(StrEnum):
    """Where the product came from."""

    BOUGHT = "bought"
    MAKER_SAMPLE = "maker sample"
    LOAN = "loan"
    OWN_WORK = "own work"


class PhotoFile(Model):
    """A photo in the bundle's folder, what it shows for those who do not see it, and what stands below it."""

    file: LogPath
    alt: Name
    caption: Text = ""


class Bundle(Model):
    """`bundles/<id>/bundle.yaml`: all that belongs to one tested product on one card."""

    card: Id
    card_sample: Id = "a"  # which specimen of the card
    cooler: Id
    bench: Id
    protocol: Id
    title: Name | None = None
    summary: Text = ""
    tested: Day
    episode: Episode | None = None
    supplied_by: Supplied | None = None
    assembly: Assembly = Assembly()
    mounts: tuple[Mount, ...] = Field(min_length=1)
    photos: tuple[PhotoFile, ...] = ()
    corrections: tuple[Correction, ...] = ()


# --- the whole -------------------------------------------------------------------------------------------------


class Catalogue(Model):
    """A whole archive, validated: every reference resolves. Mapping order is by id."""

    archive: Archive
    cards: dict[str, Card]
    coolers: dict[str, Cooler]
    benches: dict[str, Bench]
    protocols: dict[str, Protocol]
    bundles: dict[str, Bundle]


KINDS: dict[str, type[Model]] = {
    "archive": Archive,
    "card": Card,
    "cooler": Cooler,
    "bench": Bench,
    "protocol": Protocol,
    "bundle": Bundle,
}
