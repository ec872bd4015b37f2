"""Judging one run: whether it is settled, and its rise and Ψ with their uncertainty."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from builder.figures import Component, Verdict, Window
from builder.quantity import Estimate, FloatArray, format_number
from builder.settle.approach import fit_approach
from builder.settle.grid import Grid, low_pass, make_grid
from builder.settle.means import LEAST_VALID, window_mean
from builder.settle.prepare import Prepared, prepare
from builder.settle.regress import fit_trend, loop_columns
from builder.settle.rule import (
    ACCURACY,
    AMBIENT_ACCURACY,
    AMBIENT_BY_HAND,
    METER_ACCURACY,
    POWER_SCATTER,
    SCATTER,
    Channel,
    Derived,
    Judgement,
    SettleRule,
    Signals,
    WindowMean,
)
from builder.settle.stage import Stage, Step, detrended_sd, make_stage
from builder.settle.verdict import Remaining, decide, without_interval
from builder.uncertainty import estimate_from_budget, rectangular

DIE_S = 8.0  # how long a die and its plate take to follow power
CORE_TAU_S = 150.0  # die over coolant
LONGEST_TAU_S = 1200.0
TAU_CHECK_FROM_S = 300.0
SURE_AMPLITUDE = 4.0
LEAST_W = 0.1  # no card under test draws less


def judge(signals: Signals, rule: SettleRule) -> Judgement:
    """Return the verdict on a run, with its rise over ambient (K) and Ψ (K/W) where the data give them.

    Never raises on data: what cannot be judged is undecided, with the reason as its message.
    """
    run = prepare(signals)
    if run is None:
        return _refused(Verdict.UNDECIDED, "Cannot tell: there are no temperature readings to judge.", rule)
    window_s = rule.window_length(run.length_s, run.signals.temperature.resolution)
    if run.length_s < rule.soak_s + window_s - 0.5 * run.step_s:
        return _refused(Verdict.TOO_SHORT, _too_short(run, rule.soak_s + window_s), rule, run.notes)
    window = Window(start_s=run.end_s - window_s, end_s=run.end_s)
    return _judge_window(_Work(run=run, rule=rule, window=window, grid=_grid(run)))


@dataclass(frozen=True, kw_only=True, eq=False)
class _Work:
    run: Prepared
    rule: SettleRule
    window: Window
    grid: Grid

    @property
    def in_window(self) -> NDArray[np.bool_]:
        return self.grid.cell_time > self.window.start_s

    def column(self, channel: Channel) -> FloatArray:
        return self.grid.cell_means(channel.values)

    def step(self, channel: Channel) -> Step:
        time = self.run.signals.time_s
        inside = time >= self.window.start_s
        return Step(resolution=channel.resolution, sd=detrended_sd(time[inside], channel.values[inside]))


def _grid(run: Prepared) -> Grid:
    return make_grid(run.signals.time_s, start_s=run.start_s, end_s=run.end_s, step_s=run.step_s)


def _refused(verdict: Verdict, message: str, rule: SettleRule, notes: tuple[str, ...] = ()) -> Judgement:
    return Judgement(settlement=without_interval(verdict, message, rule, notes=notes))


def _too_short(run: Prepared, needed_s: float) -> str:
    return f"Too short: {format_number(run.length_s, 0)} s of {format_number(needed_s, 0)} s."


def _judge_window(work: _Work) -> Judgement:
    valid = np.isfinite(work.column(work.run.signals.temperature))[work.in_window]
    share = float(valid.mean()) if valid.size else 0.0
    if share < LEAST_VALID:
        message = f"Cannot tell: only {share:.0%} of the window holds temperature readings."
        return _undecided(work, message)
    if _stuck(work.run.signals.temperature):
        return _undecided(work, "Cannot tell: the temperature never changes, as if its reading were stuck.")
    stages, notes = _stages(work)
    if not stages:
        return _undecided(work, "Cannot tell: the window holds too few readings.")
    remaining = _total_remaining(stages)
    settlement = decide(remaining, work.rule, work.window, work.run.notes + notes)
    return _with_rise(work, stages, Judgement(settlement=settlement))


def _undecided(work: _Work, message: str) -> Judgement:
    settlement = without_interval(Verdict.UNDECIDED, message, work.rule, window=work.window, notes=work.run.notes)
    return Judgement(settlement=settlement)


def _stuck(temperature: Channel) -> bool:
    values = temperature.values[np.isfinite(temperature.values)]
    return float(np.ptp(values)) == 0 and temperature.resolution < 0.5  # noqa: PLR2004 - whole degrees may rest


def _stages(work: _Work) -> tuple[list[Stage], tuple[str, ...]]:
    signals, rule = work.run.signals, work.rule
    core = work.column(signals.temperature)
    if signals.coolant is not None and _usable(work, signals.coolant):
        coolant = work.column(signals.coolant)
        steps = (work.step(signals.temperature), work.step(signals.coolant))
        core_tau = min(rule.tau_s, CORE_TAU_S)
        first = _stage(work, core - coolant, core_tau, steps)
        second = _stage(work, coolant - _ambient(work, rule.coolant_tau_s), rule.coolant_tau_s, steps[1:])
        return [s for s in (first, second) if s is not None], ()
    tau, notes = _checked_tau(work, core)
    stage = _stage(work, core - _ambient(work, tau), tau, (work.step(signals.temperature),))
    return ([] if stage is None else [stage]), notes


def _usable(work: _Work, channel: Channel) -> bool:
    return bool(np.isfinite(work.column(channel))[work.in_window].mean() >= LEAST_VALID)


def _ambient(work: _Work, tau_s: float) -> FloatArray:
    """Return the ambient that the cooler feels: logged readings through its own low-pass; 0 where there are none."""
    ambient = work.run.signals.ambient
    if ambient is None or isinstance(ambient, Estimate):
        return np.full(work.grid.cells, 0.0 if ambient is None else ambient.value)
    binned = work.grid.bin_means(ambient.values)
    if not np.isfinite(binned).all():
        return np.zeros(work.grid.cells)
    felt = low_pass(binned, step_s=work.grid.bin_s, tau_s=tau_s, start=float(binned[0]))
    return work.grid.to_cells(felt)


def _checked_tau(work: _Work, core: FloatArray) -> tuple[float, tuple[str, ...]]:
    """Return the time constant to judge with: the declared one, or a longer one that the run itself shows."""
    declared = work.rule.tau_s
    time = work.grid.cell_time - work.run.start_s
    late = time >= min(work.rule.soak_s, TAU_CHECK_FROM_S)
    found = fit_approach(time[late], (core - _ambient(work, declared))[late])
    if found is None or found.low_s <= declared or abs(found.amplitude) <= SURE_AMPLITUDE * found.u_amplitude:
        return declared, ()
    tau = min(found.tau_s, LONGEST_TAU_S)
    return tau, (f"Slower than declared: τ raised to {format_number(tau, 0)} s.",)


def _stage(work: _Work, rise: FloatArray, tau_s: float, steps: tuple[Step, ...]) -> Stage | None:
    chosen = work.in_window
    time = work.grid.cell_time[chosen]
    extra = loop_columns(time, work.rule.loop_s, cells=int(np.isfinite(rise[chosen]).sum()))
    extra += [column[chosen] for column in _power_columns(work, tau_s)]
    trend = fit_trend(time, rise[chosen], extra)
    length = work.window.end_s - work.window.start_s
    return None if trend is None else make_stage(trend, tau_s=tau_s, window_s=length, steps=steps)


def _power_columns(work: _Work, tau_s: float) -> list[FloatArray]:
    power = work.run.signals.power
    if power is None or not _usable(work, power):
        return []
    binned = work.grid.bin_means(power.values)
    late = work.grid.bin_time > work.window.start_s
    about = binned - binned[late].mean()
    return [work.grid.to_cells(low_pass(about, step_s=work.grid.bin_s, tau_s=tau, start=0.0)) for tau in (DIE_S, tau_s)]


def _total_remaining(stages: list[Stage]) -> Remaining:
    u = math.hypot(*(s.remaining.u for s in stages))
    estimate = Estimate(
        value=sum(s.remaining.value for s in stages), u=u, unit="K", dof=min(s.remaining.dof for s in stages)
    )
    half_width = math.hypot(*(s.half_width for s in stages))
    return Remaining(estimate=estimate, half_width=half_width, tau_s=max(s.tau_s for s in stages))


def _with_rise(work: _Work, stages: list[Stage], judgement: Judgement) -> Judgement:
    signals = work.run.signals
    samples = int(np.isfinite(signals.temperature.values[signals.time_s >= work.window.start_s]).sum())
    mean_power = _mean_power(work)
    parts = [_derived(stage.rise, _stage_budget(stage, mean_power), samples) for stage in stages]
    over_coolant = parts[0] if len(parts) > 1 else None
    if not _has_ambient(signals):
        return Judgement(settlement=judgement.settlement, core_over_coolant=over_coolant)
    total = sum(s.rise for s in stages)
    budget = tuple(c for s in stages for c in s.budget)
    rise = _derived(total, (*budget, *_power_line(total, mean_power), *_instruments(signals)), samples)
    return Judgement(
        settlement=judgement.settlement,
        rise=rise,
        psi=_psi(rise, mean_power),
        core_over_coolant=over_coolant,
        coolant_rise=parts[1] if len(parts) > 1 else None,
    )


def _has_ambient(signals: Signals) -> bool:
    ambient = signals.ambient
    return isinstance(ambient, Estimate) or (ambient is not None and bool(np.isfinite(ambient.values).any()))


def _derived(value: float, budget: tuple[Component, ...], samples: int, unit: str = "K") -> Derived:
    return Derived(estimate=estimate_from_budget(value, unit, budget), budget=budget, samples=samples)


def _stage_budget(stage: Stage, power: WindowMean | None) -> tuple[Component, ...]:
    return (*stage.budget, *_power_line(stage.rise, power))


def _mean_power(work: _Work) -> WindowMean | None:
    power = work.run.signals.power
    if power is None:
        return None
    return window_mean(work.run.signals.time_s, power, work.window, unit="W", loop_s=work.rule.loop_s)


def _power_line(rise: float, power: WindowMean | None) -> tuple[Component, ...]:
    if power is None or power.estimate.value < LEAST_W:
        return ()
    scatter = next(c for c in power.budget if c.name == SCATTER)
    sensitivity = rise / power.estimate.value
    return (Component(name=POWER_SCATTER, kind="A", u=scatter.u, unit="W", dof=scatter.dof, sensitivity=sensitivity),)


def _instruments(signals: Signals) -> tuple[Component, ...]:
    lines = []
    if signals.temperature.accuracy > 0:
        lines.append(_type_b(ACCURACY, rectangular(signals.temperature.accuracy)))
    ambient = signals.ambient
    if isinstance(ambient, Estimate):
        lines.append(
            Component(name=AMBIENT_BY_HAND, kind="B", u=ambient.u, unit="K", dof=ambient.dof, sensitivity=-1.0)
        )
    elif ambient is not None and ambient.accuracy > 0:
        lines.append(_type_b(AMBIENT_ACCURACY, rectangular(ambient.accuracy), -1.0))
    return tuple(lines)


def _type_b(name: str, u: float, sensitivity: float = 1.0, unit: str = "K") -> Component:
    return Component(name=name, kind="B", u=u, unit=unit, dof=math.inf, sensitivity=sensitivity)


def _psi(rise: Derived, power: WindowMean | None) -> Derived | None:
    """Return rise over board power; the power's scatter is inside the rise already, its accuracy is added."""
    if power is None or power.estimate.value < max(LEAST_W, 2 * power.estimate.u):
        return None
    watts = power.estimate.value
    value = rise.estimate.value / watts
    lines = [
        Component(name=c.name, kind=c.kind, u=c.u, unit=c.unit, dof=c.dof, sensitivity=c.sensitivity / watts)
        for c in rise.budget
    ]
    lines += [
        Component(name=METER_ACCURACY, kind="B", u=c.u, unit="W", dof=c.dof, sensitivity=-value / watts)
        for c in power.budget
        if c.name == ACCURACY
    ]
    finite = math.isfinite(value) and all(math.isfinite(c.contribution) for c in lines)
    return _derived(value, tuple(lines), rise.samples, "K/W") if finite else None
