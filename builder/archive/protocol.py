"""Frozen models of everything a tester writes: the schema of the archive, with no input or output."""

from __future__ import annotations

from enum import StrEnum
from typing import Annotated, Literal, TypeAlias

from pydantic import Field, model_validator

from builder.archive.fields import Celsius, Id, Model, Name, NonNegative, Positive, Text

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
