"""Judging one run: whether it is settled, and its rise and Ψ with their uncertainty."""

from __future__ import annotations

import math
from collections.abc import Sequence

import numpy as np

from builder.figures import Settlement, Verdict, Window
from builder.quantity import Estimate, format_number
from builder.settle.findings import Findings, find
from builder.settle.fitted import fitted_stages
from builder.settle.grid import CELL_S, Grid, make_grid
from builder.settle.local import local_stages, slower_note
from builder.settle.means import LEAST_VALID
from builder.settle.prepare import Prepared, prepare
from builder.settle.results import with_results
from builder.settle.rule import Channel, Judgement, SettleRule, Signals
from builder.settle.stage import Stage
from builder.settle.verdict import Remaining, decide, without_interval
from builder.settle.work import Work

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
