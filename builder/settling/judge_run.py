"""Judging one run: whether each of its temperatures is settled, and their rise and Ψ with their uncertainty."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from builder.core.quantity import Estimate, format_number
from builder.core.results import Cause, ChangeKind, Verdict, Window, WindowChange
from builder.settling.changes_in_window import POWER_SHARE, longest_gap, words
from builder.settling.cleaning import Prepared, prepare
from builder.settling.grid import CELL_S, LONGEST_RUN_S, Grid, make_grid
from builder.settling.heat_path import FittedStage, fan_step, fit_stages, step_of
from builder.settling.likelihood import COARSE_K
from builder.settling.rise_and_psi import derive
from builder.settling.run_grid import Work
from builder.settling.signals import Channel, Judgement, SettleRule, Signals
from builder.settling.verdict import Found, Remaining, decide, without_interval
from builder.settling.window_mean import LEAST_VALID

LONG_RUN_S, LONGEST_CELL_S = 1800.0, 120.0
MOST_BINS = 600.0
NO_DESCRIPTION = "the temperature moves about as no steady load makes it move"
NO_READINGS = "Cannot tell: there are no temperature readings to judge."
STUCK = "Cannot tell: the temperature never changes, as if its reading were stuck."
FEW_READINGS = "Cannot tell: the run holds too few readings."
FAR = 5.0  # times the limit: then no bend can bring a run to rest
WHOLE_DEGREES_K = 0.5  # readings this coarse may stand still on a card at rest


def judge(signals: Signals, rule: SettleRule) -> Judgement:
    """Return the verdict on a run, with its rise over ambient (K) and Ψ (K/W) at rest where it is settled.

    All sensors are described together, each judged by its own distance from rest. Never raises on data: what cannot be
    judged is undecided, with the reason as its message.
    """
    blank = tuple(_refused(Verdict.UNDECIDED, NO_READINGS, rule, Cause.NO_READINGS) for _ in signals.further)
    run = prepare(signals)
    if run is None:
        return replace(_refused(Verdict.UNDECIDED, NO_READINGS, rule, Cause.NO_READINGS), further=blank)
    refusal = _whole_refusal(run, rule)
    if refusal is not None:
        return replace(refusal, further=tuple(refusal for _ in signals.further))
    window = Window(start_s=run.end_s - rule.window_length(), end_s=run.end_s)
    return _judge_window(Work(run=run, rule=rule, window=window, grid=_grid(run)))


def _whole_refusal(run: Prepared, rule: SettleRule) -> Judgement | None:
    """Return what is said of a run that is no run, or too short for a window."""
    if run.longest_gap_s > LONGEST_RUN_S:
        hours = format_number(run.longest_gap_s / 3600, 0)
        message = f"Cannot tell: the log has a gap of {hours} h, longer than any run; split it there."
        return _refused(Verdict.UNDECIDED, message, rule, Cause.SEVERAL_RUNS, run.notes)
    needed = rule.soak_s + rule.window_length()
    if run.length_s < needed - 0.5 * run.step_s:
        message = f"Too short: {format_number(run.length_s, 0)} s of {format_number(needed, 0)} s."
        return _refused(Verdict.TOO_SHORT, message, rule, None, run.notes)
    return None


def _refused(
    verdict: Verdict, message: str, rule: SettleRule, cause: Cause | None, notes: tuple[str, ...] = ()
) -> Judgement:
    found = Found(notes=notes)
    return Judgement(settlement=without_interval(verdict, message, rule, cause=cause, found=found))


def _grid(run: Prepared) -> Grid:
    """Return the run's grid; a long run gets longer bins and cells, for it changes slowly and there are many."""
    cell = min(CELL_S * math.ceil(run.length_s / LONG_RUN_S), LONGEST_CELL_S)
    return make_grid(
        run.signals.time_s,
        start_s=run.start_s,
        end_s=run.end_s,
        step_s=run.step_s,
        cell_s=cell,
        bin_s=max(1.0, run.length_s / MOST_BINS),
    )


def _judge_window(work: Work) -> Judgement:
    sensors = (work.run.signals.temperature, *work.run.signals.further)
    hindrances = [_hindrance(work, sensor) for sensor in sensors]
    sound = [k for k, hindrance in enumerate(hindrances) if hindrance is None]
    stages = fit_stages(work, tuple(sensors[k] for k in sound)) if sound else ()
    found = _found(work, stages)
    judged = []
    for k, hindrance in enumerate(hindrances):
        if hindrance is not None or not stages:
            message, cause = hindrance or (FEW_READINGS, Cause.HOLES)
            judged.append(_without_stages(work, message, cause, found))
        else:
            judged.append(_judge_sensor(work, stages, sensors[k], sound.index(k), found))
    return replace(judged[0], further=tuple(judged[1:]))


def _without_stages(work: Work, message: str, cause: Cause, found: Found) -> Judgement:
    settlement = without_interval(Verdict.UNDECIDED, message, work.rule, cause=cause, window=work.window, found=found)
    return Judgement(settlement=settlement)


def _hindrance(work: Work, sensor: Channel) -> tuple[str, Cause] | None:
    """Return why a sensor cannot be judged at all; None where it can."""
    share = _share(work, sensor)
    if share < LEAST_VALID:
        return f"Cannot tell: only {share:.0%} of the window holds temperature readings.", Cause.HOLES
    values = sensor.values[np.isfinite(sensor.values)]
    if float(np.ptp(values)) == 0 and sensor.resolution < WHOLE_DEGREES_K:
        return STUCK, Cause.STUCK
    return None


def _share(work: Work, sensor: Channel) -> float:
    """Return what share of the window's cells of five seconds holds readings."""
    return float(np.isfinite(work.window_grid.cell_means(sensor.values)).mean())


def _found(work: Work, stages: Sequence[FittedStage]) -> Found:
    signals = work.run.signals
    power = None
    if work.rule.loop_s is None:
        power = step_of(work, signals.power, ChangeKind.POWER, "W", POWER_SHARE)
    time = signals.time_s[np.isfinite(signals.temperature.values)]
    gap = longest_gap(time, start_s=work.window.start_s, end_s=work.window.end_s, step_s=work.run.step_s)
    fan = fan_step(work)
    changes = [c for c in (gap, fan, power) if c is not None]
    changes += [
        WindowChange(kind=ChangeKind.TEMPERATURE, time_s=s.step.time_s + work.run.start_s, size=s.step.size_k, unit="K")
        for s in stages
        if s.step is not None
    ]
    return Found(notes=work.run.notes + tuple(words(c) for c in changes), changes=tuple(changes))


@dataclass(frozen=True, kw_only=True)
class _Obstacle:
    words: str = ""
    cause: Cause | None = None


def _judge_sensor(work: Work, stages: Sequence[FittedStage], sensor: Channel, place: int, found: Found) -> Judgement:
    # The outer stage of a loop has one sensor, the coolant's, whichever of the card's is judged.
    rises = [stage.rises[min(place, len(stage.rises) - 1)] for stage in stages]
    tau = stages[-1].tau_s
    declared = work.rule.tau_s if len(stages) == 1 else work.rule.coolant_tau_s
    estimate = Estimate(
        value=sum(r.remaining.value for r in rises),
        u=math.hypot(*(r.remaining.u for r in rises)),
        unit="K",
        dof=min(r.remaining.dof for r in rises),
    )
    half_width = math.hypot(*(r.half_width for r in rises))
    reach = _Reach(
        nearest_k=abs(estimate.value) - half_width,
        furthest_k=abs(estimate.value) + half_width,
        by_fan_k=stages[-1].fan_effect_k(rises[-1]),
    )
    obstacle = _obstacle(work, stages, found, reach)
    remaining = Remaining(
        estimate=estimate,
        half_width=half_width,
        tau_s=tau,
        drift=sum(r.drift for r in rises),
        obstacle=obstacle.words,
        cause=obstacle.cause,
        doubt=Cause.RESOLUTION if sensor.resolution >= COARSE_K else Cause.SCATTER,
    )
    slower = () if tau <= declared else (f"Slower than declared: τ raised to {format_number(tau, 0)} s.",)
    settlement = decide(remaining, work.rule, work.window, replace(found, notes=found.notes + slower))
    return derive(work, rises, sensor, settlement)


@dataclass(frozen=True, kw_only=True)
class _Reach:
    """How near to rest a run may be and how far from it, and by how much a step of its fan should move it, in K."""

    nearest_k: float
    furthest_k: float
    by_fan_k: float


def _obstacle(work: Work, stages: Sequence[FittedStage], found: Found, reach: _Reach) -> _Obstacle:
    """Return what forbids a verdict: a change without a cause, a load that no course follows, a fan step that counts.

    A fan step counts where the run may lie beyond the limit, or the step alone should move it so far. A bend does not
    where the run is far from rest all the same.
    """
    bend = next((c for c in found.changes if c.kind is ChangeKind.TEMPERATURE), None)
    fan = next((c for c in found.changes if c.kind is ChangeKind.FAN), None)
    if fan is not None and max(reach.furthest_k, reach.by_fan_k) > work.rule.limit_k:
        return _Obstacle(words=f"in the window, {words(fan)}", cause=Cause.FAN_STEP)
    if bend is not None and reach.nearest_k <= FAR * work.rule.limit_k:
        return _Obstacle(words=f"in the window, {words(bend)}", cause=Cause.TEMPERATURE_STEP)
    if any(stage.wander_k > work.rule.limit_k for stage in stages):
        return _Obstacle(words=NO_DESCRIPTION, cause=Cause.NO_DESCRIPTION)
    return _Obstacle()
