"""Coarse readings: what a whole-degree reading says of the temperature under it, given a description of the run."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from builder.quantity import FloatArray

SEEN_LEAST = 0.02  # a cell that says almost nothing keeps this weight, so that it cannot run away
_ROOT_TAU = math.sqrt(2 * math.pi)


@dataclass(frozen=True, kw_only=True, eq=False)
class Readings:
    """Samples of a coarse reading: values, step in the same unit, and the bin and cell of each, shape (n,)."""

    values: FloatArray
    step: float
    bin_of: NDArray[np.intp]
    cell_of: NDArray[np.intp]
    cells: int


@dataclass(frozen=True, kw_only=True, eq=False)
class Seen:
    """What the readings say, by cell: a working response, its weight from 0 to 1, and the spread under the rounding."""

    response: FloatArray
    weight: FloatArray
    worth: FloatArray
    sd: float


def see_through(readings: Readings, expected: FloatArray, expected_cells: FloatArray, sd: float) -> Seen:
    """Return the working response of rounded readings about an expected course, by bin and by cell.

    A reading says that the temperature lay within half a step of it. With normal scatter `sd` about the expected
    course, its log-likelihood has the score (x̂ - m)/σ² and the information w/σ², where x̂ and 1 - w are mean and
    variance ratio of the truncated normal; m + (x̂ - m)/w is then a Newton step. Source: interval-censored normal
    likelihood; Johnson, Kotz and Balakrishnan, Continuous Univariate Distributions 1, section 10.1 (from memory).
    """
    middle = expected[readings.bin_of]
    for _ in range(2):
        shift, share = _truncated(readings.values - middle, readings.step, sd)
        sd = float(np.clip(sd * math.sqrt(float(np.mean(share + shift**2))), 0.03 * readings.step, readings.step))
    count = np.bincount(readings.cell_of, minlength=readings.cells)
    seen = np.bincount(readings.cell_of, 1 - share, readings.cells)
    moved = np.bincount(readings.cell_of, shift * sd, readings.cells)
    floor = np.maximum(seen, SEEN_LEAST * np.maximum(count, 1))
    correction = np.clip(moved / floor, -readings.step, readings.step)
    return Seen(
        response=expected_cells + correction,
        weight=floor / np.maximum(count, 1),
        worth=np.minimum(seen, 1.0),
        sd=sd,
    )


def _truncated(offset: FloatArray, step: float, sd: float) -> tuple[FloatArray, FloatArray]:
    """Return mean and variance of a standard normal kept within half a step about `offset`, both in units of sd."""
    from scipy import special

    low, high = (offset - step / 2) / sd, (offset + step / 2) / sd
    mass = special.ndtr(high) - special.ndtr(low)
    far = mass < 1e-9  # noqa: PLR2004 - there the normal is a wall at the nearer edge
    safe = np.where(far, 1.0, mass)
    at_low, at_high = np.exp(-(low**2) / 2) / _ROOT_TAU, np.exp(-(high**2) / 2) / _ROOT_TAU
    mean = np.where(far, np.where(low > 0, low, high), (at_low - at_high) / safe)
    edge = np.where(far, 0.0, low * at_low - high * at_high)
    variance = np.where(far, 0.0, np.clip(1 + edge / safe - mean**2, 0.0, 1.0))
    return mean, variance
