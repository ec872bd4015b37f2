"""One run: its verdict, and every figure that its log and frame file can give."""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping
from dataclasses import replace

import numpy as np

from builder.archive.catalogue import Setup
from builder.archive.protocol import TestPoint
from builder.core.quantity import Estimate
from builder.core.results import (
    CORE,
    FIGURES,
    SENSORS,
    CardSensor,
    Figure,
    OverLimit,
    Quantity,
    RunResult,
    Settlement,
    Trace,
    Verdict,
    Window,
)
from builder.logs import slow_start_said
from builder.reduction.derived import derived_figures
from builder.reduction.frame_times import DEFINITIONS, RATE_DEFINITION, frame_figures
from builder.reduction.inputs import RunInput, channel, corrected, in_band, limits_of, mean_of, over_limit, settle_rule
from builder.reduction.not_at_rest import window_figures
from builder.settling import Channel, Derived, Judgement, Signals, WindowMean, judge
from builder.uncertainty import rectangular

HAND_AMBIENT_HALF_WIDTH_K = 0.5  # of a reading by hand where the bench declares no ambient sensor
FRAMES_TOLERANCE = 0.02
COARSER = 1.2  # times the declared resolution, before that is worth a warning
ALIAS_SHARE, FEWEST_SWINGS = 0.05, 20  # of the mean power, between readings
# Quantities whose plain mean is no figure: frames and sound have means of their own, the limit is a setting.
_NO_PLAIN_MEAN = {Quantity.FRAME_TIME, Quantity.FRAME_RATE, Quantity.SOUND_LEVEL, Quantity.POWER_LIMIT}

Judged = Mapping[CardSensor, Judgement]


def reduce_run(setup: Setup, given: RunInput, point: TestPoint) -> RunResult:
    """Return everything that one run gives; a figure that the data cannot give is absent, never not-a-number."""
    given = corrected(setup, given)
    judged = _judged(setup, given, point)
    settlement = next(iter(judged.values())).settlement if judged else _no_temperature(setup)
    window = settlement.window or _indicative_window(given, settlement)
    found = {f.kind: f for f in _figures(setup, given, point, judged, window)} if window else {}
    figures = {kind: found[kind] for kind in FIGURES if kind in found}
    too_much = over_limit(setup, point, figures)
    return RunResult(
        mount=given.mount,
        point=point.id,
        log=given.table.file.removeprefix(f"bundles/{setup.id}/"),
        settlement=settlement,
        figures=figures,
        warnings=tuple(_all_warnings(setup, given, figures, judged, too_much)) if judged else (),
        repairs=tuple(repair.message for repair in given.table.repairs),
        traces={
            q: Trace(quantity=q, time_s=given.table.time_s, values=c.values) for q, c in given.table.columns.items()
        },
        ambient_in_band=in_band(setup.protocol.ambient, figures),
        over_limit=too_much,
        joined=given.table.joined,
    )


# --- The verdict, and the window that figures are means of


def _judged(setup: Setup, given: RunInput, point: TestPoint) -> Judged:
    """Return the judgement of each of the card's temperatures: one course describes them all."""
    sensors = {s: found for s in SENSORS if (found := channel(setup, given, s.quantity))}
    if not sensors:
        return {}
    temperature, *further = sensors.values()
    coolant = channel(setup, given, Quantity.COOLANT_IN_TEMPERATURE) if setup.cooler.kind.liquid else None
    signals = Signals(
        time_s=given.table.time_s,
        temperature=temperature,
        power=channel(setup, given, Quantity.BOARD_POWER),
        ambient=_ambient(setup, given),
        coolant=coolant,
        fan=channel(setup, given, Quantity.FAN_SPEED) or channel(setup, given, Quantity.FAN_DUTY),
        further=tuple(further),
    )
    judgement = judge(signals, settle_rule(limits_of(setup), point, coolant_tau_s=setup.protocol.liquid.tau_s))
    return dict(zip(sensors, (judgement, *judgement.further), strict=True))


def _ambient(setup: Setup, given: RunInput) -> Channel | Estimate | None:
    logged = channel(setup, given, Quantity.AMBIENT_TEMPERATURE)
    if logged is not None or given.run.ambient_c is None:
        return logged
    half_width = setup.accuracy(Quantity.AMBIENT_TEMPERATURE).absolute or HAND_AMBIENT_HALF_WIDTH_K
    sensor = setup.sensor(Quantity.AMBIENT_TEMPERATURE)
    value = sensor.corrected(given.run.ambient_c) if sensor else given.run.ambient_c
    return Estimate(value=value, u=rectangular(half_width), unit="degC")


def _no_temperature(setup: Setup) -> Settlement:
    limits = limits_of(setup)
    message = "Cannot tell: the log has no core, hotspot or memory temperature."
    return Settlement(verdict=Verdict.UNDECIDED, message=message, tau_s=limits.tau_s, limit_k=limits.limit_k)


def _indicative_window(given: RunInput, settlement: Settlement) -> Window | None:
    """Return the last half of a run that has no window of its own: its means are told at the bench, never compared."""
    time = given.table.time_s
    if settlement.verdict is not Verdict.TOO_SHORT or time.size < 2:  # noqa: PLR2004 - no step
        return None
    step = float(np.median(np.diff(time)))
    end = float(time[-1]) + step
    return Window(start_s=end - (end - float(time[0])) / 2, end_s=end)


# --- Figures: means, then rises and frames, then what follows from them


def _figures(setup: Setup, given: RunInput, point: TestPoint, judged: Judged, window: Window) -> Iterator[Figure]:
    own = {s.quantity: j.settlement.window or window for s, j in judged.items()}  # memory may need a longer one
    means = {f.kind: f for f in _means(setup, given, point, {**dict.fromkeys(Quantity, window), **own})}
    if "ambient_temperature" not in means and isinstance(ambient := _ambient(setup, given), Estimate):
        means["ambient_temperature"] = Figure(kind="ambient_temperature", estimate=ambient, note="read by hand")
    rises = {f.kind: f for f in _rises(judged)}
    frames = {f.kind: f for f in _frames(setup, given, point, window)}
    known = {**means, **rises, **frames}
    yield from known.values()
    yield from derived_figures(setup, given, point, window, known)


def _means(setup: Setup, given: RunInput, point: TestPoint, windows: Mapping[Quantity, Window]) -> Iterator[Figure]:
    for quantity in given.table.columns:
        logged = None if quantity in _NO_PLAIN_MEAN else channel(setup, given, quantity)
        mean = mean_of(given, logged, windows[quantity], quantity, point) if logged else None
        if mean:
            yield _figure(str(quantity), mean)


def _figure(kind: str, found: WindowMean | Derived) -> Figure:
    return Figure(kind=kind, estimate=found.estimate, samples=found.samples, budget=found.budget)


def _rises(judged: Judged) -> Iterator[Figure]:
    """Yield rises at rest; of a run that is not settled the window's own."""
    for sensor, judgement in judged.items():
        at_rest = ((sensor.rise, judgement.rise), (sensor.psi, judgement.psi))
        yield from (_figure(kind, part) for kind, part in at_rest if part)
        yield from window_figures(sensor, judgement)
    if core := judged.get(CORE):
        of_loop = (("core_over_coolant", core.core_over_coolant), ("coolant_rise", core.coolant_rise))
        yield from (_figure(kind, part) for kind, part in of_loop if part)


def _frames(setup: Setup, given: RunInput, point: TestPoint, window: Window) -> Iterator[Figure]:
    definition = setup.protocol.frames.low_1pct
    found = frame_figures(given.frames.frame_ms, definition=definition, loop_s=point.loop_s) if given.frames else None
    if found is None:
        logged = channel(setup, given, Quantity.FRAME_RATE)
        mean = mean_of(given, logged, window, Quantity.FRAME_RATE, point) if logged else None
        if mean:
            note = "from the logged frame rate"
            yield replace(_figure("frame_rate", mean), definition=RATE_DEFINITION, note=note)
        return
    whole = not given.length_s or given.frames_s >= given.length_s * (1 - FRAMES_TOLERANCE)
    part = "" if whole else f"frames captured over {given.frames_s:.0f} s of the run's {given.length_s:.0f} s"
    yield Figure(kind="frame_rate", estimate=found.rate, samples=found.frames, definition=RATE_DEFINITION, note=part)
    yield Figure(kind="low_1pct", estimate=found.low, samples=found.frames, definition=DEFINITIONS[definition])


# --- What the tester is warned of


def _all_warnings(
    setup: Setup, given: RunInput, figures: Mapping[str, Figure], judged: Judged, too_much: OverLimit | None
) -> Iterator[str]:
    if too_much:
        yield f"The run {too_much.text}, so it compares with nothing."
    yield from _warnings(setup, given, figures)
    yield from _later(judged)
    yield from _frame_warnings(given)


def _warnings(setup: Setup, given: RunInput, figures: Mapping[str, Figure]) -> Iterator[str]:
    if _ambient(setup, given) is None:
        yield "No ambient temperature: there is no rise over ambient, and this run compares with nothing."
    if in_band(setup.protocol.ambient, figures) is False:
        band, ambient = setup.protocol.ambient, figures["ambient_temperature"].estimate.value
        yield f"Ambient {ambient:.1f} °C is outside the protocol's band of {band.min_c:g} to {band.max_c:g} °C."
    if "board_power" not in figures:
        yield "No board power: there is no rise per watt."
    yield from _coarser(setup, given)
    yield from _aliased(setup, given)


def _coarser(setup: Setup, given: RunInput) -> Iterator[str]:
    """Yield where a temperature moves in steps coarser than its sensor is declared to have."""
    for sensor in SENSORS:
        column, declared = given.table.columns.get(sensor.quantity), setup.sensor(sensor.quantity)
        stated = declared.resolution if declared else None
        if column and stated and (column.resolution or 0.0) > COARSER * stated:
            steps = f"{column.resolution:g} K, not of {stated:g} K as declared"
            yield f"{sensor.name} temperature moves in steps of {steps}."


def _aliased(setup: Setup, given: RunInput) -> Iterator[str]:
    """Yield a warning where instant readings of a power that swings may alias the load's own cycle."""
    sensor, power = setup.sensor(Quantity.BOARD_POWER), given.table.columns.get(Quantity.BOARD_POWER)
    if sensor is None or sensor.averaging != "instant" or power is None:
        return
    values = power.values[np.isfinite(power.values)][power.values.size // 2 :]
    swing = float(np.std(np.diff(values))) / math.sqrt(2) if values.size > FEWEST_SWINGS else 0.0
    mean = float(np.mean(values)) if values.size else 0.0
    if mean > 0 and swing > ALIAS_SHARE * mean:
        yield (
            f"Board power swings by {swing / mean:.0%} from one instant reading to the next: its mean may follow the "
            "moments of sampling; log an averaged reading."
        )


def _later(judged: Judged) -> Iterator[str]:
    """Yield the sensors that still drift though the core, whose verdict is the run's, has settled."""
    core = judged.get(CORE)
    if core is None or core.settlement.verdict is not Verdict.SETTLED:
        return
    for sensor, judgement in judged.items():
        if judgement.settlement.verdict is Verdict.DRIFTING:
            yield f"{sensor.name} has not settled, though the core has: {judgement.settlement.message}"


def _frame_warnings(given: RunInput) -> Iterator[str]:
    frames_s, length_s = given.frames_s, given.length_s
    if given.frames and (said := slow_start_said(given.frames.frame_ms, given.run.skip_frames)):
        yield f"{said[0].upper()}{said[1:]}."
    if given.frames and length_s and frames_s > length_s * (1 + FRAMES_TOLERANCE):
        yield f"The frame file holds {frames_s:.0f} s of frames, the log only {length_s:.0f} s: are they one run?"
