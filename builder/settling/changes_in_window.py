"""What happened inside a window: gaps, steps of power and fan, and bends of the temperature that no column explains."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from builder.core.quantity import FloatArray, format_number
from builder.core.results import ChangeKind, WindowChange
from builder.settling.course import HIDDEN, LN_FINS, STEP
from builder.settling.course_fit import Mode, Problem, find_mode, looks, slopes
from builder.settling.fit_surety import Fitted, climb, inflation
from builder.uncertainty import lag1_correlation

GAP_S = 10.0
SURE = 6.0  # standard errors, of the best of some fifty places
EDGE_CELLS = 4
FAN_SHARE = 0.03
POWER_SHARE = 0.03

SUSPECT = 2.5  # standard errors of the score, from which on a step is tried in earnest
PLAIN_SUSPECT = 9.0  # the same, scores taken as independent: a step itself makes them repeat each other
SURE_GAIN = 18.0  # of log likelihood, what repeats itself taken out
LEAST_STEP_K = 0.4
BETTER = 0.5  # of log evidence, for a way round by a step
STEP_SPACING_S, BEFORE_WINDOW_S, BEFORE_END_S = 15.0, 60.0, 75.0
MOST_INFLATION = 4.0


@dataclass(frozen=True, kw_only=True)
class Break:
    """The best place for a change in a series: its time, size in the series' unit, and size in standard errors."""

    time_s: float
    size: float
    score: float
    before: float
    after: float


@dataclass(frozen=True, kw_only=True)
class StepFound:
    """A step of heat flow that the log does not explain: when it began, in seconds of the load, and its end in K."""

    time_s: float
    size_k: float


def words(change: WindowChange) -> str:
    """Return a change in words.

    >>> words(WindowChange(kind=ChangeKind.GAP, time_s=999.0, size=41.0, unit="s"))
    'no temperature readings for 41 s from 999 s on'
    """
    time = format_number(change.time_s, 0)
    if change.kind is ChangeKind.GAP:
        return f"no temperature readings for {format_number(change.size, 0)} s from {time} s on"
    if change.before is None or change.after is None:
        return f"the temperature bends at {time} s, by {format_number(change.size, 1, sign=True)} K in the end"
    before, after = format_number(change.before, 0), format_number(change.after, 0)
    return f"{change.kind} steps from {before} to {after} {change.unit} at {time} s"


def speed_step(
    time_s: FloatArray, values: FloatArray, kind: ChangeKind, unit: str, share: float
) -> WindowChange | None:
    """Return the one step of fan speed or power in cells of a window, shape (n,), None where it is under `share`."""
    found = level_step(time_s, values)
    if found is None or found.score < SURE or abs(found.size) < share * abs(found.before):
        return None
    return WindowChange(
        kind=kind, time_s=found.time_s, size=found.size, unit=unit, before=found.before, after=found.after
    )


def longest_gap(time_s: FloatArray, *, start_s: float, end_s: float, step_s: float) -> WindowChange | None:
    """Return the longest time without readings in a window, None where it is usual."""
    inside = time_s[time_s >= start_s]
    edges = np.concatenate([[start_s], inside, [end_s]])
    gaps = np.diff(edges)
    longest = int(np.argmax(gaps))
    if gaps[longest] <= max(GAP_S, 3 * step_s):
        return None
    return WindowChange(kind=ChangeKind.GAP, time_s=float(edges[longest]), size=float(gaps[longest]), unit="s")


def level_step(time_s: FloatArray, values: FloatArray) -> Break | None:
    """Return the best place to split a series, shape (n,), into two levels; None where it is short or does not vary."""
    valid = np.isfinite(values)
    t, y = time_s[valid], values[valid]
    if y.size < 4 * EDGE_CELLS:
        return None
    steps = (np.arange(y.size)[:, None] >= np.arange(EDGE_CELLS, y.size - EDGE_CELLS)).astype(float)
    return _best(t, y, np.ones((y.size, 1)), steps)


def _best(time_s: FloatArray, values: FloatArray, base: FloatArray, candidates: FloatArray) -> Break | None:
    """Return the candidate column that explains most beyond the base columns."""
    q = np.linalg.qr(base)[0]
    rest = values - q @ (q.T @ values)
    own = candidates - q @ (q.T @ candidates)
    power = (own**2).sum(axis=0)
    usable = power > 1e-9 * values.size  # not inside the base's span
    sizes = np.where(usable, own.T @ rest / np.where(usable, power, 1.0), 0.0)
    gains = sizes**2 * power
    best = int(np.argmax(gains))
    residuals = rest - sizes[best] * own[:, best]
    lag1 = lag1_correlation(residuals, base.shape[1] + 1)
    spread = float(residuals @ residuals) / max(values.size - base.shape[1] - 2, 1)
    error = math.sqrt(max(spread, 1e-12) * (1 + lag1) / (1 - lag1) / max(float(power[best]), 1e-12))
    place = EDGE_CELLS + best
    return Break(
        time_s=float(time_s[place]),
        size=float(sizes[best]),
        score=abs(float(sizes[best])) / error,
        before=float(values[:place].mean()),
        after=float(values[place:].mean()),
    )


def find_step(problem: Problem, fitted: Fitted, window_s: float) -> tuple[Fitted, StepFound | None]:
    """Return the better description of a run and the step of heat flow inside the window that it needs, if any.

    A step is tried where the score of one is largest, and believed where it gains enough likelihood. Source: score
    test, Rao 1948, Proc. Camb. Phil. Soc. 44, 50 (value from memory).
    """
    scan = _scan(problem, fitted.best, window_s)
    if scan is None or (scan.score <= SUSPECT and scan.score * math.sqrt(scan.inflation) <= PLAIN_SUSPECT):
        return fitted, None
    best, stepping = fitted.best, problem.stepping_at(scan.time_s)
    begun = best.theta.copy()
    begun[HIDDEN] *= 0.3  # a step looks like a hidden part: give it room
    stepped = find_mode(stepping, begun, best.scatter, best.slow_tau_s)
    without = stepped.theta.copy()
    without[STEP] = 0.0
    plain = find_mode(problem, without, stepped.scatter, best.slow_tau_s)
    gain = (stepped.evidence - max(plain.evidence, best.evidence)) / min(scan.inflation, MOST_INFLATION)
    if gain > SURE_GAIN and abs(float(stepped.theta[STEP])) > LEAST_STEP_K:
        found = climb(stepping, stepped.theta)
        return found, StepFound(time_s=scan.time_s, size_k=float(found.best.theta[STEP]))
    return (climb(problem, plain.theta) if plain.evidence > best.evidence + BETTER else fitted), None


@dataclass(frozen=True, kw_only=True)
class _Scan:
    time_s: float
    score: float
    inflation: float


def _scan(problem: Problem, mode: Mode, window_s: float) -> _Scan | None:
    """Return where a step would help most, with its score in standard errors."""
    end = float(problem.stage.drive.time_s[-1])
    times = np.arange(end - window_s - BEFORE_WINDOW_S, end - BEFORE_END_S, STEP_SPACING_S)
    seen = looks(problem, mode)
    tau = math.exp(mode.theta[LN_FINS])
    shapes, designs = [], []
    crossed = np.zeros((problem.prior.mean.size, times.size))
    for sensor, (readings, look) in enumerate(zip(problem.readings, seen, strict=True)):
        shape = -np.expm1(-np.maximum(readings.time_s - times[:, None], 0.0) / tau)
        design = slopes(problem, mode.course, sensor)
        crossed[problem.prior.places(sensor)] += (design * (readings.weight * look.information)) @ shape.T
        shapes.append(shape)
        designs.append(design)
    absorbed = mode.inverse @ crossed
    gains, informations = np.zeros(times.size), np.zeros(times.size)
    for sensor, (readings, look) in enumerate(zip(problem.readings, seen, strict=True)):
        rest = shapes[sensor] - absorbed[problem.prior.places(sensor)].T @ designs[sensor]
        gains += rest @ (readings.weight * look.score)
        informations += (rest * shapes[sensor]) @ (readings.weight * look.information)
    usable = informations > 1e-9  # noqa: PLR2004 - not inside the span of the description
    if not usable.any():
        return None
    spread = inflation(problem, seen)
    scores = np.where(usable, np.abs(gains) / np.sqrt(np.maximum(informations, 1e-9) * spread), 0.0)
    best = int(np.argmax(scores))
    return _Scan(time_s=float(times[best]), score=float(scores[best]), inflation=spread)
