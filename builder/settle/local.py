"""Judging by the window alone: its slope times the time constant. For runs that no description of the whole fits."""

from __future__ import annotations

import numpy as np

from builder.quantity import FloatArray, format_number
from builder.settle.approach import fit_approach
from builder.settle.fitted import CORE_TAU_S
from builder.settle.grid import low_pass
from builder.settle.regress import fit_trend, loop_columns
from builder.settle.stage import Stage, Step, make_stage
from builder.settle.work import Work

DIE_S = 8.0  # how long a die and its plate take to follow power
LONGEST_TAU_S = 1200.0
TAU_CHECK_FROM_S = 300.0
SURE_AMPLITUDE = 4.0


def local_stages(work: Work) -> tuple[Stage, ...]:
    """Return the stages of the heat path judged by the window's slope; none where it holds too few readings."""
    signals, rule = work.run.signals, work.rule
    core = work.cells(signals.temperature)
    if signals.coolant is not None and work.usable(signals.coolant):
        coolant = work.cells(signals.coolant)
        steps = (work.step(signals.temperature), work.step(signals.coolant))
        first = _stage(work, core - coolant, min(rule.tau_s, CORE_TAU_S), steps)
        second = _stage(work, coolant - _felt(work, rule.coolant_tau_s), rule.coolant_tau_s, steps[1:])
        return () if first is None or second is None else (first, second)
    tau = _checked_tau(work, core)
    stage = _stage(work, core - _felt(work, tau), tau, (work.step(signals.temperature),))
    return () if stage is None else (stage,)


def slower_note(tau_s: float, declared_s: float) -> tuple[str, ...]:
    """Return a remark where a run is clearly slower than its protocol declares."""
    if tau_s <= 1.15 * declared_s:
        return ()
    return (f"Slower than declared: τ raised to {format_number(tau_s, 0)} s.",)


def _felt(work: Work, tau_s: float) -> FloatArray:
    """Return the ambient that the cooler feels: readings through its own low-pass."""
    column = work.ambient
    if column is None:
        return np.full(work.grid.cells, work.ambient_level())
    binned = work.grid.bin_means(column.values)
    felt = low_pass(binned, step_s=work.grid.bin_s, tau_s=tau_s, start=float(binned[0]))
    return work.grid.to_cells(felt)


def _checked_tau(work: Work, core: FloatArray) -> float:
    """Return the time constant to judge with: the declared one, or a longer one that the run itself shows."""
    declared = work.rule.tau_s
    time = work.grid.cell_time - work.run.start_s
    late = time >= min(work.rule.soak_s, TAU_CHECK_FROM_S)
    found = fit_approach(time[late], (core - _felt(work, declared))[late])
    if found is None or found.low_s <= declared or abs(found.amplitude) <= SURE_AMPLITUDE * found.u_amplitude:
        return declared
    return min(found.tau_s, LONGEST_TAU_S)


def _stage(work: Work, rise: FloatArray, tau_s: float, steps: tuple[Step, ...]) -> Stage | None:
    chosen = work.in_window
    time = work.grid.cell_time[chosen]
    extra = loop_columns(time, work.rule.loop_s, cells=int(np.isfinite(rise[chosen]).sum()))
    extra += [column[chosen] for column in _power_columns(work, tau_s)]
    trend = fit_trend(time, rise[chosen], extra)
    return None if trend is None else make_stage(trend, tau_s=tau_s, window_s=work.window_s, steps=steps)


def _power_columns(work: Work, tau_s: float) -> list[FloatArray]:
    power = work.run.signals.power
    if power is None or not work.usable(power):
        return []
    binned = work.grid.bin_means(power.values)
    about = binned - binned[work.grid.bin_time > work.window.start_s].mean()
    return [work.grid.to_cells(low_pass(about, step_s=work.grid.bin_s, tau_s=tau, start=0.0)) for tau in (DIE_S, tau_s)]
