"""The named types that pass between reduction, comparison and pages, and the list of figures."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from enum import StrEnum
from types import MappingProxyType

from builder.core.quantity import Estimate, FloatArray


class Quantity(StrEnum):
    """What a logged column measures."""

    CORE_TEMPERATURE = "core_temperature"
    HOTSPOT_TEMPERATURE = "hotspot_temperature"
    MEMORY_TEMPERATURE = "memory_temperature"
    AMBIENT_TEMPERATURE = "ambient_temperature"
    COOLANT_IN_TEMPERATURE = "coolant_in_temperature"
    COOLANT_OUT_TEMPERATURE = "coolant_out_temperature"
    BOARD_POWER = "board_power"
    POWER_LIMIT = "power_limit"
    CORE_CLOCK = "core_clock"
    MEMORY_CLOCK = "memory_clock"
    CORE_VOLTAGE = "core_voltage"
    FAN_SPEED = "fan_speed"
    FAN_DUTY = "fan_duty"
    PUMP_SPEED = "pump_speed"
    FLOW_RATE = "flow_rate"
    FRAME_TIME = "frame_time"
    FRAME_RATE = "frame_rate"
    SOUND_LEVEL = "sound_level"
    UTILIZATION = "utilization"


# Each quantity's unit inside the program (ids of builder.quantity.SYMBOLS).
STANDARD_UNITS: Mapping[Quantity, str] = MappingProxyType(
    {
        Quantity.CORE_TEMPERATURE: "degC",
        Quantity.HOTSPOT_TEMPERATURE: "degC",
        Quantity.MEMORY_TEMPERATURE: "degC",
        Quantity.AMBIENT_TEMPERATURE: "degC",
        Quantity.COOLANT_IN_TEMPERATURE: "degC",
        Quantity.COOLANT_OUT_TEMPERATURE: "degC",
        Quantity.BOARD_POWER: "W",
        Quantity.POWER_LIMIT: "W",
        Quantity.CORE_CLOCK: "MHz",
        Quantity.MEMORY_CLOCK: "MHz",
        Quantity.CORE_VOLTAGE: "V",
        Quantity.FAN_SPEED: "rpm",
        Quantity.FAN_DUTY: "percent",
        Quantity.PUMP_SPEED: "rpm",
        Quantity.FLOW_RATE: "L/min",
        Quantity.FRAME_TIME: "ms",
        Quantity.FRAME_RATE: "1/s",
        Quantity.SOUND_LEVEL: "dBA",
        Quantity.UTILIZATION: "percent",
    }
)


@dataclass(frozen=True, kw_only=True)
class FigureKind:
    """One kind of published number: its id, name, unit id and which direction viewers want."""

    id: str
    name: str
    short: str
    unit: str
    better: str = ""  # "lower", "higher" or neither
    headline: bool = False


def _kinds(*kinds: FigureKind) -> Mapping[str, FigureKind]:
    return MappingProxyType({kind.id: kind for kind in kinds})


_F = FigureKind
# In the order in which tables show them.
FIGURES: Mapping[str, FigureKind] = _kinds(
    _F(id="core_rise", name="Core over ambient", short="Core rise", unit="K", better="lower", headline=True),
    _F(id="hotspot_rise", name="Hotspot over ambient", short="Hotspot rise", unit="K", better="lower"),
    _F(id="memory_rise", name="Memory over ambient", short="Memory rise", unit="K", better="lower"),
    _F(id="core_temperature", name="Core temperature", short="Core", unit="degC", better="lower", headline=True),
    _F(id="hotspot_temperature", name="Hotspot temperature", short="Hotspot", unit="degC", better="lower"),
    _F(id="memory_temperature", name="Memory temperature", short="Memory", unit="degC", better="lower", headline=True),
    _F(id="hotspot_gap", name="Hotspot above core", short="Hotspot gap", unit="K", better="lower"),
    _F(id="core_psi", name="Core rise per watt (Ψ)", short="Ψ core", unit="K/W", better="lower", headline=True),
    _F(id="hotspot_psi", name="Hotspot rise per watt (Ψ)", short="Ψ hotspot", unit="K/W", better="lower"),
    _F(id="memory_psi", name="Memory rise per watt (Ψ)", short="Ψ memory", unit="K/W", better="lower"),
    _F(id="board_power", name="Board power", short="Power", unit="W", headline=True),
    _F(id="power_limit_share", name="Board power, share of the limit", short="Of limit", unit="percent"),
    _F(id="core_clock", name="Core clock", short="Core clock", unit="MHz", better="higher"),
    _F(id="memory_clock", name="Memory clock", short="Memory clock", unit="MHz"),
    _F(id="core_voltage", name="Core voltage", short="Voltage", unit="V"),
    _F(id="frame_rate", name="Mean frame rate", short="Frame rate", unit="1/s", better="higher", headline=True),
    _F(id="low_1pct", name="1 % low", short="1 % low", unit="1/s", better="higher"),
    _F(id="frames_per_joule", name="Frames per joule", short="Efficiency", unit="1/J", better="higher"),
    _F(id="ambient_temperature", name="Ambient temperature", short="Ambient", unit="degC"),
    _F(id="coolant_in_temperature", name="Coolant into the block", short="Coolant in", unit="degC"),
    _F(id="coolant_out_temperature", name="Coolant out of the block", short="Coolant out", unit="degC"),
    _F(id="core_over_coolant", name="Core over coolant", short="Core-coolant", unit="K", better="lower"),
    _F(id="coolant_rise", name="Coolant over ambient", short="Coolant rise", unit="K", better="lower"),
    _F(id="coolant_heat", name="Heat carried by the coolant", short="Coolant heat", unit="W"),
    _F(id="coolant_heat_share", name="Coolant heat, share of board power", short="Heat share", unit="percent"),
    _F(id="flow_rate", name="Coolant flow", short="Flow", unit="L/min"),
    _F(id="fan_speed", name="Fan speed", short="Fan", unit="rpm", better="lower"),
    _F(id="fan_duty", name="Fan duty", short="Fan duty", unit="percent", better="lower"),
    _F(id="pump_speed", name="Pump speed", short="Pump", unit="rpm"),
    _F(id="sound_level", name="Sound pressure level", short="Sound", unit="dBA", better="lower"),
    _F(id="utilization", name="Utilization", short="Load", unit="percent"),
)


class Verdict(StrEnum):
    """What is said of a run."""

    SETTLED = "settled"
    DRIFTING = "drifting"
    UNDECIDED = "undecided"
    TOO_SHORT = "too short"


@dataclass(frozen=True, kw_only=True)
class Window:
    """The part of a run that is averaged: [start_s, end_s) in seconds of the run."""

    start_s: float
    end_s: float


@dataclass(frozen=True, kw_only=True)
class Component:
    """One line of an uncertainty budget (JCGM 100:2008, table H.1).

    `u` is the input's standard uncertainty in `unit`; `sensitivity` turns it into the figure's unit; `kind` is A
    (from the data) or B (from elsewhere).
    """

    name: str
    kind: str
    u: float
    unit: str
    dof: float
    sensitivity: float = 1.0

    @property
    def contribution(self) -> float:
        """Return |sensitivity| times u, in the figure's unit."""
        return abs(self.sensitivity) * self.u


@dataclass(frozen=True, kw_only=True)
class Settlement:
    """The verdict on a run, with the remaining approach to equilibrium that it rests on.

    `remaining` is in K with its standard uncertainty (None where it could not be estimated); `half_width` is the
    expanded uncertainty that the verdict used; `message` is one sentence for the bench, `notes` are findings inside
    the window (spikes removed, steps, gaps, fan changes).
    """

    verdict: Verdict
    message: str
    tau_s: float
    limit_k: float
    window: Window | None = None
    remaining: Estimate | None = None
    half_width: float | None = None
    notes: tuple[str, ...] = ()


@dataclass(frozen=True, kw_only=True)
class Figure:
    """A published number: kind, estimate, number of samples behind it, budget, and definition where one is needed."""

    kind: str
    estimate: Estimate
    samples: int = 0
    budget: tuple[Component, ...] = ()
    definition: str = ""
    note: str = ""


@dataclass(frozen=True, kw_only=True, eq=False)
class Trace:
    """One logged quantity of a run, for charts: shape (n,) each, seconds and standard unit; NaN is missing."""

    quantity: Quantity
    time_s: FloatArray
    values: FloatArray


@dataclass(frozen=True, kw_only=True, eq=False)
class RunResult:
    """One run reduced: verdict, figures by kind, warnings in words, and traces for charts."""

    mount: int  # from 1
    point: str
    log: str
    settlement: Settlement
    figures: Mapping[str, Figure]
    warnings: tuple[str, ...] = ()
    repairs: tuple[str, ...] = ()
    traces: Mapping[Quantity, Trace] = field(default_factory=dict)
    ambient_in_band: bool | None = None

    @property
    def id(self) -> str:
        """Return `m1/stock`, the run's name inside its bundle."""
        return f"m{self.mount}/{self.point}"


@dataclass(frozen=True, kw_only=True)
class Change:
    """How one figure of a test point differs from stock in the same bundle; no percent where stock is not positive."""

    kind: str
    absolute: Estimate
    percent: Estimate | None


@dataclass(frozen=True, kw_only=True, eq=False)
class PointResult:
    """A test point of a bundle: runs, figures averaged over mounts, change from stock (empty for stock and idle)."""

    point: str
    name: str
    runs: tuple[RunResult, ...]
    figures: Mapping[str, Figure]
    changes: Mapping[str, Change]
    verdict: Verdict  # the worst of its runs
    mount_note: str = ""  # how the mounting spread entered, in words


@dataclass(frozen=True, kw_only=True)
class PowerLine:
    """Straight line of rise on board power: rise = intercept + slope * power, inside [low_w, high_w] only.

    `covariance` is that of intercept and slope (K²/W); `fits` is False where a chi-squared test rejects.
    """

    kind: str  # core_rise, hotspot_rise or memory_rise
    intercept: Estimate
    slope: Estimate
    covariance: float
    low_w: float
    high_w: float
    points: tuple[str, ...]
    fits: bool
    chi2_p: float | None = None


@dataclass(frozen=True, kw_only=True)
class PowerSweep:
    """Stock and lowered power limits together: `points` by rising frame rate, the most efficient, the fastest.

    `last_tenth` is the board power in W that the last tenth of the frame rate costs; None where the slowest point
    still has more than nine tenths of it (`lowest_share`).
    """

    points: tuple[str, ...]
    best: str
    best_efficiency: Estimate
    top: str
    last_tenth: Estimate | None
    lowest_share: float


@dataclass(frozen=True, kw_only=True, eq=False)
class BundleResult:
    """Everything computed for one bundle; `points` follow the protocol's order."""

    bundle: str
    points: tuple[PointResult, ...]
    lines: Mapping[str, PowerLine]
    mounts: int
    warnings: tuple[str, ...] = ()
    notes: tuple[str, ...] = ()  # worth knowing, nothing wrong
    sweep: PowerSweep | None = None

    def point(self, point: str) -> PointResult | None:
        """Return the result at a test point, or None where the bundle has no run there."""
        return next((p for p in self.points if p.point == point), None)
