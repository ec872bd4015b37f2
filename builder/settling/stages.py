"""Judging by a description of the whole run: the stages of the heat path at rest, and how far the window is from it."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from builder.core.quantity import Estimate, FloatArray, coverage_factor, format_number
from builder.core.results import Component, Role, Window
from builder.settling.course import Drive, Frame
from builder.settling.course_fit import MODEL_SHARE, Readings, Target, WholeRun, describe
from builder.settling.grid import Grid, low_pass
from builder.settling.regression import Trend, fit_approach, fit_trend, loop_columns
from builder.settling.signals import (
    AMBIENT_RESOLUTION,
    COOLANT_RESOLUTION,
    REMAINING,
    RESOLUTION,
    SCATTER,
    Channel,
    Prepared,
    SettleRule,
)
from builder.settling.window_mean import LEAST_VALID
from builder.uncertainty import dithering_factor, effective_dof, quantisation_u

# --- One stage of the heat path in its window: its rise, the remaining approach, and their uncertainty


QUANTISED_DRIFT_K = 1.9  # half-width of a resolution drift in its standard uncertainties


@dataclass(frozen=True, kw_only=True)
class Step:
    """Resolution of a reading and the spread of its samples about their trend, both in K."""

    resolution: float
    sd: float

    @property
    def undithered(self) -> float:
        """Return the share of the resolution that noise does not average away."""
        noise2 = max(self.sd**2 - self.resolution**2 / 12, 0.0)
        return dithering_factor(math.sqrt(noise2), self.resolution)


@dataclass(frozen=True, kw_only=True)
class Stage:
    """Rise over a stage of the heat path (its budget without instruments), and the remaining approach in K.

    `drift` is how far the stage moves across the window, in K.
    """

    rise: float
    budget: tuple[Component, ...]
    remaining: Estimate
    half_width: float
    tau_s: float
    drift: float = 0.0


def make_stage(trend: Trend, *, tau_s: float, window_s: float, steps: tuple[Step, ...]) -> Stage:
    """Return a stage from its trend: the remaining approach is τ times the slope, exactly so on an exponential.

    Quantised readings that noise does not dither may hide a drift of κq/√6 over the window.
    """
    hidden = math.hypot(*(hidden_drift(s) for s in steps)) / window_s
    remaining = tau_s * trend.slope
    u_remaining = tau_s * math.hypot(trend.u_slope, hidden)
    wide = coverage_factor(trend.dof) * trend.u_slope
    resolution = math.hypot(*(quantisation_u(s.sd, s.resolution, trend.effective) for s in steps))
    budget = (
        Component(name=SCATTER, kind="A", u=trend.u_mean, unit="K", dof=trend.dof),
        Component(name=RESOLUTION, kind="B", u=resolution, unit="K", dof=math.inf, role=Role.STEP),
        Component(name=REMAINING, kind="B", u=(abs(remaining) + u_remaining) / math.sqrt(3), unit="K", dof=math.inf),
    )
    return Stage(
        rise=trend.mean,
        budget=budget,
        remaining=Estimate(value=remaining, u=u_remaining, unit="K", dof=trend.dof),
        half_width=tau_s * math.hypot(wide, QUANTISED_DRIFT_K * hidden),
        tau_s=tau_s,
        drift=trend.slope * window_s,
    )


def hidden_drift(step: Step) -> float:
    """Return the standard uncertainty, in K, of a change over a window that rounded readings may hide."""
    return step.undithered * step.resolution / math.sqrt(6)


def detrended_sd(time_s: FloatArray, values: FloatArray) -> float:
    """Return the standard deviation of samples about a straight line through them, in their unit."""
    import numpy as np

    valid = np.isfinite(values)
    if valid.sum() < 3:  # noqa: PLR2004 - a line goes through two
        return 0.0
    about, y = time_s[valid] - time_s[valid].mean(), values[valid] - values[valid].mean()
    spread = float(about @ about)
    slope = float(about @ y) / spread if spread > 0 else 0.0
    return float(np.sqrt(np.sum((y - slope * about) ** 2) / (y.size - 2)))


# --- A run on its grid with its window: what both ways of judging start from


@dataclass(frozen=True, kw_only=True, eq=False)
class Work:
    """A prepared run, its rule, the window to judge and the grid of its cells."""

    run: Prepared
    rule: SettleRule
    window: Window
    grid: Grid

    @property
    def window_s(self) -> float:
        """Return the window's length in seconds."""
        return self.window.end_s - self.window.start_s

    @property
    def in_window(self) -> NDArray[np.bool_]:
        """Return which cells lie in the window."""
        return self.grid.cell_time > self.window.start_s

    def inside(self, channel: Channel) -> FloatArray:
        """Return a column's samples in the window."""
        return channel.values[self.run.signals.time_s >= self.window.start_s]

    def cells(self, channel: Channel) -> FloatArray:
        """Return a column's means by cell; NaN where missing."""
        return self.grid.cell_means(channel.values)

    def usable(self, channel: Channel | None) -> bool:
        """Return whether a column covers enough of the window."""
        if channel is None or not self.in_window.any():
            return False
        return bool(np.isfinite(self.cells(channel))[self.in_window].mean() >= LEAST_VALID)

    def step(self, channel: Channel) -> Step:
        """Return a column's resolution and the spread of its samples about a line through the window."""
        time = self.run.signals.time_s
        inside = time >= self.window.start_s
        return Step(resolution=channel.resolution, sd=detrended_sd(time[inside], channel.values[inside]))

    @property
    def ambient(self) -> Channel | None:
        """Return the ambient column, None where it was read by hand, not at all, or holds nothing."""
        ambient = self.run.signals.ambient
        column = ambient if isinstance(ambient, Channel) else None
        return column if column is not None and bool(np.isfinite(column.values).any()) else None

    @property
    def has_ambient(self) -> bool:
        """Return whether a rise over ambient can be given at all."""
        return self.ambient is not None or isinstance(self.run.signals.ambient, Estimate)

    def ambient_level(self) -> float:
        """Return the ambient in the window in degrees Celsius, 0 where unknown."""
        ambient = self.run.signals.ambient
        if isinstance(ambient, Estimate):
            return ambient.value
        column = self.ambient
        if column is None:
            return 0.0
        binned = self.grid.bin_means(column.values)
        return float(binned[self.grid.bin_time > self.window.start_s].mean())


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
        Component(name=RESOLUTION, kind="B", u=resolution, unit="K", dof=math.inf, role=Role.STEP),
        Component(name=REMAINING, kind="B", u=MODEL_SHARE * abs(run.remaining.mean), unit="K", dof=math.inf),
    ]


def _other_lines(work: Work, over: Channel | None) -> list[Component]:
    """Return the resolution of the reading that a stage is measured from: coolant, or logged ambient."""
    name, column = (AMBIENT_RESOLUTION, work.ambient) if over is None else (COOLANT_RESOLUTION, over)
    if column is None or column.resolution <= 0:
        return []
    step = work.step(column)
    u = quantisation_u(step.sd, step.resolution, work.window_s / AMBIENT_MEMORY_S)
    return [Component(name=name, kind="B", u=u, unit="K", dof=math.inf, sensitivity=-1.0, role=Role.STEP)]


def _mean(values: FloatArray) -> float:
    known = values[np.isfinite(values)]
    return float(known.mean()) if known.size else 0.0


def _range(values: FloatArray) -> float:
    known = values[np.isfinite(values)]
    return float(np.ptp(known)) if known.size else 0.0


# --- Judging by the window alone: its slope times the time constant. For runs that no description of the whole fits


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
        first = _local_stage(work, core - coolant, min(rule.tau_s, CORE_TAU_S), steps)
        second = _local_stage(work, coolant - _felt(work, rule.coolant_tau_s), rule.coolant_tau_s, steps[1:])
        return () if first is None or second is None else (first, second)
    tau = _checked_tau(work, core)
    stage = _local_stage(work, core - _felt(work, tau), tau, (work.step(signals.temperature),))
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


def _local_stage(work: Work, rise: FloatArray, tau_s: float, steps: tuple[Step, ...]) -> Stage | None:
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
