"""Judging by a description of the whole run: the stages of the heat path at rest, and how far the window is from it."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from builder.figures import Component
from builder.quantity import Estimate, FloatArray, coverage_factor
from builder.settle.design import Drive, Frame
from builder.settle.rule import AMBIENT_RESOLUTION, COOLANT_RESOLUTION, REMAINING, RESOLUTION, SCATTER, Channel
from builder.settle.stage import Stage, hidden_drift
from builder.settle.staircase import Readings
from builder.settle.whole import MODEL_SHARE, Target, WholeRun, describe
from builder.settle.work import Work
from builder.uncertainty import effective_dof, quantisation_u

COARSE_K = 0.5  # from this resolution on, each reading is treated as an interval
LEAST_W = 0.1  # no card under test draws less
FEWEST_DOF = 5.0
ENOUGH_STEPS = 5
LEFT_UNSEEN = 0.5  # share of a coarse reading's resolution that stays, found on simulated runs
CORE_TAU_S = 150.0  # die over coolant
MISFIT = 4.0  # standard errors
LEAST_MISFIT = 0.02  # of the limit: closer than this needs no explanation
AMBIENT_MEMORY_S = 30.0  # ambient readings closer than this repeat each other


@dataclass(frozen=True, kw_only=True, eq=False)
class FittedStage:
    """A stage, what its description leaves over by cell in K, and whether that description can be trusted."""

    stage: Stage
    residuals: FloatArray
    fits: bool


def fitted_stages(work: Work) -> tuple[FittedStage, ...]:
    """Return the stages of the heat path as the whole run describes them; none where it has too few cells."""
    signals, rule = work.run.signals, work.rule
    if signals.coolant is None or not work.usable(signals.coolant):
        stages = [_stage(work, signals.temperature, None, rule.tau_s)]
    else:
        stages = [_stage(work, signals.temperature, signals.coolant, min(rule.tau_s, CORE_TAU_S))]
        stages.append(_stage(work, signals.coolant, None, rule.coolant_tau_s))
    found = tuple(s for s in stages if s is not None)
    return found if len(found) == len(stages) else ()


def _stage(work: Work, channel: Channel, over: Channel | None, tau_s: float) -> FittedStage | None:
    target = _target(work, channel, over, tau_s)
    run = describe(target)
    if run is None:
        return None
    dof = max(run.effective - 6, FEWEST_DOF)
    step, seen = work.step(channel), _seen_through(target)
    hidden = 0.0 if seen else run.tau_s * hidden_drift(step) / work.window_s
    parts = (run.remaining.sd, MODEL_SHARE * run.remaining.mean, hidden)
    u, remaining_dof = math.hypot(*parts), effective_dof(parts, (dof, math.inf, math.inf))
    resolution = (LEFT_UNSEEN if seen else 1.0) * quantisation_u(step.sd, step.resolution, run.effective)
    stage = Stage(
        rise=run.level.mean,
        budget=(*_budget(run, resolution, dof), *_other_lines(work, over)),
        remaining=Estimate(value=run.remaining.mean, u=u, unit="K", dof=remaining_dof),
        half_width=coverage_factor(remaining_dof) * u,
        tau_s=run.tau_s,
        drift=run.drift,
    )
    return FittedStage(stage=stage, residuals=run.residuals, fits=_fits(run, target, work.rule.limit_k))


def _target(work: Work, channel: Channel, over: Channel | None, tau_s: float) -> Target:
    grid = work.grid
    base = work.ambient_level() if over is None else 0.0
    offset = np.full(grid.bin_time.size, base) if over is None else grid.bin_means(over.values)
    cells = work.cells(channel) - (base if over is None else work.cells(over))
    size = max(abs(_mean(cells[work.in_window])), 1.0) if work.has_ambient else max(_range(cells), 5.0)
    frame = Frame(grid=grid, start_s=work.run.start_s, loop_s=work.rule.loop_s, scale=size)
    drive = Drive(power=_power(work), ambient=np.zeros(offset.size) if over is not None else _ambient(work, base))
    readings = _readings(work, channel) if channel.resolution >= COARSE_K else None
    return Target(
        frame=frame, drive=drive, cells=cells, offset=offset, in_window=work.in_window, tau_s=tau_s, readings=readings
    )


def _readings(work: Work, channel: Channel) -> Readings:
    grid = work.grid
    used = np.isfinite(channel.values) & (grid.bin_of >= 0) & (grid.bin_of < grid.bin_time.size)
    return Readings(
        values=channel.values[used],
        step=channel.resolution,
        bin_of=grid.bin_of[used],
        cell_of=grid.cell_of[used],
        cells=grid.cells,
    )


def _seen_through(target: Target) -> bool:
    """Return whether a coarse reading crossed enough steps for the run to show what lies under its rounding."""
    return target.readings is not None and np.unique(target.readings.values).size >= ENOUGH_STEPS


def _power(work: Work) -> FloatArray:
    power, grid = work.run.signals.power, work.grid
    if power is None or not work.usable(power):
        return np.zeros(grid.bin_time.size)
    binned = grid.bin_means(power.values)
    mean = float(binned[grid.bin_time > work.window.start_s].mean())
    return binned / mean - 1 if mean > LEAST_W else np.zeros(binned.size)


def _ambient(work: Work, level: float) -> FloatArray:
    column = work.ambient
    return np.zeros(work.grid.bin_time.size) if column is None else work.grid.bin_means(column.values) - level


def _fits(run: WholeRun, target: Target, limit_k: float) -> bool:
    """Return whether the halves of the window lie where the description puts them: within scatter, and the limit."""
    inside = run.residuals[target.in_window]
    spread = float(np.nanstd(run.residuals))
    error = spread * math.sqrt((1 + run.phi) / (1 - run.phi) / max(inside.size / 2, 1.0))
    furthest = max(abs(_mean(half)) for half in np.array_split(inside, 2))
    return furthest <= min(max(MISFIT * error, LEAST_MISFIT * limit_k), limit_k)


def _budget(run: WholeRun, resolution: float, dof: float) -> list[Component]:
    return [
        Component(name=SCATTER, kind="A", u=run.level.sd, unit="K", dof=dof),
        Component(name=RESOLUTION, kind="B", u=resolution, unit="K", dof=math.inf),
        Component(name=REMAINING, kind="B", u=MODEL_SHARE * abs(run.remaining.mean), unit="K", dof=math.inf),
    ]


def _other_lines(work: Work, over: Channel | None) -> list[Component]:
    """Return the resolution of the reading that a stage is measured from: coolant, or logged ambient."""
    name, column = (AMBIENT_RESOLUTION, work.ambient) if over is None else (COOLANT_RESOLUTION, over)
    if column is None or column.resolution <= 0:
        return []
    step = work.step(column)
    u = quantisation_u(step.sd, step.resolution, work.window_s / AMBIENT_MEMORY_S)
    return [Component(name=name, kind="B", u=u, unit="K", dof=math.inf, sensitivity=-1.0)]


def _mean(values: FloatArray) -> float:
    known = values[np.isfinite(values)]
    return float(known.mean()) if known.size else 0.0


def _range(values: FloatArray) -> float:
    known = values[np.isfinite(values)]
    return float(np.ptp(known)) if known.size else 0.0
