"""The likelihood of readings about a course: rounded readings are intervals, fine ones are means with a scatter."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from builder.core.quantity import FloatArray
from builder.settling.grid import Grid

COARSE_K = 0.25  # from this step on, each reading is treated as an interval
_ROOT_TWO, _DENSITY = math.sqrt(2), math.sqrt(2 / math.pi)
_LEAST = 1e-300


@dataclass(frozen=True, kw_only=True, eq=False)
class Readings:
    """One sensor's readings as rows, each with its value in K, its place on the grid and its weight; shape (rows,).

    With a `step` the place is a bin and the true value lies within half a step of the reading; equal readings of one
    bin are one row. With step 0 the place is a cell and the value is that cell's mean.
    """

    values: FloatArray
    place: NDArray[np.intp]
    weight: FloatArray
    time_s: FloatArray
    step: float
    per_cell: int

    def rows(self, course: FloatArray) -> FloatArray:
        """Return a quantity known in every bin, shape (..., bins), at the rows, shape (..., rows)."""
        if self.step > 0:
            return course[..., self.place]
        cells = course.reshape(*course.shape[:-1], -1, self.per_cell).mean(axis=-1)
        return np.asarray(cells[..., self.place], dtype=float)


@dataclass(frozen=True, kw_only=True, eq=False)
class Fitness:
    """How readings look from a course and a scatter, by row, shape (rows,).

    `logp` is the log likelihood, `score` and `information` its first and negative second derivative by the course,
    `square` the mean square of what lies between the true value and the course, in K².
    """

    logp: FloatArray
    score: FloatArray
    information: FloatArray
    square: FloatArray


def make_readings(values: FloatArray, step: float, grid: Grid, *, start_s: float, skip_s: float) -> Readings:
    """Return a column's rows, `values` of shape (samples,), NaN missing, their times counted from `start_s`.

    The first `skip_s` seconds after the start are left out.
    """
    if step >= COARSE_K:
        return _interval_rows(values, step, grid, start_s, skip_s)
    cells = grid.cell_means(values)
    used = np.flatnonzero(np.isfinite(cells) & (grid.cell_time >= start_s + skip_s))
    return Readings(
        values=cells[used],
        place=used,
        weight=np.ones(used.size),
        time_s=grid.cell_time[used] - start_s,
        step=0.0,
        per_cell=grid.per_cell,
    )


def _interval_rows(values: FloatArray, step: float, grid: Grid, start_s: float, skip_s: float) -> Readings:
    bins = grid.cells * grid.per_cell
    used = np.isfinite(values) & (grid.bin_of >= 0) & (grid.bin_of < bins)
    used &= grid.bin_time[np.clip(grid.bin_of, 0, bins - 1)] >= start_s + skip_s
    place, kept = grid.bin_of[used], values[used]
    order = np.lexsort((kept, place))
    place, kept = place[order], kept[order]
    first = np.ones(place.size, dtype=bool)
    first[1:] = (np.diff(place) > 0) | (np.diff(kept) > 0)
    starts = np.flatnonzero(first)
    counts = np.diff(np.append(starts, place.size)).astype(float)
    rows = place[starts]
    return Readings(
        values=kept[starts],
        place=rows,
        weight=grid.bin_s * counts / np.bincount(place, minlength=bins)[rows],
        time_s=grid.bin_time[rows] - start_s,
        step=step,
        per_cell=grid.per_cell,
    )


def fitness(readings: Readings, course: FloatArray, scatter: float) -> Fitness:
    """Return how readings look from a course at their rows, shape (rows,), with normal scatter of `scatter` K.

    Source: interval (grouped) normal observations, Heitjan 1989, Statistical Science 4, 164 (value from memory); tails
    are worked out from the nearer side, relative to the density there, so that readings far from the course stay
    finite.
    """
    if readings.step <= 0:
        off = readings.values - course
        size = off.size
        return Fitness(
            logp=-0.5 * (off / scatter) ** 2 - math.log(scatter),
            score=off / scatter**2,
            information=np.full(size, 1 / scatter**2),
            square=off**2,
        )
    return _interval_fitness(readings.values - course, readings.step, scatter)


def _interval_fitness(off: FloatArray, step: float, scatter: float) -> Fitness:
    from scipy import special

    side, middle, half = np.where(off > 0, 1.0, -1.0), np.abs(off) / scatter, step / 2 / scatter
    near, far = middle - half, middle + half
    fading = np.exp(-2 * middle * half)  # of the density, from the near side to the far one
    within = special.erfcx(near / _ROOT_TWO) - fading * special.erfcx(far / _ROOT_TWO)
    within = np.maximum(within, _LEAST)
    at_near = _DENSITY / within
    at_far = fading * at_near
    mean = at_near - at_far  # of a standard normal between `near` and `far`
    spread = np.clip(1 + near * at_near - far * at_far - mean**2, 0.0, 1.0)
    return Fitness(
        logp=np.log(within / 2) - near**2 / 2,
        score=side * mean / scatter,
        information=(1 - spread) / scatter**2,
        square=scatter**2 * (spread + mean**2),
    )
