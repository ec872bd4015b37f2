"""Judging one run: whether it is settled, and its rise and Ψ with their uncertainty."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from builder.core.quantity import PLUS_MINUS, Estimate, format_number
from builder.core.results import Component, Settlement, Verdict, Window
from builder.settling.changes_in_window import Findings, find
from builder.settling.grid import CELL_S, Grid, make_grid
from builder.settling.regression import fit_trend, loop_columns
from builder.settling.signals import (
    ACCURACY,
    AMBIENT_ACCURACY,
    AMBIENT_BY_HAND,
    COOLANT_ACCURACY,
    METER_ACCURACY,
    POWER_SCATTER,
    Channel,
    Derived,
    Judgement,
    Prepared,
    SettleRule,
    Signals,
    WindowMean,
    prepare,
)
from builder.settling.stages import LEAST_W, Stage, Work, fitted_stages, local_stages, slower_note
from builder.settling.window_mean import LEAST_VALID, window_mean
from builder.uncertainty import ar1_inflation, estimate_from_budget, series_mean

# --- Rise and Ψ of a judged run, with their budgets


UNSETTLED_POWER_S = 30.0  # the first half minute of a load is not its usual course


def with_results(work: Work, stages: Sequence[Stage], settlement: Settlement) -> Judgement:
    """Return the judgement of a run with its rise over ambient, Ψ, and the stages of a loop."""
    samples = int(np.isfinite(work.inside(work.run.signals.temperature)).sum())
    power = _mean_power(work)
    scatter = None if power is None else _power_scatter(work, power)
    between = _stage_instruments(work) if len(stages) > 1 else [()] * len(stages)
    parts = [
        derived(s.rise, (*s.budget, *_line(s.rise, power, scatter), *lines), samples)
        for s, lines in zip(stages, between, strict=True)
    ]
    over_coolant = parts[0] if len(parts) > 1 else None
    if not work.has_ambient:
        return Judgement(settlement=settlement, core_over_coolant=over_coolant)
    total = sum(s.rise for s in stages)
    own = (
        *(c for s in stages for c in s.budget),
        *work.run.signals.temperature.instrument(ACCURACY, "K"),
        *_ambient_instrument(work),
    )
    return Judgement(
        settlement=settlement,
        rise=derived(total, (*own, *_line(total, power, scatter)), samples),
        psi=_psi(work, total, own, power, samples),
        core_over_coolant=over_coolant,
        coolant_rise=parts[1] if len(parts) > 1 else None,
    )


def derived(value: float, budget: tuple[Component, ...], samples: int, unit: str = "K") -> Derived:
    """Return an estimate from its budget."""
    return Derived(estimate=estimate_from_budget(value, unit, budget), budget=budget, samples=samples)


def _mean_power(work: Work) -> WindowMean | None:
    power = work.run.signals.power
    if power is None or not work.usable(power):
        return None
    mean = window_mean(work.run.signals.time_s, power, work.window, unit="W", loop_s=work.rule.loop_s)
    return mean if mean is not None and mean.estimate.value >= max(LEAST_W, 2 * mean.estimate.u) else None


def _power_scatter(work: Work, mean: WindowMean) -> Component | None:
    """Return how far the window's mean power may lie from the workload's own, judged by the whole run.

    The window alone holds too few passes of a slow workload to show its own spread.
    """
    power = work.run.signals.power
    late = work.grid.cell_time - work.run.start_s >= UNSETTLED_POWER_S
    if power is None:
        return None
    time, cells = work.grid.cell_time[late], work.cells(power)[late]
    waves = loop_columns(time, work.rule.loop_s, cells=int(np.isfinite(cells).sum()))
    trend = fit_trend(time, cells, waves) if waves else None
    series = series_mean(cells, "W")
    if series is None:
        return None
    sd, lag1, worth = series.sd, series.lag1, series.effective_samples
    if trend is not None:
        sd, lag1, worth = trend.residual_sd, trend.lag1, max(trend.effective, 1.0)
    inside = work.window_s / work.grid.cell_s
    small = math.sqrt(worth / max(worth - 1, 0.5))  # the mean took part of the spread along
    u = sd * small * math.sqrt(ar1_inflation(lag1, inside) / inside)
    return Component(name=POWER_SCATTER, kind="A", u=u, unit=mean.estimate.unit, dof=max(worth - 1, 1.0))


def _line(rise: float, power: WindowMean | None, scatter: Component | None) -> tuple[Component, ...]:
    if power is None or scatter is None:
        return ()
    return (scatter.times(rise / power.estimate.value),)


def _stage_instruments(work: Work) -> list[tuple[Component, ...]]:
    """Return what sensors add to core over coolant and to coolant over ambient; the coolant's cancels in their sum."""
    signals = work.run.signals
    coolant = signals.coolant or Channel(values=np.empty(0))
    core = (*signals.temperature.instrument(ACCURACY, "K"), *coolant.instrument(COOLANT_ACCURACY, "K", -1.0))
    return [core, (*coolant.instrument(COOLANT_ACCURACY, "K"), *_ambient_instrument(work))]


def _ambient_instrument(work: Work) -> tuple[Component, ...]:
    ambient = work.run.signals.ambient
    if isinstance(ambient, Estimate):
        by_hand = Component(name=AMBIENT_BY_HAND, kind="B", u=ambient.u, unit="K", dof=ambient.dof, sensitivity=-1.0)
        return (by_hand,) if ambient.u > 0 else ()
    return ambient.instrument(AMBIENT_ACCURACY, "K", -1.0) if ambient else ()


def _psi(work: Work, rise: float, own: tuple[Component, ...], power: WindowMean | None, samples: int) -> Derived | None:
    """Return rise over board power. The rise belongs to the window's own power, so its scatter plays no part."""
    meter = work.run.signals.power
    if power is None or meter is None:
        return None
    watts = power.estimate.value
    lines = (*(c.times(1 / watts) for c in own), *meter.instrument(METER_ACCURACY, "W", -rise / watts**2))
    return derived(rise / watts, lines, samples, "K/W")


# --- The verdict on a run in one sentence for the bench


@dataclass(frozen=True, kw_only=True)
class Remaining:
    """The remaining approach to equilibrium in K, the half-width of its 95 % interval, and the time constant.

    `drift` is how far the window itself moves, in K; `obstacle` says what forbids calling it settled.
    """

    estimate: Estimate
    half_width: float
    tau_s: float
    drift: float = 0.0
    obstacle: str = ""


def decide(remaining: Remaining, rule: SettleRule, window: Window, notes: tuple[str, ...]) -> Settlement:
    """Return settled where the whole interval lies inside the limit, drifting where it lies outside, else undecided.

    A window that moves by more than the limit, or in which something changed, is not called settled.
    """
    size = abs(remaining.estimate.value)
    if size + remaining.half_width <= rule.limit_k:
        verdict, message = _inside(remaining, rule)
    elif size - remaining.half_width > rule.limit_k:
        least = format_number(size - remaining.half_width, 1)
        verdict = Verdict.DRIFTING
        message = f"Still drifting: at least {least} K from equilibrium; run longer."
    else:
        verdict, message = Verdict.UNDECIDED, _spans(remaining, rule)
    return Settlement(
        verdict=verdict,
        message=message,
        tau_s=remaining.tau_s,
        limit_k=rule.limit_k,
        window=window,
        remaining=remaining.estimate,
        half_width=remaining.half_width,
        notes=notes,
    )


def without_interval(
    verdict: Verdict, message: str, rule: SettleRule, *, window: Window | None = None, notes: tuple[str, ...] = ()
) -> Settlement:
    """Return a verdict that rests on no estimate: too short, or undecided for want of data."""
    return Settlement(
        verdict=verdict, message=message, tau_s=rule.tau_s, limit_k=rule.limit_k, window=window, notes=notes
    )


def _inside(remaining: Remaining, rule: SettleRule) -> tuple[Verdict, str]:
    if remaining.obstacle:
        return Verdict.UNDECIDED, f"Cannot tell: {remaining.obstacle}; run again without a change."
    if abs(remaining.drift) > rule.limit_k:
        moved = format_number(abs(remaining.drift), 2)
        return Verdict.UNDECIDED, (
            f"Cannot tell yet: {_interval(remaining)} to go, but the window itself moves by {moved} K; run longer."
        )
    return Verdict.SETTLED, _settled(remaining, rule)


def _interval(remaining: Remaining) -> str:
    return f"{format_number(remaining.estimate.value, 2)} {PLUS_MINUS} {format_number(remaining.half_width, 2)} K"


def _settled(remaining: Remaining, rule: SettleRule) -> str:
    tau = format_number(remaining.tau_s, 0)
    return f"Settled: remaining approach {_interval(remaining)} (limit {rule.limit_k:g} K, τ {tau} s)."


def _spans(remaining: Remaining, rule: SettleRule) -> str:
    return (
        f"Cannot tell: {_interval(remaining)} spans the {rule.limit_k:g} K limit; "
        "use a longer window or a finer sensor."
    )


CONTRADICTION = "the window moves more than the run as a whole explains"
VETO = 0.7  # of the limit, by the slope alone
LONG_RUN_S, LONGEST_CELL_S = 1800.0, 20.0
NO_DESCRIPTION = "the run as a whole follows no simple approach to rest"


def judge(signals: Signals, rule: SettleRule) -> Judgement:
    """Return the verdict on a run, with its rise over ambient (K) and Ψ (K/W) where the data give them.

    The rise is that at rest: the window's, with the remaining approach added. Never raises on data: what cannot be
    judged is undecided, with the reason as its message.
    """
    run = prepare(signals)
    if run is None:
        return _refused(Verdict.UNDECIDED, "Cannot tell: there are no temperature readings to judge.", rule)
    window_s = rule.window_length()
    if run.length_s < rule.soak_s + window_s - 0.5 * run.step_s:
        return _refused(Verdict.TOO_SHORT, _too_short(run, rule.soak_s + window_s), rule, run.notes)
    window = Window(start_s=run.end_s - window_s, end_s=run.end_s)
    return _judge_window(Work(run=run, rule=rule, window=window, grid=_grid(run)))


def _grid(run: Prepared) -> Grid:
    """Return the run's grid; a long run gets longer cells, for it changes slowly and there are many."""
    cell = CELL_S * math.ceil(run.length_s / LONG_RUN_S)
    return make_grid(
        run.signals.time_s, start_s=run.start_s, end_s=run.end_s, step_s=run.step_s, cell_s=min(cell, LONGEST_CELL_S)
    )


def _refused(verdict: Verdict, message: str, rule: SettleRule, notes: tuple[str, ...] = ()) -> Judgement:
    return Judgement(settlement=without_interval(verdict, message, rule, notes=notes))


def _too_short(run: Prepared, needed_s: float) -> str:
    return f"Too short: {format_number(run.length_s, 0)} s of {format_number(needed_s, 0)} s."


def _judge_window(work: Work) -> Judgement:
    hindrance = _hindrance(work)
    if hindrance:
        return _undecided(work, hindrance, find(work, None))
    fitted = () if work.rule.window_only else fitted_stages(work)
    fits = all(f.fits for f in fitted)
    findings = find(work, fitted[0].residuals if fitted else None)
    by_slope = local_stages(work)
    stages = tuple(f.stage for f in fitted) if fitted and fits else by_slope
    if not stages:
        return _undecided(work, "Cannot tell: the window holds too few readings.", findings)
    obstacle = f"in the window, {findings.change}" if findings.change else "" if fits else NO_DESCRIPTION
    obstacle = obstacle or _contradiction(work, by_slope)
    notes = work.run.notes + findings.notes
    notes += slower_note(stages[-1].tau_s, _declared(work, stages))
    return with_results(work, stages, _settlement(work, stages, obstacle, notes))


def _contradiction(work: Work, by_slope: Sequence[Stage]) -> str:
    """Return whether the window's own slope points beyond the limit, as after a change that the whole run hides."""
    size = abs(sum(s.remaining.value for s in by_slope))
    return CONTRADICTION if size > VETO * work.rule.limit_k else ""


def _declared(work: Work, stages: Sequence[Stage]) -> float:
    return work.rule.tau_s if len(stages) == 1 else work.rule.coolant_tau_s


def _hindrance(work: Work) -> str:
    """Return why a run cannot be judged at all; empty where it can."""
    temperature = work.run.signals.temperature
    valid = np.isfinite(work.cells(temperature))[work.in_window]
    share = float(valid.mean()) if valid.size else 0.0
    if share < LEAST_VALID:
        return f"Cannot tell: only {share:.0%} of the window holds temperature readings."
    if _stuck(temperature):
        return "Cannot tell: the temperature never changes, as if its reading were stuck."
    return ""


def _stuck(temperature: Channel) -> bool:
    values = temperature.values[np.isfinite(temperature.values)]
    return float(np.ptp(values)) == 0 and temperature.resolution < 0.5  # noqa: PLR2004 - whole degrees may rest


def _undecided(work: Work, message: str, findings: Findings) -> Judgement:
    notes = work.run.notes + findings.notes
    settlement = without_interval(Verdict.UNDECIDED, message, work.rule, window=work.window, notes=notes)
    return Judgement(settlement=settlement)


def _settlement(work: Work, stages: Sequence[Stage], obstacle: str, notes: tuple[str, ...]) -> Settlement:
    u = math.hypot(*(s.remaining.u for s in stages))
    estimate = Estimate(
        value=sum(s.remaining.value for s in stages), u=u, unit="K", dof=min(s.remaining.dof for s in stages)
    )
    remaining = Remaining(
        estimate=estimate,
        half_width=math.hypot(*(s.half_width for s in stages)),
        tau_s=max(s.tau_s for s in stages),
        drift=sum(s.drift for s in stages),
        obstacle=obstacle,
    )
    return decide(remaining, work.rule, work.window, notes)
