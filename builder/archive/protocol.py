"""`protocols/<id>.yaml`: test points and the rules of a session. Words below a field are its help in editors."""

from __future__ import annotations

from enum import StrEnum
from typing import Annotated, Literal, TypeAlias

from pydantic import Field, model_validator

from builder.archive.fields import Celsius, Id, Model, Name, NonNegative, Positive, Text


class PointRole(StrEnum):
    """What a test point is for."""

    IDLE = "idle"
    STOCK = "stock"
    POWER_LIMIT = "power limit"
    MATCHED_CLOCK = "matched clock"
    UNDERVOLT = "undervolt"
    OVERCLOCK = "overclock"
    CLOSING = "closing"  # stock again at the end: shows that the bench did not move

    @property
    def by_power_alone(self) -> bool:
        """Whether points of this role differ from one another in power alone, so that one line goes through them."""
        return self in (PointRole.STOCK, PointRole.POWER_LIMIT)


class PointRef(Model):
    """A test point of another protocol."""

    protocol: Id
    """Id of the other protocol."""
    point: Id
    """Id of its test point."""


class TestPoint(Model):
    """A setting at which a run is made."""

    id: Id
    """Id of the test point, as runs name it."""
    name: Name
    """Name that pages show."""
    role: PointRole
    """What the test point is for."""
    settings: Text = ""
    """The settings in words, for the run sheet and the page."""
    power_limit_pct: Positive | None = None
    """Power limit in % of the card's reference board power."""
    workload: Name = "game loop"
    """Name of the workload."""
    loop_s: Positive | None = None
    """Length of one pass of the workload in s, where it is known."""
    soak_s: NonNegative | None = None
    """Shortest time before the window in s, where it differs from the protocol's."""
    window_s: Annotated[float, Field(ge=300, allow_inf_nan=False)] | None = None
    """Length of the window in s, where it differs from the protocol's."""
    required: bool = True
    """Whether a session without it is incomplete."""
    equivalent: tuple[PointRef, ...] = ()
    """Test points of other protocols that compare directly with this one."""

    __test__ = False  # no test class


class AmbientBand(Model):
    """Ambient temperature inside which runs compare directly."""

    min_c: Celsius = 18.0
    """Lowest ambient temperature in °C."""
    max_c: Celsius = 28.0
    """Highest ambient temperature in °C."""


class SettleLimits(Model):
    """Constants of the settling rule for one kind of heat path (`air` or `liquid`)."""

    tau_s: Positive
    """Time constant of the slowest heat path in s."""
    window_s: Annotated[float, Field(ge=300, allow_inf_nan=False)]
    """Length of the window in s, at least 300."""
    soak_s: Positive
    """Shortest time before the window may start, in s."""
    limit_k: Positive = 0.5
    """Largest remaining change for a settled run, in K."""


class SpreadByKind(Model):
    """Declared standard deviation of core rise from mount to mount, in K, used where there is one mount only."""

    air: NonNegative | None = None
    """For air coolers, in K."""
    liquid: NonNegative | None = None
    """For coolers on a liquid loop, in K."""


class FrameRule(Model):
    """Definition of the 1 % low, published with every such figure."""

    low_1pct: Literal["percentile", "slowest mean"] = "percentile"
    """Definition of the 1 % low: percentile, or mean of the slowest frames."""


class Workload(Model):
    """A class of load, described without naming a program."""

    name: Name
    """Name that the test points use."""
    description: Text
    """In words; plain text."""


Required: TypeAlias = Literal["notice", "error"]


class Requirements(Model):
    """What a session lacks is a notice, or an error that stops publication: the protocol's choice."""

    points: Required = "notice"
    """Runs at the required test points: notice or error."""
    remount: Required = "notice"
    """As many mounts as the protocol asks for: notice or error."""
    disclosure: Required = "notice"
    """Where the cooler came from: notice or error."""
    checks: Required = "notice"
    """Checks of the assembly that concern the kind of cooler: notice or error."""
    ambient_band: Required = "notice"
    """Ambient temperature inside the band in every run: notice or error."""


class Protocol(Model):
    """A test procedure with a version."""

    name: Name
    """Name of the protocol."""
    version: Annotated[int, Field(ge=1)]
    """Version, a whole number that grows with every change."""
    summary: Text = ""
    """In words; plain text."""
    ambient: AmbientBand = AmbientBand()
    """Ambient temperatures inside which runs compare directly."""
    air: SettleLimits
    """Settling rule for air coolers."""
    liquid: SettleLimits
    """Settling rule for coolers on a liquid loop."""
    mount_spread_k: SpreadByKind = SpreadByKind()
    """Assumed standard deviation from mount to mount in K, where there is one mount only."""
    by_hand_allowance_k: Positive | None = None  # rectangular
    """What a run read by hand may lack of rest, in K either way: with it such runs are compared; without, never."""
    mounts: Annotated[int, Field(ge=1)] = 1
    """Number of mounts that the protocol asks for."""
    frames: FrameRule = FrameRule()
    """How figures on frames are defined."""
    require: Requirements = Requirements()
    """Whether what a session lacks is a notice, or an error that stops publication."""
    workloads: tuple[Workload, ...] = ()
    """Classes of load that the test points use."""
    points: tuple[TestPoint, ...] = Field(min_length=1)
    """The test points, in the order of the session."""

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
