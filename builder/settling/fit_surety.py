"""How sure a fit is: covariances from readings that repeat each other, and what follows of them for each sensor."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from builder.core.quantity import FloatArray
from builder.settling.course import LEVEL, SHARED, STEP
from builder.settling.course_fit import Mode, Problem, climb_all, every_mode, inverse_of, looks, slopes
from builder.settling.likelihood import Fitness
from builder.uncertainty import lag1_correlation

ALL_BELIEF = 1e-3
BLOCK_S, BAND_S = 15.0, 90.0  # readings closer than the band repeat each other
SCORE_CELL_S = 5.0
TEMPER = 4.0  # the evidence counts for so much less, for the same reason


@dataclass(frozen=True, kw_only=True)
class Moments:
    """Mean and standard deviation of what is believed of a quantity, in K, and the part that scatter has in the latter.

    The rest comes from beliefs and ranges, which are known as well as they ever will be.
    """

    mean: float
    sd: float
    scatter: float = 0.0

    def dof(self, of_scatter: float) -> float:
        """Return the effective degrees of freedom. Source: Welch-Satterthwaite, JCGM 100:2008, G.4.1."""
        share = min(self.scatter / self.sd, 1.0) if self.sd > 0 else 0.0
        return of_scatter / share**4 if share > ALL_BELIEF else math.inf


@dataclass(frozen=True, kw_only=True, eq=False)
class Fitted:
    """What a run shows of each sensor, by sensor: rise at rest over the stage's base, and what the window lacks of it.

    `drift` is how far the approach moves from the window's first bin to its last. `effective` is the number of parts of
    the run that do not repeat each other.
    """

    level: tuple[Moments, ...]
    remaining: tuple[Moments, ...]
    drift: tuple[float, ...]
    best: Mode
    evidence: float
    effective: float


def fit(problem: Problem) -> Fitted:
    """Return the fit over all time constants of the hidden part and all summits, weighted by tempered evidence."""
    return _mixed(problem, every_mode(problem))


def climb(problem: Problem, start: FloatArray) -> Fitted:
    """Return the fit that is reached from a start, over all time constants of the hidden part."""
    return _mixed(problem, list(climb_all(problem, start)))


def _mixed(problem: Problem, modes: Sequence[Mode]) -> Fitted:
    evidence = np.array([m.evidence for m in modes])
    weights = np.exp((evidence - evidence.max()) / TEMPER)
    weights /= weights.sum()
    sureties = [(covariance(problem, m), model_covariance(problem, m), range_covariance(problem, m)) for m in modes]
    level, remaining, drift = [], [], []
    for sensor in range(len(problem.readings)):
        targets = [_targets(problem, m, sensor) for m in modes]
        level.append(_believed(weights, [(t.level, t.level_slope) for t in targets], sureties))
        remaining.append(_believed(weights, [(t.remaining, t.remaining_slope) for t in targets], sureties))
        drift.append(float(weights @ np.array([t.drift for t in targets])))
    return Fitted(
        level=tuple(level),
        remaining=tuple(remaining),
        drift=tuple(drift),
        best=modes[int(np.argmax(evidence))],
        evidence=float(evidence.max()),
        effective=_effective(problem),
    )


def _believed(
    weights: FloatArray,
    targets: Sequence[tuple[float, FloatArray]],
    sureties: Sequence[tuple[FloatArray, FloatArray, FloatArray]],
) -> Moments:
    """Return a target's moments over the modes: the larger of two spreads, but no more than readings' ranges allow."""
    by_scatter, by_likelihood, by_range = (
        np.array([max(float(slope @ c[k] @ slope), 0.0) for (_, slope), c in zip(targets, sureties, strict=True)])
        for k in range(3)
    )
    spread = np.minimum(np.maximum(by_scatter, by_likelihood), by_range)
    found = mixture(weights, np.array([value for value, _ in targets]), spread)
    return replace(found, scatter=math.sqrt(float(weights @ np.minimum(by_scatter, spread))))


def mixture(weights: FloatArray, values: FloatArray, variances: FloatArray) -> Moments:
    """Return the moments of a mixture of normal beliefs, all of shape (modes,)."""
    mean = float(weights @ values)
    return Moments(mean=mean, sd=math.sqrt(max(float(weights @ (variances + values**2)) - mean**2, 0.0)))


def covariance(problem: Problem, mode: Mode) -> FloatArray:
    """Return the covariance of the parameters, shape (k, k), for readings that repeat each other.

    The inverse curvature on both sides of the spread of the scores, summed over blocks of 15 s in a Bartlett kernel of
    90 s, the sensors taken together. Source: Newey and West 1987, Econometrica 55, 703 (value from memory).
    """
    blocks = np.array(list(_block_scores(problem, mode))).sum(axis=0)
    band = round(BAND_S / BLOCK_S)
    padded = np.pad(blocks, ((0, 0), (band, band - 1)))
    sums = np.cumsum(padded, axis=1)
    runs = sums[:, band:] - sums[:, :-band]
    effective = _effective(problem)
    spread = runs @ runs.T / band * (effective / max(effective - 4.0, 2.0))
    return np.asarray(mode.inverse @ (spread + problem.prior.precision()) @ mode.inverse, dtype=float)


def model_covariance(problem: Problem, mode: Mode) -> FloatArray:
    """Return the covariance that the likelihood itself gives, its information divided by how readings repeat."""
    believed = problem.prior.precision()
    data = np.linalg.inv(mode.inverse) - believed
    return inverse_of(data / inflation(problem, looks(problem, mode)) + believed)


def range_covariance(problem: Problem, mode: Mode) -> FloatArray:
    """Return the covariance that the beliefs and the mere ranges of the readings leave.

    Each quarter of a run counts as one reading, uniform within its step, with the scatter: however often it repeats
    itself, a rounded reading bounds the course to half a step. Source: JCGM 100:2008, 4.3.7 and F.2.2.1.
    """
    precision = problem.prior.precision()
    for sensor, readings in enumerate(problem.readings):
        design, places = slopes(problem, mode.course, sensor), problem.prior.places(sensor)
        sd = math.hypot(readings.step / math.sqrt(12), float(mode.scatter[sensor]))
        for quarter in np.array_split(np.arange(readings.values.size), 4):
            mean = design[:, quarter].mean(axis=1)
            precision[np.ix_(places, places)] += np.outer(mean, mean) / sd**2
    return inverse_of(precision)


def inflation(problem: Problem, seen: Sequence[Fitness]) -> float:
    """Return by how much scores that repeat each other spread more than they say, at least 1."""
    first, look = problem.readings[0], seen[0]
    cell: NDArray[np.intp] = ((first.time_s - first.time_s[0]) / SCORE_CELL_S).astype(np.intp)
    score = np.bincount(cell, first.weight * look.score)
    information = np.bincount(cell, first.weight * look.information)
    even = score / np.sqrt(np.maximum(information, 1e-3 * max(float(information.max()), 1e-9)))
    even -= even.mean()
    lag1 = lag1_correlation(even, 8)
    spread = max(float(even @ even) / even.size, 0.3)
    return max((1 + lag1) / (1 - lag1) * spread, 1.0)


def _block_scores(problem: Problem, mode: Mode) -> Iterator[FloatArray]:
    time = problem.stage.drive.time_s
    count = int((time[-1] - time[0]) / BLOCK_S) + 1
    for sensor, look in enumerate(looks(problem, mode)):
        readings = problem.readings[sensor]
        scores = slopes(problem, mode.course, sensor) * (readings.weight * look.score)
        block = np.clip(((problem.readings[sensor].time_s - time[0]) / BLOCK_S).astype(np.intp), 0, count - 1)
        starts = np.flatnonzero(np.diff(block, prepend=-1))
        summed = np.zeros((problem.prior.mean.size, count))
        summed[np.ix_(problem.prior.places(sensor), block[starts])] = np.add.reduceat(scores, starts, axis=1)
        yield summed


def _effective(problem: Problem) -> float:
    longest = max(float(np.ptp(r.time_s)) for r in problem.readings)
    return max(longest / BAND_S, 1.0)


@dataclass(frozen=True, kw_only=True, eq=False)
class _Targets:
    level: float
    level_slope: FloatArray
    remaining: float
    remaining_slope: FloatArray
    drift: float


def _targets(problem: Problem, mode: Mode, sensor: int) -> _Targets:
    places, inside = problem.prior.places(sensor), problem.in_window
    level_slope, remaining_slope = np.zeros(problem.prior.mean.size), np.zeros(problem.prior.mean.size)
    level_slope[[STEP, places[SHARED + LEVEL]]] = 1.0
    rest = np.concatenate([mode.course.remaining_shared[sensor], mode.course.remaining_own[sensor]])
    remaining_slope[places] = rest[:, inside].mean(axis=1)
    course = mode.course.remaining[sensor, inside]
    return _Targets(
        level=float(mode.theta[places[SHARED + LEVEL]] + mode.theta[STEP]),
        level_slope=level_slope,
        remaining=float(course.mean()),
        remaining_slope=remaining_slope,
        drift=float(course[0] - course[-1]),
    )
