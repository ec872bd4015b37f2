"""The stages of a run's heat path: what each is driven by, its fit, and what that says of every sensor."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from builder.core.quantity import Estimate, FloatArray, coverage_factor
from builder.core.results import ChangeKind, Component, Role, WindowChange
from builder.settling.changes_in_window import FAN_SHARE, StepFound, find_step, speed_step
from builder.settling.course import (
    BASE_TAU_S,
    DIE_TAU_S,
    FAN_EXPONENT,
    FINS_SHARE,
    HIDDEN_SD_K,
    LEVEL,
    R_FINS,
    SHARED,
    Beliefs,
    Drive,
    Stage,
    make_prior,
)
from builder.settling.course_fit import Problem, looks
from builder.settling.fit_surety import Fitted, fit
from builder.settling.grid import low_pass
from builder.settling.likelihood import make_readings
from builder.settling.regression import fit_approach, loop_columns
from builder.settling.run_grid import Work
from builder.settling.signals import (
    AMBIENT_RESOLUTION,
    COOLANT_RESOLUTION,
    REMAINING,
    RESOLUTION,
    SCATTER,
    Channel,
)
from builder.uncertainty import quantisation_u

SKIP_S = 60.0  # the first minute of a load is not its usual course
LEAST_W = 0.1  # no card under test draws less
LEAST_ROWS = 24
LEAST_RISE_K = 5.0  # believed where no ambient is known
SURE_AMPLITUDE = 4.0
SLOW_SHARES = (2.7, 4.3, 7.0)  # of the usual time constant: where a hidden part is looked for
LOOP_TAU_S, LOOP_SLOW_SHARES = 300.0, (2.0, 3.5)  # a liquid loop hides slower parts than it is itself
LOOP_HIDDEN_SHARE = 0.25
BLOCK_TAU_S, BLOCK_FINS_TAU_S, BLOCK_HIDDEN_K = 150.0, 60.0, 0.5  # die over coolant
LOOP_DIE_TAU_S, LOOP_BASE_TAU_S = 10.0, 40.0
COOLANT_SENSOR_TAU_S = 5.0
MODEL_SHARE = 0.10  # of the remaining approach: real coolers are not quite of this shape
MODEL_FLOOR_K = 0.01
STEP_SHARE, FAN_STEP_SHARE = 0.25, 0.15  # of a step's effect: how fast it acts is not known exactly
MOST_PERCENT = 100.0  # no fan turns so slowly as to be mistaken for a duty
USUAL_FINS = 0.4  # share of the fins in a rise
LEAST_FAN_SHARE = 0.25  # of the speed in the window: below, air moves by itself
FEWEST_DOF = 5.0
FITTED_DOF = 4.0
BLOCK_S = 30.0
AMBIENT_MEMORY_S = 30.0  # ambient readings closer than this repeat each other


@dataclass(frozen=True, kw_only=True, eq=False)
class StageRise:
    """One sensor's rise over a stage at rest, in K, with its budget (instruments not in), and what its window lacks.

    `half_width` is that of the 95 % interval of `remaining`; `drift` is how far the approach moves across the window.
    """

    rise: float
    budget: tuple[Component, ...]
    remaining: Estimate
    half_width: float
    drift: float


@dataclass(frozen=True, kw_only=True, eq=False)
class FittedStage:
    """A stage fitted: its sensors' rises, its time constant in s, a step found in it, and whether the fit is one.

    `wander_k` is the spread of half-minute means about the course inside the window.
    """

    rises: tuple[StageRise, ...]
    tau_s: float
    step: StepFound | None
    wander_k: float
    fan_step: WindowChange | None = None

    def fan_effect_k(self, rise: StageRise) -> float:
        """Return by how much a step of the fan should move a rise of usual make-up at rest, in K."""
        step = self.fan_step
        if step is None or not step.before or not step.after:
            return 0.0
        return (
            abs(rise.rise) * USUAL_FINS * FAN_EXPONENT * abs(math.log(max(step.after / step.before, LEAST_FAN_SHARE)))
        )


def fit_stages(work: Work, sensors: tuple[Channel, ...]) -> tuple[FittedStage, ...]:
    """Return the stages of the heat path fitted, from the sensors outwards; none where there are too few readings."""
    rule, coolant = work.rule, work.coolant
    if coolant is None:
        found = [_fit_stage(work, sensors, work.ambient_bins(), _air_beliefs(work, sensors[0], rule.tau_s))]
    else:
        base = work.grid.bin_means(coolant.values)
        smooth = low_pass(base, step_s=work.grid.bin_s, tau_s=COOLANT_SENSOR_TAU_S, start=float(base[0]))
        found = [
            _fit_stage(work, sensors, smooth, _block_beliefs(rule.tau_s), over_coolant=True),
            _fit_stage(work, (coolant,), work.ambient_bins(), _loop_beliefs(rule.coolant_tau_s)),
        ]
    stages = tuple(stage for stage in found if stage is not None)
    return stages if len(stages) == len(found) else ()


@dataclass(frozen=True, kw_only=True)
class _StageBeliefs:
    taus_s: tuple[float, float, float]
    slow_s: tuple[float, ...]
    hidden_k: float
    usual_s: float
    fan: bool


def _air_beliefs(work: Work, channel: Channel, tau_s: float) -> _StageBeliefs:
    usual = _usual_tau(work, channel, tau_s)
    loop = tau_s > LOOP_TAU_S
    shares = LOOP_SLOW_SHARES if loop else SLOW_SHARES
    return _StageBeliefs(
        taus_s=(DIE_TAU_S, BASE_TAU_S, FINS_SHARE * usual),
        slow_s=tuple(share * tau_s for share in shares),
        hidden_k=HIDDEN_SD_K * (LOOP_HIDDEN_SHARE if loop else 1.0),
        usual_s=usual,
        fan=True,
    )


def _block_beliefs(tau_s: float) -> _StageBeliefs:
    usual = min(tau_s, BLOCK_TAU_S)
    return _StageBeliefs(
        taus_s=(DIE_TAU_S, BASE_TAU_S, BLOCK_FINS_TAU_S),
        slow_s=tuple(share * usual for share in SLOW_SHARES),
        hidden_k=BLOCK_HIDDEN_K,
        usual_s=usual,
        fan=False,
    )


def _loop_beliefs(tau_s: float) -> _StageBeliefs:
    return _StageBeliefs(
        taus_s=(LOOP_DIE_TAU_S, LOOP_BASE_TAU_S, FINS_SHARE * tau_s),
        slow_s=tuple(share * tau_s for share in LOOP_SLOW_SHARES),
        hidden_k=HIDDEN_SD_K * LOOP_HIDDEN_SHARE,
        usual_s=tau_s,
        fan=True,
    )


def _usual_tau(work: Work, channel: Channel, tau_s: float) -> float:
    """Return the declared time constant, or a longer one that the approach as a whole clearly shows."""
    time = work.grid.cell_time - work.run.start_s
    late = time >= SKIP_S
    cells = work.cells(channel) - work.grid.to_cells(work.ambient_bins())
    found = fit_approach(time[late], cells[late])
    if found is None or found.low_s <= tau_s or abs(found.amplitude) <= SURE_AMPLITUDE * found.u_amplitude:
        return tau_s
    return found.tau_s


@dataclass(frozen=True, kw_only=True, eq=False)
class _Outcome:
    """A fitted problem with its channels, the budget line of what it is measured from, and what steps were found."""

    problem: Problem
    fitted: Fitted
    channels: tuple[Channel, ...]
    base_line: Component | None
    step: StepFound | None
    fan_step: WindowChange | None


def _fit_stage(
    work: Work, sensors: tuple[Channel, ...], base: FloatArray, beliefs: _StageBeliefs, *, over_coolant: bool = False
) -> FittedStage | None:
    stepped = fan_step(work) if beliefs.fan else None
    problem = _problem(work, sensors, _drive(work, base, _fan(work, stepped) if beliefs.fan else None), beliefs)
    if min(r.values.size for r in problem.readings) < LEAST_ROWS:
        return None
    fitted, step = find_step(problem, fit(problem), work.window_s)
    outcome = _Outcome(
        problem=problem,
        fitted=fitted,
        channels=sensors,
        base_line=_base_line(work, over_coolant=over_coolant),
        step=step,
        fan_step=stepped,
    )
    return FittedStage(
        rises=tuple(_rise(outcome, sensor) for sensor in range(len(sensors))),
        tau_s=beliefs.usual_s,
        step=step,
        wander_k=_wander(work, problem, fitted),
        fan_step=stepped,
    )


def _drive(work: Work, base: FloatArray, fan: FloatArray | None) -> Drive:
    time = work.grid.bin_time - work.run.start_s
    waves = loop_columns(time, work.rule.loop_s, cells=work.grid.cells)
    return Drive(
        time_s=time,
        step_s=work.grid.bin_s,
        power=_power(work),
        fan=np.zeros(time.size) if fan is None else fan,
        base=base,
        waves=np.stack(waves) if waves else np.zeros((0, time.size)),
    )


def _problem(work: Work, sensors: tuple[Channel, ...], drive: Drive, beliefs: _StageBeliefs) -> Problem:
    cells = np.stack([work.cells(c) - work.grid.to_cells(drive.base) for c in sensors])
    ranges = np.nanmax(cells, axis=1) - np.nanmin(cells, axis=1)
    rises = np.nanmean(cells[:, work.in_window], axis=1)
    if not (work.has_ambient or work.coolant is not None):
        rises = np.maximum(ranges, LEAST_RISE_K)
    believed = Beliefs(taus_s=beliefs.taus_s, hidden_sd_k=beliefs.hidden_k, fan=bool(drive.fan.any()))
    start = work.run.start_s
    return Problem(
        stage=Stage(drive, len(sensors)),
        prior=make_prior(believed, rises, ranges, drive.waves.shape[0]),
        readings=tuple(make_readings(c.values, c.resolution, work.grid, start_s=start, skip_s=SKIP_S) for c in sensors),
        in_window=work.bins_in_window,
        slow_taus_s=beliefs.slow_s,
    )


def _power(work: Work) -> FloatArray:
    power, grid = work.run.signals.power, work.grid
    if power is None or not work.usable(power):
        return np.zeros(grid.bin_time.size)
    binned = grid.bin_means(power.values)
    mean = float(binned[work.bins_in_window].mean())
    return binned / mean - 1 if mean > LEAST_W else np.zeros(binned.size)


def fan_step(work: Work) -> WindowChange | None:
    """Return the step of fan speed inside the window, None where there is none or no fan."""
    fan = work.run.signals.fan
    percent = fan is not None and not (fan.values > MOST_PERCENT).any()
    return step_of(work, fan, ChangeKind.FAN, "%" if percent else "r/min", FAN_SHARE)


def step_of(work: Work, channel: Channel | None, kind: ChangeKind, unit: str, share: float) -> WindowChange | None:
    """Return the step of a column inside the window that is at least a share of its level."""
    if channel is None or not work.usable(channel):
        return None
    grid = work.window_grid
    return speed_step(grid.cell_time, grid.cell_means(channel.values), kind, unit, share)


def _fan(work: Work, step: WindowChange | None) -> FloatArray | None:
    """Return ln(n/n0) by bin, n0 the speed in the window, after a step where there is one; None without a fan."""
    fan = work.run.signals.fan
    if fan is None or not work.usable(fan):
        return None
    binned = work.grid.bin_means(fan.values)
    from_s = work.window.start_s if step is None else step.time_s
    usual = float(binned[work.grid.bin_time > from_s].mean())
    if usual <= 0:
        return None
    return np.log(np.maximum(binned / usual, LEAST_FAN_SHARE))


def _unsure(outcome: _Outcome, sensor: int) -> float:
    """Return what steps inside the window leave open of a sensor's rise, in K, as a standard uncertainty."""
    own = outcome.fitted.best.theta[SHARED:].reshape(len(outcome.channels), -1)[sensor]
    fan, by_fan = outcome.fan_step, 0.0
    if fan is not None and fan.before and fan.after:
        fins = max(abs(own[R_FINS]), abs(own[LEVEL]) / 3)
        by_fan = fins * FAN_EXPONENT * abs(math.log(max(fan.after / fan.before, LEAST_FAN_SHARE)))
    by_step = 0.0 if outcome.step is None else outcome.step.size_k
    return math.hypot(FAN_STEP_SHARE * by_fan, STEP_SHARE * by_step)


def _rise(outcome: _Outcome, sensor: int) -> StageRise:
    """Return a sensor's rise at rest with its budget."""
    fitted, channel = outcome.fitted, outcome.channels[sensor]
    level, remaining = fitted.level[sensor], fitted.remaining[sensor]
    dof = max(fitted.effective - FITTED_DOF, FEWEST_DOF)
    of_remaining = remaining.dof(dof)
    open_k = math.hypot(MODEL_SHARE * remaining.mean, _unsure(outcome, sensor))
    lacking = math.hypot(remaining.sd, open_k)
    shared = min(remaining.sd, level.sd)  # what the window lacks is most of what is open of the level
    own = math.sqrt(max(level.sd**2 - shared**2, 0.0))
    budget = [
        Component(name=SCATTER, kind="A", u=math.hypot(own, MODEL_FLOOR_K), unit="K", dof=dof),
        Component(name=REMAINING, kind="B", u=math.hypot(open_k, shared), unit="K", dof=of_remaining),
    ]
    if channel.resolution > 0:
        u = channel.resolution / math.sqrt(12) / _steps_crossed(outcome.problem, sensor)
        budget.append(Component(name=RESOLUTION, kind="B", u=u, unit="K", dof=math.inf, role=Role.STEP))
    return StageRise(
        rise=level.mean,
        budget=(*budget, *((outcome.base_line,) if outcome.base_line else ())),
        remaining=Estimate(value=remaining.mean, u=lacking, unit="K", dof=of_remaining),
        half_width=coverage_factor(of_remaining) * lacking,
        drift=fitted.drift[sensor],
    )


def _steps_crossed(problem: Problem, sensor: int) -> float:
    """Return how many steps a sensor's readings crossed, at least 1: one leaves the scatter open, so all of it."""
    return float(max(np.unique(problem.readings[sensor].values).size - 1, 1))


def _base_line(work: Work, *, over_coolant: bool) -> Component | None:
    """Return the resolution of the reading that a stage is measured from: coolant, or logged ambient."""
    name, column = (COOLANT_RESOLUTION, work.coolant) if over_coolant else (AMBIENT_RESOLUTION, work.ambient)
    if column is None or column.resolution <= 0:
        return None
    inside = work.run.signals.time_s >= work.window.start_s
    known = column.values[inside & np.isfinite(column.values)]
    u = quantisation_u(float(known.std()) if known.size else 0.0, column.resolution, work.window_s / AMBIENT_MEMORY_S)
    return Component(name=name, kind="B", u=u, unit="K", dof=math.inf, sensitivity=-1.0, role=Role.STEP)


def _wander(work: Work, problem: Problem, fitted: Fitted) -> float:
    """Return the spread of half-minute means of the first sensor about its course inside the window, in K."""
    readings, look = problem.readings[0], looks(problem, fitted.best)[0]
    inside = readings.time_s + work.run.start_s >= work.window.start_s
    off = np.where(look.information > 0, look.score * fitted.best.scatter[0] ** 2, 0.0)[inside]
    block = ((readings.time_s[inside] - readings.time_s[0]) / BLOCK_S).astype(np.intp)
    counts = np.bincount(block)
    means = np.bincount(block, off)[counts > 0] / counts[counts > 0]
    return float(means.std())
