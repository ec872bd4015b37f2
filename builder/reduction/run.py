"""One run: its verdict, and every figure that its log and frame file can give."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import replace

import numpy as np

from builder.archive.catalogue import Setting
from builder.archive.protocol import SettleLimits, TestPoint
from builder.core.quantity import Estimate
from builder.core.results import FIGURES, Figure, Quantity, RunResult, Settlement, Trace, Verdict, Window
from builder.reduction.derived import corrected_level, derived_figures, energy_mean
from builder.reduction.frames import DEFINITIONS, RATE_DEFINITION, frame_figures
from builder.reduction.inputs import RunInput, _limits, channel, mean_of, settle_rule
from builder.settling import Channel, Derived, Judgement, Signals, WindowMean, judge, window_mean
from builder.uncertainty import rectangular

RISES = {
    "core_rise": Quantity.CORE_TEMPERATURE,
    "hotspot_rise": Quantity.HOTSPOT_TEMPERATURE,
    "memory_rise": Quantity.MEMORY_TEMPERATURE,
}
HAND_AMBIENT_HALF_WIDTH_K = 0.5  # of a reading by hand where the bench declares no ambient sensor
FRAMES_TOLERANCE = 0.02
_SPECIAL = {Quantity.FRAME_TIME, Quantity.FRAME_RATE, Quantity.SOUND_LEVEL, Quantity.POWER_LIMIT}


def reduce_run(setting: Setting, given: RunInput, point: TestPoint) -> RunResult:
    """Return everything that one run gives; a figure that the data cannot give is absent, never not-a-number."""
    judged = {kind: judgement for kind, q in RISES.items() if (judgement := _judge(setting, given, point, q))}
    main = judged.get("core_rise") or next(iter(judged.values()), None)
    settlement = main.settlement if main else _no_temperature(_limits(setting))
    window = settlement.window or _indicative_window(given, settlement)
    figures = {f.kind: f for f in _figures(setting, given, point, judged, window)} if window else {}
    ordered = {kind: figures[kind] for kind in FIGURES if kind in figures}
    return RunResult(
        mount=given.mount,
        point=point.id,
        log=given.run.log,
        settlement=settlement,
        figures=ordered,
        warnings=tuple(_warnings(setting, given, judged, ordered)),
        repairs=tuple(repair.message for repair in given.table.repairs),
        traces=_traces(given),
        ambient_in_band=_in_band(setting, ordered),
    )


def _judge(setting: Setting, given: RunInput, point: TestPoint, quantity: Quantity) -> Judgement | None:
    temperature = channel(setting, given, quantity)
    if temperature is None:
        return None
    coolant = channel(setting, given, Quantity.COOLANT_IN_TEMPERATURE) if setting.cooler.kind.liquid else None
    signals = Signals(
        time_s=given.table.time_s,
        temperature=temperature,
        power=channel(setting, given, Quantity.BOARD_POWER),
        ambient=_ambient(setting, given),
        coolant=coolant,
    )
    return judge(signals, settle_rule(_limits(setting), point, coolant_tau_s=setting.protocol.liquid.tau_s))


def _ambient(setting: Setting, given: RunInput) -> Channel | Estimate | None:
    logged = channel(setting, given, Quantity.AMBIENT_TEMPERATURE)
    if logged is not None or given.run.ambient_c is None:
        return logged
    sensor = setting.bench.sensor(Quantity.AMBIENT_TEMPERATURE)
    half_width = sensor.accuracy if sensor and sensor.accuracy else HAND_AMBIENT_HALF_WIDTH_K
    return Estimate(value=given.run.ambient_c, u=rectangular(half_width), unit="degC")


def _no_temperature(limits: SettleLimits) -> Settlement:
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


def _figures(
    setting: Setting, given: RunInput, point: TestPoint, judged: dict[str, Judgement], window: Window
) -> Iterator[Figure]:
    own = {q: j.settlement.window for k, q in RISES.items() if (j := judged.get(k))}  # memory may need a longer one
    means = {f.kind: f for f in _mean_figures(setting, given, point, {**dict.fromkeys(Quantity, window), **own})}
    if "ambient_temperature" not in means and isinstance(ambient := _ambient(setting, given), Estimate):
        means["ambient_temperature"] = Figure(kind="ambient_temperature", estimate=ambient, note="read by hand")
    yield from means.values()
    rises = {f.kind: f for f in _rise_figures(judged)}
    yield from rises.values()
    frames = {f.kind: f for f in _frame_figures(setting, given, point, window)}
    yield from frames.values()
    yield from _sound_figure(setting, given, window)
    yield from derived_figures(setting, given, point, window, {**means, **rises, **frames})


def _mean_figures(
    setting: Setting, given: RunInput, point: TestPoint, windows: Mapping[Quantity, Window | None]
) -> Iterator[Figure]:
    for quantity in given.table.columns:
        logged = None if quantity in _SPECIAL else channel(setting, given, quantity)
        window = windows[quantity] or windows[Quantity.BOARD_POWER]
        mean = mean_of(given, logged, window, quantity, point) if logged and window else None
        if mean:
            yield _figure(str(quantity), mean)


def _figure(kind: str, mean: WindowMean, definition: str = "") -> Figure:
    return Figure(kind=kind, estimate=mean.estimate, samples=mean.samples, budget=mean.budget, definition=definition)


def _rise_figures(judged: dict[str, Judgement]) -> Iterator[Figure]:
    for kind, judgement in judged.items():
        yield from _derived(kind, judgement.rise)
        yield from _derived(kind.replace("_rise", "_psi"), judgement.psi)
    core = judged.get("core_rise")
    if core:
        yield from _derived("core_over_coolant", core.core_over_coolant)
        yield from _derived("coolant_rise", core.coolant_rise)


def _derived(kind: str, derived: Derived | None) -> Iterator[Figure]:
    if derived:
        yield Figure(kind=kind, estimate=derived.estimate, samples=derived.samples, budget=derived.budget)


def _frame_figures(setting: Setting, given: RunInput, point: TestPoint, window: Window) -> Iterator[Figure]:
    definition = setting.protocol.frames.low_1pct
    found = frame_figures(given.frames.frame_ms, definition=definition, loop_s=point.loop_s) if given.frames else None
    if found:
        part = _captured_part(given)
        yield Figure(
            kind="frame_rate", estimate=found.rate, samples=found.frames, definition=RATE_DEFINITION, note=part
        )
        if found.low:
            low = DEFINITIONS[definition]
            yield Figure(kind="low_1pct", estimate=found.low, samples=found.frames, definition=low)
        return
    logged = channel(setting, given, Quantity.FRAME_RATE)
    mean = mean_of(given, logged, window, Quantity.FRAME_RATE, point) if logged else None
    if mean:
        yield replace(_figure("frame_rate", mean, RATE_DEFINITION), note="from the logged frame rate")


def _captured_part(given: RunInput) -> str:
    """Return what part of the run the frame file covers, empty where it is all of it."""
    frames_s = float(given.frames.frame_ms.sum()) / 1000.0 if given.frames else 0.0
    length = _length(given)
    whole = not length or frames_s >= length * (1 - FRAMES_TOLERANCE)
    return "" if whole else f"frames captured over {frames_s:.0f} s of the run's {length:.0f} s"


def _length(given: RunInput) -> float:
    time = given.table.time_s
    return float(time[-1] - time[0]) if time.size > 1 else 0.0


def _sound_figure(setting: Setting, given: RunInput, window: Window) -> Iterator[Figure]:
    logged = channel(setting, given, Quantity.SOUND_LEVEL)
    setup = setting.bench.sound
    if logged is None or setup is None:
        return
    time = given.table.time_s
    levels = logged.values[(time >= window.start_s) & (time < window.end_s)]
    levels = levels[np.isfinite(levels)]
    if levels.size < 2:  # noqa: PLR2004 - no spread
        return
    corrected = corrected_level(energy_mean(levels), setup)
    mean = window_mean(time, logged, window, unit="dBA")
    u = mean.estimate.u if mean else float(np.std(levels, ddof=1))
    yield Figure(
        kind="sound_level",
        estimate=Estimate(value=corrected.level, u=u, unit="dBA"),
        samples=int(levels.size),
        budget=mean.budget if mean else (),
        definition=corrected.definition,
        note="upper bound: the background is within 6 dB" if corrected.upper_bound else "",
    )


def _in_band(setting: Setting, figures: dict[str, Figure]) -> bool | None:
    ambient = figures.get("ambient_temperature")
    band = setting.protocol.ambient
    return band.min_c <= ambient.estimate.value <= band.max_c if ambient else None


def _traces(given: RunInput) -> dict[Quantity, Trace]:
    time = given.table.time_s
    return {q: Trace(quantity=q, time_s=time, values=c.values) for q, c in given.table.columns.items()}


def _warnings(
    setting: Setting, given: RunInput, judged: dict[str, Judgement], figures: dict[str, Figure]
) -> Iterator[str]:
    if not judged:
        return
    if _ambient(setting, given) is None:
        yield "No ambient temperature: there is no rise over ambient, and this run compares with nothing."
    if _in_band(setting, figures) is False:
        band, ambient = setting.protocol.ambient, figures["ambient_temperature"].estimate.value
        yield f"Ambient {ambient:.1f} °C is outside the protocol's band of {band.min_c:g} to {band.max_c:g} °C."
    if "board_power" not in figures:
        yield "No board power: there is no rise per watt."
    for kind in ("hotspot_rise", "memory_rise"):
        later = judged.get(kind)
        core = judged.get("core_rise")
        if later and core and _settles_later(later, core):
            yield f"{FIGURES[kind].name.split()[0]} has not settled, though the core has: {later.settlement.message}"
    yield from _frame_warnings(given)


def _settles_later(later: Judgement, core: Judgement) -> bool:
    return later.settlement.verdict is Verdict.DRIFTING and core.settlement.verdict is Verdict.SETTLED


def _frame_warnings(given: RunInput) -> Iterator[str]:
    if given.frames is None or not _length(given):
        return
    frames_s = float(given.frames.frame_ms.sum()) / 1000.0
    if frames_s > _length(given) * (1 + FRAMES_TOLERANCE):
        yield f"The frame file holds {frames_s:.0f} s of frames, the log only {_length(given):.0f} s: are they one run?"
