"""The named types that pass between reduction, comparison and pages, and the list of figures."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import KW_ONLY, dataclass, field, replace
from enum import Flag, StrEnum, auto
from functools import cache
from types import MappingProxyType
from typing import Self

from builder.core.quantity import NO_BREAK, Estimate, FloatArray, format_estimate, format_limit, format_number


class Quantity(StrEnum):
    """What a logged column measures.

    `unit` is the id of its unit inside the program (`core.quantity.SYMBOLS`). Schemas show the first line.
    """

    _value_: str
    unit: str

    def __new__(cls, name: str, unit: str = "") -> Self:
        """Return the member that is the text `name` and carries its unit; a look-up by the text gives no unit."""
        member = str.__new__(cls, name)
        member._value_ = name
        member.unit = unit
        return member

    CORE_TEMPERATURE = "core_temperature", "degC"
    HOTSPOT_TEMPERATURE = "hotspot_temperature", "degC"
    MEMORY_TEMPERATURE = "memory_temperature", "degC"
    AMBIENT_TEMPERATURE = "ambient_temperature", "degC"
    COOLANT_IN_TEMPERATURE = "coolant_in_temperature", "degC"
    COOLANT_OUT_TEMPERATURE = "coolant_out_temperature", "degC"
    BOARD_POWER = "board_power", "W"
    POWER_LIMIT = "power_limit", "W"
    CORE_CLOCK = "core_clock", "MHz"
    MEMORY_CLOCK = "memory_clock", "MHz"
    CORE_VOLTAGE = "core_voltage", "V"
    FAN_SPEED = "fan_speed", "rpm"
    FAN_DUTY = "fan_duty", "percent"
    PUMP_SPEED = "pump_speed", "rpm"
    FLOW_RATE = "flow_rate", "L/min"
    FRAME_TIME = "frame_time", "ms"
    FRAME_RATE = "frame_rate", "1/s"
    SOUND_LEVEL = "sound_level", "dBA"
    UTILIZATION = "utilization", "percent"


class Use(Flag):
    """Where a figure is used beside the full tables and the data files, which hold every figure."""

    NONE = 0
    HEADLINE = auto()  # in large type: head of a result's page, title card of an episode, feed, data for search engines
    SUMMARY = auto()  # tables with a row for each result, and the charts over the archive
    POINTS = auto()  # the first table of a result's page, with a row for each test point
    BUDGET = auto()  # its uncertainty budget is shown on the page
    CHANGE = auto()  # its change from stock is worked out
    CHANGES = auto()  # and shown in the page's table of changes
    VERSUS = auto()  # the card of two results side by side
    ORDER = auto()  # the orders of coolers at stock on a card's page
    MAIN = SUMMARY | POINTS | BUDGET | VERSUS


@dataclass(frozen=True)
class FigureKind:
    """One kind of published number: a line of `FIGURES`.

    `unit` is a unit id; `better` is the direction that viewers want, "lower", "higher" or neither. `bench` is the place
    from 1 in the table at the bench, under `heading`, and `preview` that in which the preview picture takes figures; 0
    leaves it out. A figure `of_loop` needs a liquid loop; one `of_room` follows the room, so that its values in several
    sessions do not repeat one value. A `setting` is chosen, or follows the card's own control: it is shown and never
    judged.
    """

    id: str
    name: str
    short: str
    unit: str
    _: KW_ONLY
    better: str = ""
    use: Use = Use.NONE
    bench: int = 0
    heading: str = ""
    preview: int = 0
    of_loop: bool = False
    of_room: bool = False
    setting: bool = False

    @property
    def over_room(self) -> bool:
        """Whether it belongs to the whole path from the card to the room, so with a water block to its loop too."""
        return any(self.id in (s.rise, s.temperature, s.psi, s.from_idle) for s in SENSORS)

    @property
    def by_hand_compares(self) -> bool:
        """Whether a reading by hand can be compared: what it may lack of rest is allowed for in K, so not in power."""
        return self.unit in ("K", "K/W") and self.id != "hotspot_gap"

    @property
    def has_percent(self) -> bool:
        """Whether a change in percent says something: not where the unit's zero is arbitrary."""
        return self.unit not in ("degC", "dBA")


def _by_id(*kinds: FigureKind) -> Mapping[str, FigureKind]:
    return MappingProxyType({kind.id: kind for kind in kinds})


_F = FigureKind
_MAIN = Use.MAIN | Use.HEADLINE
_CHANGE = Use.CHANGE | Use.CHANGES
# In the order in which tables show them.
FIGURES: Mapping[str, FigureKind] = _by_id(
    _F("core_rise", "Core over ambient", "Core rise", "K", better="lower", use=_MAIN | _CHANGE | Use.ORDER,
       bench=1, heading="rise", preview=1),
    _F("hotspot_rise", "Hotspot over ambient", "Hotspot rise", "K", better="lower",
       use=Use.POINTS | Use.BUDGET | Use.CHANGE | Use.VERSUS),
    _F("memory_rise", "Memory over ambient", "Memory rise", "K", better="lower", use=Use.MAIN | _CHANGE | Use.ORDER),
    _F("core_temperature", "Core temperature", "Core", "degC", better="lower",
       use=Use.HEADLINE | Use.BUDGET | Use.CHANGE, bench=2, heading="core", preview=4),
    _F("hotspot_temperature", "Hotspot temperature", "Hotspot", "degC", better="lower"),
    _F("memory_temperature", "Memory temperature", "Memory", "degC", better="lower", use=Use.HEADLINE, preview=3),
    _F("hotspot_gap", "Hotspot above core", "Hotspot gap", "K", better="lower"),
    _F("core_psi", "Core rise per watt (Ψ)", "Ψ core", "K/W", better="lower", use=_MAIN,
       bench=4, heading="Ψ", preview=5),
    _F("hotspot_psi", "Hotspot rise per watt (Ψ)", "Ψ hotspot", "K/W", better="lower"),
    _F("memory_psi", "Memory rise per watt (Ψ)", "Ψ memory", "K/W", better="lower"),
    _F("core_from_idle", "Core, load less idle", "Core from idle", "K", better="lower", use=Use.CHANGE),
    _F("memory_from_idle", "Memory, load less idle", "Memory from idle", "K", better="lower", use=Use.CHANGE),
    _F("board_power", "Board power", "Power", "W", use=_MAIN | _CHANGE,
       bench=3, heading="power", preview=2),
    _F("power_limit_share", "Board power, share of the limit", "Of limit", "percent", setting=True),
    _F("core_clock", "Core clock", "Core clock", "MHz", better="higher", use=Use.CHANGE, setting=True),
    _F("memory_clock", "Memory clock", "Memory clock", "MHz", setting=True),
    _F("core_voltage", "Core voltage", "Voltage", "V", setting=True),
    _F("frame_rate", "Mean frame rate", "Frame rate", "1/s", better="higher", use=_MAIN | _CHANGE,
       bench=5, heading="rate", preview=6),
    _F("low_1pct", "1 % low", "1 % low", "1/s", better="higher", use=Use.POINTS | Use.CHANGE | Use.VERSUS),
    _F("frames_per_joule", "Frames per joule", "Efficiency", "1/J", better="higher",
       use=Use.POINTS | _CHANGE | Use.VERSUS),
    _F("ambient_temperature", "Ambient temperature", "Ambient", "degC", of_room=True),
    _F("coolant_in_temperature", "Coolant into the block", "Coolant in", "degC", of_loop=True, of_room=True),
    _F("coolant_out_temperature", "Coolant out of the block", "Coolant out", "degC", of_loop=True, of_room=True),
    _F("core_over_coolant", "Core over coolant", "Core-coolant", "K", better="lower", of_loop=True),
    _F("core_coolant_psi", "Core over coolant per watt", "Per watt", "K/W", better="lower", of_loop=True,
       use=Use.ORDER | Use.VERSUS),
    _F("coolant_rise", "Coolant over ambient", "Coolant rise", "K", better="lower", of_loop=True),
    _F("coolant_heat", "Heat carried by the coolant", "Coolant heat", "W", of_loop=True),
    _F("coolant_heat_share", "Coolant heat, share of board power", "Heat share", "percent", of_loop=True),
    _F("flow_rate", "Coolant flow", "Flow", "L/min", of_loop=True, setting=True),
    _F("fan_speed", "Fan speed", "Fan", "rpm", better="lower", use=Use.POINTS | Use.CHANGE, setting=True),
    _F("fan_duty", "Fan duty", "Fan duty", "percent", better="lower", setting=True),
    _F("pump_speed", "Pump speed", "Pump", "rpm", of_loop=True, setting=True),
    _F("sound_level", "Sound pressure level", "Sound", "dBA", better="lower", use=Use.MAIN | Use.CHANGE),
    _F("utilization", "Utilization", "Load", "percent", setting=True),
)  # fmt: skip


@cache
def figures_for(use: Use) -> tuple[str, ...]:
    """Return the ids of the figures that are used somewhere, in the order of tables.

    >>> figures_for(Use.ORDER)
    ('core_rise', 'memory_rise', 'core_coolant_psi')
    """
    return tuple(kind.id for kind in FIGURES.values() if use in kind.use)


BENCH_FIGURES = tuple(sorted((k for k in FIGURES if FIGURES[k].bench), key=lambda k: FIGURES[k].bench))
PREVIEW_FIGURES = tuple(sorted((k for k in FIGURES if FIGURES[k].preview), key=lambda k: FIGURES[k].preview))


@dataclass(frozen=True, kw_only=True)
class CardSensor:
    """A temperature sensor of the card, and the figures that rest on it: ids of `FIGURES`.

    `from_idle` is the rise under load less that at idle; empty where nobody asks for it.
    """

    name: str
    quantity: Quantity
    temperature: str
    rise: str
    psi: str
    from_idle: str = ""


# In the order in which charts and tables show them.
SENSORS = (
    CardSensor(
        name="Core",
        quantity=Quantity.CORE_TEMPERATURE,
        temperature="core_temperature",
        rise="core_rise",
        psi="core_psi",
        from_idle="core_from_idle",
    ),
    CardSensor(
        name="Hotspot",
        quantity=Quantity.HOTSPOT_TEMPERATURE,
        temperature="hotspot_temperature",
        rise="hotspot_rise",
        psi="hotspot_psi",
    ),
    CardSensor(
        name="Memory",
        quantity=Quantity.MEMORY_TEMPERATURE,
        temperature="memory_temperature",
        rise="memory_rise",
        psi="memory_psi",
        from_idle="memory_from_idle",
    ),
)
CORE, HOTSPOT, MEMORY = SENSORS


class Verdict(StrEnum):
    """What is said of a run."""

    SETTLED = "settled"
    DRIFTING = "drifting"
    UNDECIDED = "undecided"
    TOO_SHORT = "too short"
    BY_HAND = "by hand"  # read off a display: nobody can say whether it had settled


@dataclass(frozen=True, kw_only=True)
class Window:
    """The part of a run that is averaged: [start_s, end_s) in seconds of the run."""

    start_s: float
    end_s: float


class Role(StrEnum):
    """What a budget line says of two runs on one bench: errors that they share, and errors of each run's own."""

    OWN = "own"
    OFFSET = "instrument offset"  # the same number of units in every reading: cancels in a difference
    GAIN = "instrument gain"  # the same share of every reading: a share of the difference is left
    STEP = "instrument step"  # as rounding: the same in repeats of one reading, so not averaged, and no others share it
    MOUNT = "mount"  # differs from mount to mount of one cooler


@dataclass(frozen=True, kw_only=True)
class Component:
    """One line of an uncertainty budget (JCGM 100:2008, table H.1).

    `u` is the input's standard uncertainty in `unit`; `sensitivity` turns it into the figure's unit; `kind` is A
    (from the data) or B (from elsewhere). An instrument's line names the quantity whose `sensor` it is, where it is
    one sensor's; `name` is for readers alone.
    """

    name: str
    kind: str
    u: float
    unit: str
    dof: float
    sensitivity: float = 1.0
    role: Role = Role.OWN
    sensor: Quantity | None = None

    @property
    def contribution(self) -> float:
        """Return |sensitivity| times u, in the figure's unit."""
        return abs(self.sensitivity) * self.u

    @property
    def of_instrument(self) -> bool:
        """Whether the line is an error of an instrument, which all runs on one bench share."""
        return self.role in (Role.OFFSET, Role.GAIN)

    def times(self, factor: float) -> Component:
        """Return the line in the budget of a figure that is this one times an exact factor."""
        return replace(self, sensitivity=self.sensitivity * factor)


class Cause(StrEnum):
    """Why nothing can be said of a run: what an undecided verdict rests on."""

    NO_READINGS = "no readings"
    HOLES = "holes in the window"
    STUCK = "stuck reading"
    SEVERAL_RUNS = "a gap longer than any run"
    FAN_STEP = "fan step"
    TEMPERATURE_STEP = "unexplained step of the temperature"
    NO_DESCRIPTION = "no simple approach to rest"
    WINDOW_MOVES = "the window itself moves"
    RESOLUTION = "coarse readings"
    SCATTER = "too little to go by"


class ChangeKind(StrEnum):
    """What changed inside a window."""

    FAN = "fan"
    POWER = "board power"
    TEMPERATURE = "temperature"
    GAP = "gap"


@dataclass(frozen=True, kw_only=True)
class WindowChange:
    """A change inside a window: its time in seconds of the run, and its size in `unit` (of a gap: its length in s).

    A step of fan or power has its levels `before` and `after`; a change of the temperature has none.
    """

    kind: ChangeKind
    time_s: float
    size: float
    unit: str
    before: float | None = None
    after: float | None = None


@dataclass(frozen=True, kw_only=True)
class Settlement:
    """The verdict on a run, with the remaining approach to equilibrium that it rests on.

    `remaining` is in K with its standard uncertainty (None where it could not be estimated); `half_width` is the
    expanded uncertainty that the verdict used; `message` is one sentence for the bench, `notes` are findings inside
    the window (spikes removed, steps, gaps, fan changes), `changes` the same as values. `cause` is set where the
    verdict is undecided. `allowance_k` is what the protocol lets a run read by hand lack of rest, in K either way.
    """

    verdict: Verdict
    message: str
    tau_s: float
    limit_k: float
    window: Window | None = None
    remaining: Estimate | None = None
    half_width: float | None = None
    notes: tuple[str, ...] = ()
    changes: tuple[WindowChange, ...] = ()
    cause: Cause | None = None
    allowance_k: float | None = None

    @property
    def compared(self) -> bool:
        """Whether figures of the run compare with others: it had settled, or may lack no more than is allowed for."""
        return self.verdict is Verdict.SETTLED or self.allowance_k is not None


class Bound(StrEnum):
    """Whether a figure is a value, or all that is known is that the value lies below or above it."""

    NONE = "none"
    UPPER = "upper"
    LOWER = "lower"


BOUND_WORDS = {Bound.UPPER: "at most", Bound.LOWER: "at least"}


def bounded_text(estimate: Estimate, bound: Bound = Bound.NONE, *, unit: bool = True) -> str:
    """Return an estimate as people read it: `61.4 ± 0.3 K`, or `at least 61.1 K` where it is a bound."""
    if bound is Bound.NONE:
        return format_estimate(estimate, unit=unit)
    return f"{BOUND_WORDS[bound]} {format_limit(estimate, lower=bound is Bound.LOWER, unit=unit)}"


@dataclass(frozen=True, kw_only=True)
class Figure:
    """A published number: kind, estimate, number of samples behind it, budget, and definition where one is needed."""

    kind: str
    estimate: Estimate
    samples: int = 0
    budget: tuple[Component, ...] = ()
    definition: str = ""
    note: str = ""
    bound: Bound = Bound.NONE

    def text(self, *, unit: bool = True) -> str:
        """Return the figure as people read it, a bound as one."""
        return bounded_text(self.estimate, self.bound, unit=unit)


@dataclass(frozen=True, kw_only=True, eq=False)
class Trace:
    """One logged quantity of a run, for charts: shape (n,) each, seconds and standard unit; NaN is missing."""

    quantity: Quantity
    time_s: FloatArray
    values: FloatArray


@dataclass(frozen=True, kw_only=True)
class OverLimit:
    """A power limit that was not applied: the limit of the run's test point in W, and the mean board power above it."""

    limit_w: float
    power: Estimate

    @property
    def text(self) -> str:
        """Return what is wrong in words, without a full stop."""
        limit = format_number(self.limit_w, 0)
        return f"drew {format_estimate(self.power)} where its limit is {limit}{NO_BREAK}W: the limit was not applied"


@dataclass(frozen=True, kw_only=True, eq=False)
class RunResult:
    """One run reduced: verdict, figures by kind, warnings in words, and traces for charts.

    With `over_limit` it was made at another setting than its test point's, so it stands for the point nowhere.
    """

    mount: int  # from 1
    point: str
    log: str  # the card's, where there are several
    settlement: Settlement
    figures: Mapping[str, Figure]
    warnings: tuple[str, ...] = ()
    repairs: tuple[str, ...] = ()
    traces: Mapping[Quantity, Trace] = field(default_factory=dict)
    ambient_in_band: bool | None = None
    over_limit: OverLimit | None = None
    joined: tuple[Quantity, ...] = ()  # read by instruments with logs of their own

    @property
    def id(self) -> str:
        """Return `m1/stock`, the run's name inside its bundle."""
        return f"m{self.mount}/{self.point}"


def counted(runs: Sequence[RunResult]) -> tuple[RunResult, ...]:
    """Return the runs that a test point's figures are means of.

    Those that settled at the point's own power limit, where there are any; else those that settled; else those read by
    hand with an allowance; else all.
    """
    settled = tuple(r for r in runs if r.settlement.verdict is Verdict.SETTLED)
    at_limit = tuple(r for r in settled if r.over_limit is None)
    return at_limit or settled or tuple(r for r in runs if r.settlement.compared) or tuple(runs)


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

    @property
    def over_limit(self) -> OverLimit | None:
        """Return by how much its figures are of another setting: the power limit was not applied; None elsewhere."""
        return next((run.over_limit for run in counted(self.runs) if run.over_limit), None)

    @property
    def mark(self) -> str:
        """Return what is said beside its name wherever it is shown; empty where nothing is the matter.

        Its verdict where it had not settled, or else that its power limit was not applied.
        """
        if self.verdict is not Verdict.SETTLED:
            return str(self.verdict)
        return "power limit not applied" if self.over_limit else ""

    @property
    def compared(self) -> bool:
        """Whether its runs had settled, or were read by hand with an allowance, as a comparison needs."""
        allowed = self.verdict is Verdict.BY_HAND and all(run.settlement.compared for run in counted(self.runs))
        return self.verdict is Verdict.SETTLED or allowed


@dataclass(frozen=True, kw_only=True)
class Bend:
    """The second-order term of a curve: coefficient · (x² - q1 · x - q0), whose error is independent of the rest."""

    coefficient: Estimate
    q1: float
    q0: float

    def shape(self, x: float) -> float:
        """Return x² - q1 · x - q0, in the square of the unit of x."""
        return x * (x - self.q1) - self.q0


@dataclass(frozen=True, kw_only=True)
class PowerLine:
    """Rise on board power inside [low_w, high_w] only: rise = intercept + slope * power and the `bend`.

    `covariance` is that of intercept and slope (K²/W); `lack_of_fit` is the standard deviation in K of points that lie
    off it by more than their own uncertainty, 0 elsewhere; it is inside the coefficients. `fits` is False where it is
    so large that neither line nor curve says anything. The bend of a straight line is 0 with the uncertainty of what
    its points could not show, None where there are two. Instruments are left out of the coefficients:
    `slope_instruments` is the standard uncertainty in K/W that they leave in the slope, where offsets cancel and gains
    do not.
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
    slope_instruments: float = 0.0
    lack_of_fit: float = 0.0
    bend: Bend | None = None

    @property
    def shape(self) -> str:
        """Return what it is called: a line or a curve."""
        return "curve" if self.is_curve else "line"

    @property
    def is_curve(self) -> bool:
        """Return whether it bends; the bend of a straight line is 0, with an uncertainty."""
        return self.bend is not None and self.bend.coefficient.value != 0

    @property
    def stated_slope(self) -> Estimate:
        """Return the slope with what the instruments leave in it, for readers; of a curve it is that of its middle."""
        return replace(self.slope, u=math.hypot(self.slope.u, self.slope_instruments))

    def slope_at(self, watts: float) -> Estimate:
        """Return the slope in K/W at a power, with what the instruments leave in it."""
        if self.bend is None or not self.is_curve:
            return self.stated_slope
        turn = 2 * watts - self.bend.q1
        u = math.hypot(self.slope.u, turn * self.bend.coefficient.u, self.slope_instruments)
        return replace(self.slope, value=self.slope.value + turn * self.bend.coefficient.value, u=u)


class NoLine(StrEnum):
    """Why a rise has no line on board power that says anything, as an empty cell says it."""

    NOT_MEASURED = "not measured"
    NO_RISE = "no rise over ambient"
    NO_POWER = "no board power logged"
    FEW_POINTS = "settled at fewer than two powers"
    SHORT_SPAN = "tested powers too close together"
    NO_FIT = "no line or curve fits its points"


@dataclass(frozen=True, kw_only=True)
class PowerSweep:
    """Stock and lowered power limits together: `points` by rising frame rate, the most efficient, the fastest.

    `last_tenth` is the board power in W that the last tenth of stock's frame rate costs; None where stock has no
    frames or the slowest point still has more than nine tenths of its rate (`lowest_share`).
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
    no_lines: Mapping[str, NoLine] = field(default_factory=dict)  # why a rise has none
    warnings: tuple[str, ...] = ()
    notes: tuple[str, ...] = ()  # worth knowing, nothing wrong
    sweep: PowerSweep | None = None

    def point(self, point: str) -> PointResult | None:
        """Return the result at a test point, or None where the bundle has no run there."""
        return next((p for p in self.points if p.point == point), None)
