"""Everything that a run sheet shows, in its order."""

from __future__ import annotations

import datetime as dt
import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from builder.archive.bundle import Pad
from builder.archive.catalogue import Card, CoolerKind, Setup
from builder.archive.protocol import PointRole, Protocol, TestPoint
from builder.archive.safety_cautions import Caution
from builder.core.quantity import SYMBOLS, format_number
from builder.core.results import Quantity
from builder.core.words import count
from builder.reduction.inputs import settle_rule
from builder.reduction.mounts import DECLARED_DOF, declared_spread
from builder.sheet.steps import Assembly, Stage, Step, gap_range, pad_fit, percent, stage_name
from builder.uncertainty import difference_told

CHANGEOVER_S = 180.0  # setting the next point and saving the log; an assumption that the sheet states
_MINUTE_S = 60.0
_DAY_MIN = 1440
COMMON_THICKNESSES_MM = (0.5, 1.0, 1.5, 2.0, 2.5, 3.0)
SPARE_PAD_ROWS = 3


@dataclass(frozen=True, kw_only=True)
class Session:
    """What is planned: bundle with everything it names, number of mounts, time of the first run, and known pads."""

    setup: Setup
    mounts: int
    start: dt.time | None = None
    pads: tuple[Pad, ...] = ()


@dataclass(frozen=True, kw_only=True)
class StageBlock:
    """A stage of the work: cautions first, then its steps, then the pads where they are fitted in it."""

    name: str
    cautions: tuple[Caution, ...]
    steps: tuple[Step, ...]
    with_pads: bool


@dataclass(frozen=True, kw_only=True)
class PadRow:
    """A pad of the sheet, as text; empty cells are filled in by hand."""

    where: str = ""
    thickness: str = ""
    gap: str = ""
    compression: str = ""
    warning: str = ""


@dataclass(frozen=True, kw_only=True)
class RunRow:
    """A run of the sheet, as text."""

    name: str
    settings: str
    workload: str
    soak: str
    window: str
    begins: str
    window_begins: str
    ends: str
    log: str
    required: bool
    unfit: str


@dataclass(frozen=True, kw_only=True)
class MountBlock:
    """A mount: the steps that come before its runs (none for the first), and its runs."""

    number: int
    before: StageBlock | None
    runs: tuple[RunRow, ...]
    ends: str
    clocked: bool  # whether times are of the clock


@dataclass(frozen=True, kw_only=True)
class Fact:
    """A line of the sheet's head."""

    label: str
    text: str


@dataclass(frozen=True, kw_only=True)
class SheetPlan:
    """The run sheet."""

    title: str
    bundle: str
    facts: tuple[Fact, ...]
    parts: tuple[str, ...]
    before: tuple[StageBlock, ...]
    pads: tuple[PadRow, ...]
    pad_guide: tuple[PadRow, ...]
    run_cautions: tuple[Caution, ...]
    run_steps: tuple[Step, ...]
    follow: str
    workloads: tuple[Fact, ...]
    mounts: tuple[MountBlock, ...]
    readings: tuple[Fact, ...]  # quantity in words, and its unit
    after: StageBlock
    changeover: str


def sheet_plan(session: Session, assembly: Assembly, cautions: Iterable[Caution]) -> SheetPlan:
    """Return the run sheet of a session."""
    setup, protocol = session.setup, session.setup.protocol
    kind = setup.cooler.kind
    known = tuple(c for c in cautions if "sheet step" in c.where and str(kind) in c.kinds)
    stages = {stage: _stage(stage, kind, assembly, known) for stage in Stage}
    before = (stages[Stage.PREPARE], stages[Stage.MOUNT], stages[Stage.FILL])
    first_loaded = next((p for p in protocol.points if p.role is not PointRole.IDLE), protocol.points[0])
    used = {point.workload for point in protocol.points}
    return SheetPlan(
        title=f"{setup.cooler.name} on {setup.card.name}",
        bundle=setup.id,
        facts=tuple(_facts(session)),
        parts=assembly.parts_for(kind),
        before=tuple(block for block in before if block.steps),
        pads=(*(_pad_row(pad) for pad in session.pads), *(PadRow() for _ in range(SPARE_PAD_ROWS))),
        pad_guide=tuple(
            PadRow(
                thickness=f"{gaps.thickness_mm:g} mm",
                gap=f"{format_number(gaps.low_mm, 2)} to {format_number(gaps.high_mm, 2)} mm",
            )
            for gaps in map(gap_range, COMMON_THICKNESSES_MM)
        ),
        run_cautions=stages[Stage.RUN].cautions,
        run_steps=stages[Stage.RUN].steps,
        follow=f"soakbook reduce DIR {setup.id} --follow m1/{first_loaded.id}",
        workloads=tuple(Fact(label=w.name, text=w.description) for w in protocol.workloads if w.name in used),
        mounts=tuple(_mount(session, number, stages[Stage.REMOUNT]) for number in range(1, session.mounts + 1)),
        readings=tuple(_reading(quantity) for quantity in read_by_hand(setup)),
        after=stages[Stage.FINISH],
        changeover=minutes_of(CHANGEOVER_S),
    )


_ALWAYS_READ = {Quantity.CORE_TEMPERATURE, Quantity.BOARD_POWER, Quantity.AMBIENT_TEMPERATURE}
_ON_A_DISPLAY = (
    Quantity.CORE_TEMPERATURE,
    Quantity.HOTSPOT_TEMPERATURE,
    Quantity.MEMORY_TEMPERATURE,
    Quantity.BOARD_POWER,
    Quantity.FRAME_RATE,
    Quantity.AMBIENT_TEMPERATURE,
    Quantity.COOLANT_IN_TEMPERATURE,
    Quantity.COOLANT_OUT_TEMPERATURE,
    Quantity.FLOW_RATE,
    Quantity.FAN_SPEED,
    Quantity.SOUND_LEVEL,
)
_OF_A_LOOP = {Quantity.COOLANT_IN_TEMPERATURE, Quantity.COOLANT_OUT_TEMPERATURE, Quantity.FLOW_RATE}


def read_by_hand(setup: Setup) -> tuple[Quantity, ...]:
    """Return what can be read off displays in a session: what the bench's readers know, core, power and room at least.

    Frame times in a file are a frame rate on a display, and only a loop has coolant.
    """
    known = {column.quantity for reader in setup.bench.readers for column in reader.columns.values()} | _ALWAYS_READ
    known |= {Quantity.FRAME_RATE} if Quantity.FRAME_TIME in known else set()
    known |= {Quantity.SOUND_LEVEL} if setup.bench.sound else set()
    known -= set() if setup.cooler.kind.liquid else _OF_A_LOOP
    return tuple(quantity for quantity in _ON_A_DISPLAY if quantity in known)


def _reading(quantity: Quantity) -> Fact:
    name = str(quantity).removesuffix("_temperature").replace("_", " ")
    return Fact(label=name, text=SYMBOLS[quantity.unit])


def _stage(stage: Stage, kind: CoolerKind, assembly: Assembly, cautions: Sequence[Caution]) -> StageBlock:
    return StageBlock(
        name=stage_name(stage, kind),
        cautions=tuple(c for c in cautions if c.step == stage.value),
        steps=assembly.steps_for(kind, stage),
        with_pads=stage is Stage.MOUNT and kind is not CoolerKind.STOCK,
    )


def _facts(session: Session) -> Iterable[Fact]:
    setup = session.setup
    bundle, protocol, band = setup.bundle, setup.protocol, setup.protocol.ambient
    yield Fact(label="Date", text=bundle.tested.isoformat())
    yield Fact(label="Cooler", text=f"{setup.cooler.name} ({setup.cooler.kind})")
    watts = format_number(setup.card.board_power_w, 0)
    yield Fact(label="Card", text=f"{setup.card.name}, {watts} W, sample {bundle.card_sample}")
    yield Fact(label="Bench", text=setup.bench.name)
    yield Fact(label="Protocol", text=f"{protocol.name}, version {protocol.version}")
    yield Fact(label="Mounts", text=f"{session.mounts} (the protocol asks for {protocol.mounts})")
    if told := _told(session):
        yield Fact(label="What that tells", text=told)
    yield Fact(label="Ambient", text=f"{band.min_c:g} to {band.max_c:g} °C, or the runs compare with nothing")


def _told(session: Session) -> str:
    """Return which difference between two coolers of so many mounts is told; empty without a declared spread."""
    setup = session.setup
    spread = declared_spread(setup.protocol, setup.cooler.kind, "core_rise", None)
    if not spread:
        return ""
    dof = DECLARED_DOF + 2 * (session.mounts - 1)
    told = difference_told(spread * math.sqrt(2 / session.mounts), dof)
    mounts = count(session.mounts, "mount")
    return (
        f"{mounts} of each of two coolers tell {format_number(told, 1)} K between them, with 80 % power, "
        f"by the protocol's spread of {spread:g} K from mount to mount"
    )


def _pad_row(pad: Pad) -> PadRow:
    fit = pad_fit(pad)
    return PadRow(
        where=pad.where,
        thickness=f"{pad.thickness_mm:g} mm",
        gap="" if pad.gap_mm is None else f"{pad.gap_mm:g} mm",
        compression="" if fit.compression is None else percent(fit.compression),
        warning=fit.warning,
    )


def _mount(session: Session, number: int, remount: StageBlock) -> MountBlock:
    start = session.start if number == 1 else None
    found = slots(session.setup, points_of(session.setup.protocol, number))
    return MountBlock(
        number=number,
        before=remount if number > 1 else None,
        runs=tuple(_run_row(slot, number, start, session.setup.card.board_power_w) for slot in found),
        ends=moment(start, max((slot.end_s for slot in found if not slot.unfit), default=0.0)),
        clocked=start is not None,
    )


def _run_row(slot: Slot, mount: int, start: dt.time | None, board_power_w: float) -> RunRow:
    point = slot.point
    settings = point.settings
    if point.power_limit_pct is not None:
        settings += f" Here: {format_number(board_power_w * point.power_limit_pct / 100, 0)} W."
    return RunRow(
        name=point.name,
        settings=settings,
        workload=point.workload,
        soak=minutes_of(slot.soak_s),
        window=minutes_of(slot.window_s),
        begins="" if slot.unfit else moment(start, slot.start_s),
        window_begins="" if slot.unfit else moment(start, slot.window_start_s),
        ends="" if slot.unfit else moment(start, slot.end_s),
        log=log_name(mount, point.id),
        required=point.required,
        unfit=slot.unfit,
    )


def log_name(mount: int, point: str) -> str:
    """Return the file name that the sheet and the bundle file give a run's log."""
    return f"m{mount}-{point}.csv"


# --- When each run of a session ends: soak, window and a fixed allowance between runs


@dataclass(frozen=True, kw_only=True)
class Slot:
    """One run of the session: its test point, and its soak, window and beginning in s, the last from the start."""

    point: TestPoint
    soak_s: float
    window_s: float
    start_s: float
    unfit: str = ""  # why this card cannot run it

    @property
    def window_start_s(self) -> float:
        """Return when the window may begin."""
        return self.start_s + self.soak_s

    @property
    def end_s(self) -> float:
        """Return when the run can be long enough."""
        return self.window_start_s + self.window_s


def slots(setup: Setup, points: Iterable[TestPoint]) -> tuple[Slot, ...]:
    """Return runs at test points one after the other; a point that the card cannot run takes no time."""
    limits = setup.protocol.liquid if setup.cooler.kind.liquid else setup.protocol.air
    found: list[Slot] = []
    clock = 0.0
    for point in points:
        unfit = power_limit_trouble(setup.card, point)
        rule = settle_rule(limits, point, coolant_tau_s=setup.protocol.liquid.tau_s)
        slot = Slot(point=point, soak_s=rule.soak_s, window_s=rule.window_length(), start_s=clock, unfit=unfit)
        clock = clock if unfit else slot.end_s + CHANGEOVER_S
        found.append(slot)
    return tuple(found)


def power_limit_trouble(card: Card, point: TestPoint) -> str:
    """Return why a card cannot run a test point, or an empty text."""
    limits, asked = card.power_limit_pct, point.power_limit_pct
    if limits is None or asked is None or limits.min <= asked <= limits.max:
        return ""
    return f"Leave out: the card takes power limits of {limits.min:g} to {limits.max:g} %."


def points_of(protocol: Protocol, mount: int) -> Sequence[TestPoint]:
    """Return the test points of a mount: all in the first; in a remount those that are required, under load."""
    if mount == 1:
        return protocol.points
    loaded = [p for p in protocol.points if p.required and p.role is not PointRole.IDLE]
    return loaded or protocol.points


def moment(start: dt.time | None, seconds: float) -> str:
    """Return a moment of the session, in whole minutes and never early: `10:51`, or `+0:21` with no start.

    >>> moment(dt.time(10, 30), 1205.0), moment(dt.time(23, 50), 1200.0), moment(None, 1260.0)
    ('10:51', '00:10 (day 2)', '+0:21')
    """
    minutes = math.ceil(seconds / _MINUTE_S - 1e-9)
    if start is None:
        return f"+{minutes // 60}:{minutes % 60:02d}"
    day, rest = divmod(start.hour * 60 + start.minute + minutes, _DAY_MIN)
    clock = f"{rest // 60:02d}:{rest % 60:02d}"
    return f"{clock} (day {day + 1})" if day else clock


def minutes_of(seconds: float) -> str:
    """Return a length of time in minutes, to a decimal where it is none.

    >>> minutes_of(600.0), minutes_of(630.0)
    ('10 min', '10.5 min')
    """
    minutes = seconds / _MINUTE_S
    return f"{format_number(minutes, 0 if minutes == round(minutes) else 1)} min"
