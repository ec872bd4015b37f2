"""Fewer points for a line on a page, with what they leave out kept as a band from lowest to highest."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TypeAlias

import numpy as np
from numpy.typing import NDArray

from builder.core.quantity import FloatArray

IntArray: TypeAlias = NDArray[np.int64]
STEPS_S = (10.0, 15.0, 20.0, 30.0, 60.0, 120.0, 300.0, 600.0)  # shorter cells would keep the sampling noise


@dataclass(frozen=True, kw_only=True, eq=False)
class Cells:
    """A trace in cells of equal length: centre in s, mean, lowest and highest, shape (n,); NaN for an empty cell."""

    length_s: float
    time_s: FloatArray
    mean: FloatArray
    low: FloatArray
    high: FloatArray


def cell_length(duration_s: float, most: int) -> float:
    """Return the shortest usual cell, 10 s or longer, that makes at most `most` cells of a run."""
    return next((step for step in STEPS_S if duration_s / step <= most), math.ceil(duration_s / most / 600) * 600.0)


def cells(time_s: FloatArray, values: FloatArray, length_s: float) -> Cells:
    """Return the trace in cells [k L, (k + 1) L); a plain mean hides spikes, so the extremes stay beside it."""
    good = np.isfinite(values) & np.isfinite(time_s)
    if not good.any():
        empty = np.empty(0)
        return Cells(length_s=length_s, time_s=empty, mean=empty, low=empty, high=empty)
    time, kept = time_s[good], values[good]
    index = np.floor(time / length_s).astype(np.int64)
    first = int(index.min())
    size = int(index.max()) - first + 1
    mean, low, high = _fold(index - first, kept, size)
    return Cells(
        length_s=length_s,
        time_s=np.asarray((np.arange(size) + first + 0.5) * length_s, dtype=float),
        mean=mean,
        low=low,
        high=high,
    )


def _fold(index: IntArray, values: FloatArray, size: int) -> tuple[FloatArray, FloatArray, FloatArray]:
    count = np.bincount(index, minlength=size)
    total = np.bincount(index, weights=values, minlength=size)
    low, high = np.full(size, np.inf), np.full(size, -np.inf)
    np.minimum.at(low, index, values)
    np.maximum.at(high, index, values)
    filled = count > 0
    mean = np.where(filled, total / np.maximum(count, 1), np.nan)
    return mean, np.where(filled, low, np.nan), np.where(filled, high, np.nan)


@dataclass(frozen=True, kw_only=True, eq=False)
class Line:
    """A line to draw: seconds and values, shape (n,) each."""

    time_s: FloatArray
    values: FloatArray


def same_picture(time_s: FloatArray, values: FloatArray, columns: int) -> Line:
    """Return the first, lowest, highest and last sample of each of `columns` equal parts: a line that looks the same.

    Source: Jugel et al., "M4: a visualization-oriented time series data aggregation", PVLDB 7(10), 2014. NaN samples
    stay where a part holds nothing else, so that a gap stays a gap. Short lines come back as they are.
    """
    if values.size <= 4 * columns:
        return Line(time_s=time_s, values=values)
    edges = np.linspace(time_s[0], time_s[-1], columns + 1)[1:-1]
    parts = np.split(np.arange(values.size), np.searchsorted(time_s, edges))
    kept = np.unique(np.concatenate([_corners(part, values[part]) for part in parts if part.size]))
    return Line(time_s=time_s[kept], values=values[kept])


def _corners(part: IntArray, values: FloatArray) -> IntArray:
    good = np.flatnonzero(np.isfinite(values))
    if not good.size:
        return part[:1]
    finite = values[good]
    return part[[good[0], good[int(finite.argmin())], good[int(finite.argmax())], good[-1]]]
