"""Fitting the course of a stage to its readings: the most probable parameters, from every start that is worth one."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from builder.core.quantity import FloatArray
from builder.settling.course import HIDDEN, LEVEL, LN_DIE, LN_FINS, SHARED, STEP, Course, Prior, Stage
from builder.settling.likelihood import Fitness, Readings, fitness

ROUNDS = 30
TRIES = 6  # of damping, in each round
ROUGH_GAIN, ENOUGH_GAIN = 20.0, 0.05  # of log likelihood: to see to the scatter, and to stop
KEPT_PROMISE = 0.75  # of a step's gain, for less damping of the next
MOST_DRAWN = 8.0  # times a step of EM
FIRST_DAMPING, LEAST_DAMPING = 1e-2, 1e-9
LN_TAU_STEP, LN_TAU_RANGE = 0.5, (0.0, math.log(5000.0))
OTHER_FINS = (0.6, 1.6)  # of the time constant found, where other summits are looked for
SAME_SUMMIT_K, WORTH_IT = 0.05, 12.0  # K of the level; log evidence below the best
FIRST_TAUS = (0.4, 0.63, 1.0, 1.6, 2.5, 4.0)  # of the believed time constant of the fins
SCATTER_FLOOR_K, SCATTER_FLOOR_STEPS = 0.03, 0.08


@dataclass(frozen=True, kw_only=True, eq=False)
class Problem:
    """A stage to be fitted: its readings by sensor, beliefs, the bins of the window, and time constants to try."""

    stage: Stage
    prior: Prior
    readings: tuple[Readings, ...]
    in_window: NDArray[np.bool_]
    slow_taus_s: tuple[float, ...]

    def stepping_at(self, time_s: float | None) -> Problem:
        """Return the same problem with a step of heat flow allowed at a time, or none."""
        prior = self.prior.with_step(allowed=time_s is not None)
        return replace(self, stage=self.stage.stepping_at(time_s), prior=prior)


@dataclass(frozen=True, kw_only=True, eq=False)
class Mode:
    """The most probable parameters, shape (k,), for one time constant of the hidden part, with scatters in K.

    `value` is the log posterior, `inverse` the inverse of its curvature, `evidence` their sum by Laplace.
    """

    theta: FloatArray
    scatter: FloatArray
    slow_tau_s: float
    value: float
    inverse: FloatArray
    evidence: float
    course: Course


def every_mode(problem: Problem) -> list[Mode]:
    """Return the modes for all time constants of the hidden part, and those of other summits where there are any."""
    modes = list(climb_all(problem, _first_guess(problem)))
    if max(r.step for r in problem.readings) > 0:  # rounded readings can be read in more than one way
        modes += _other_summits(problem, modes)
    return modes


def climb_all(problem: Problem, start: FloatArray) -> Iterator[Mode]:
    """Yield the modes that are reached from a start, for all time constants of the hidden part."""
    scatter = np.array([max(0.3 * r.step, 0.15) for r in problem.readings])
    return _climb(problem, start, scatter, problem.slow_taus_s)


def _climb(problem: Problem, theta: FloatArray, scatter: FloatArray, slow_taus_s: Sequence[float]) -> Iterator[Mode]:
    """Yield the mode for each time constant of the hidden part, each started from the one before."""
    for tau in slow_taus_s:
        mode = find_mode(problem, _linear(problem, theta, tau), scatter, tau)
        theta, scatter = mode.theta, mode.scatter
        yield mode


def _other_summits(problem: Problem, modes: Sequence[Mode]) -> Iterator[Mode]:
    """Yield modes of other levels that are reached from faster and slower fins, where they are nearly as likely."""
    best = max(modes, key=lambda m: m.evidence)
    known = [best]
    for share in OTHER_FINS:
        start = best.theta.copy()
        start[LN_DIE:LN_FINS] = problem.prior.mean[LN_DIE:LN_FINS]
        start[LN_FINS] += math.log(share)
        start[HIDDEN] = 0.0
        tau = best.slow_tau_s
        found = find_mode(problem, _linear(problem, start, tau), best.scatter, tau, worth=best.value - WORTH_IT)
        apart = min(abs(float(found.theta[SHARED + LEVEL] - k.theta[SHARED + LEVEL])) for k in known)
        if apart > SAME_SUMMIT_K and found.evidence > best.evidence - WORTH_IT:
            known.append(found)
            yield found
            others = [tau for tau in problem.slow_taus_s if tau != best.slow_tau_s]
            yield from _climb(problem, found.theta, found.scatter, others)


def find_mode(
    problem: Problem, theta: FloatArray, scatter: FloatArray, slow_tau_s: float, *, worth: float = -math.inf
) -> Mode:
    """Return the most probable parameters from a start, by damped Gauss-Newton steps with the scatter by EM.

    A way that promises to end below a log posterior of `worth` is left where it is. Source: Dempster, Laird and Rubin
    1977, J. R. Stat. Soc. B 39, 1 (value from memory), for the scatter; Nielsen 1999, IMM-REP-1999-05, for the damping
    (value from memory).
    """
    course = problem.stage.course(theta, slow_tau_s)
    value, seen = _value(problem, theta, course, scatter)
    damping = FIRST_DAMPING
    for turn in range(ROUNDS):
        curvature, slope = _curvature(problem, theta, course, seen)
        gain = 0.0
        for _ in range(TRIES):
            trial = _stepped(theta, curvature, slope, damping)
            promised = float(slope @ (trial - theta)) / 2
            if promised < ENOUGH_GAIN or (turn and value + promised < worth):
                break
            there = problem.stage.course(trial, slow_tau_s)
            reached, looks = _value(problem, trial, there, scatter)
            if reached >= value - 1e-9:
                gain, value, theta, course, seen = reached - value, reached, trial, there, looks
                damping = max(damping / 5, LEAST_DAMPING) if gain > KEPT_PROMISE * promised else damping
                break
            damping *= 6
        if turn and gain < ROUGH_GAIN:
            before = value
            scatter = _scatter(problem, course, scatter, seen)
            value, seen = _value(problem, theta, course, scatter)
            gain += abs(value - before)
        if turn and gain < ENOUGH_GAIN:
            break
    inverse = inverse_of(_curvature(problem, theta, course, seen)[0])
    evidence = value + 0.5 * float(np.linalg.slogdet(inverse)[1])
    return Mode(
        theta=theta,
        scatter=scatter,
        slow_tau_s=slow_tau_s,
        value=value,
        inverse=inverse,
        evidence=evidence,
        course=course,
    )


def looks(problem: Problem, mode: Mode) -> tuple[Fitness, ...]:
    """Return how each sensor's readings look from a mode."""
    return tuple(
        fitness(r, r.rows(mode.course.level[s]), float(mode.scatter[s])) for s, r in enumerate(problem.readings)
    )


def slopes(problem: Problem, course: Course, sensor: int) -> FloatArray:
    """Return the slopes of a sensor's course by shared and own parameters at its rows, shape (7 + own, rows)."""
    return problem.readings[sensor].rows(np.concatenate([course.shared[sensor], course.own[sensor]]))


def _value(
    problem: Problem, theta: FloatArray, course: Course, scatter: FloatArray
) -> tuple[float, tuple[Fitness, ...]]:
    seen = tuple(fitness(r, r.rows(course.level[s]), float(scatter[s])) for s, r in enumerate(problem.readings))
    total = sum(float(r.weight @ f.logp) for r, f in zip(problem.readings, seen, strict=True))
    value = total + problem.prior.value(theta)
    return (value if math.isfinite(value) else -math.inf), seen


def _curvature(
    problem: Problem, theta: FloatArray, course: Course, seen: Sequence[Fitness]
) -> tuple[FloatArray, FloatArray]:
    """Return the negative second derivative of the log posterior and its gradient."""
    curvature, slope = problem.prior.precision(), problem.prior.slope(theta)
    for sensor, (readings, look) in enumerate(zip(problem.readings, seen, strict=True)):
        design, places = slopes(problem, course, sensor), problem.prior.places(sensor)
        curvature[np.ix_(places, places)] += (design * (readings.weight * look.information)) @ design.T
        slope[places] += design @ (readings.weight * look.score)
    return curvature, slope


def _stepped(theta: FloatArray, curvature: FloatArray, slope: FloatArray, damping: float) -> FloatArray:
    damped = curvature + damping * np.diag(np.diag(curvature))
    step = inverse_of(damped) @ slope
    taus = slice(LN_DIE, LN_FINS + 1)
    step[taus] = np.clip(step[taus], -LN_TAU_STEP, LN_TAU_STEP)
    moved = theta + step
    moved[taus] = np.clip(moved[taus], *LN_TAU_RANGE)
    return np.asarray(moved, dtype=float)


def inverse_of(matrix: FloatArray) -> FloatArray:
    """Return the inverse of a positive definite matrix whose diagonal may span many orders of size."""
    scale = 1 / np.sqrt(np.diag(matrix))
    even = matrix * scale[:, None] * scale
    return np.asarray(np.linalg.inv(even + 1e-12 * np.eye(scale.size)) * scale[:, None] * scale, dtype=float)


def _scatter(problem: Problem, course: Course, scatter: FloatArray, seen: Sequence[Fitness]) -> FloatArray:
    """Return the likeliest scatters about a course: EM, drawn out to where its steps are heading.

    Source: Aitken's extrapolation of EM, McLachlan and Krishnan, The EM Algorithm, 1997, 4.8 (value from memory).
    """
    found = []
    for sensor, (readings, look) in enumerate(zip(problem.readings, seen, strict=True)):
        rows, least = readings.rows(course.level[sensor]), max(SCATTER_FLOOR_K, SCATTER_FLOOR_STEPS * readings.step)
        first = _expected(readings, look, least)
        second = _expected(readings, fitness(readings, rows, first), least)
        moved, kept = math.log(first / scatter[sensor]), math.log(second / first)
        drawn = kept / max(1 - kept / moved, 1 / MOST_DRAWN) if kept * moved > 0 else kept
        found.append(max(first * math.exp(drawn), least))
    return np.array(found)


def _expected(readings: Readings, look: Fitness, least: float) -> float:
    return max(math.sqrt(float(readings.weight @ look.square) / max(float(readings.weight.sum()), 1.0)), least)


def _first_guess(problem: Problem) -> FloatArray:
    """Return the best of a few time constants of the fins, the linear parameters solved for each."""
    tau, scatter = problem.slow_taus_s[len(problem.slow_taus_s) // 2], _wide(problem)
    best, best_value = problem.prior.mean, -math.inf
    for share in FIRST_TAUS:
        theta = problem.prior.mean.copy()
        theta[LN_FINS] += math.log(share)
        theta = _linear(problem, theta, tau)
        seen = _gaussian(problem, problem.stage.course(theta, tau), scatter)
        value = sum(float(r.weight @ f.logp) for r, f in zip(problem.readings, seen, strict=True))
        value += problem.prior.value(theta)
        if value > best_value:
            best, best_value = theta, value
    return best


def _linear(problem: Problem, theta: FloatArray, slow_tau_s: float) -> FloatArray:
    """Return parameters whose linear ones are solved for, time constants and exponents as they are."""
    course = problem.stage.course(theta, slow_tau_s)
    curvature, slope = _curvature(problem, theta, course, _gaussian(problem, course, _wide(problem)))
    free = np.concatenate([[HIDDEN, STEP], np.arange(SHARED, theta.size)])
    solved = theta.copy()
    solved[free] += np.linalg.solve(curvature[np.ix_(free, free)], slope[free])
    return solved


def _wide(problem: Problem) -> FloatArray:
    return np.array([max(0.5 * r.step, 0.2) for r in problem.readings])


def _gaussian(problem: Problem, course: Course, scatter: FloatArray) -> list[Fitness]:
    plain = (replace(r, step=0.0) for r in problem.readings)
    return [
        fitness(p, r.rows(course.level[s]), float(scatter[s]))
        for s, (p, r) in enumerate(zip(plain, problem.readings, strict=True))
    ]
