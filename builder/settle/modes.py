"""What is believed of a run before its data are seen: pairs of time constants, and how large their parts may be.

A run is described by two exponentials, each with its own response to board power and ambient. Every pair of time
constants on a grid is tried; the data weigh them. Between grid points a first derivative carries the curve.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import cache, lru_cache

import numpy as np
from numpy.typing import NDArray

from builder.quantity import FloatArray

SHORTEST_S, LONGEST_S, RATIO = 12.0, 1600.0, 1.15
APART = 1.6  # two time constants closer than this look like one
SLOW_FROM = 1.6  # of the usual time constant: a part slower than this is a surprise ...
SLOW_PART = 0.06  # ... and so is small, as a share of the rise
SURPRISE = -2.0  # log of the odds of a pair with such a part: about one in eight
ANY_PART = 1.0
POWER_PART, POWER_SPREAD = 0.3, 0.3  # share of the rise that follows power with one of the time constants
AMBIENT_PART, AMBIENT_SPREAD = 0.5, 0.4


@dataclass(frozen=True, kw_only=True, eq=False)
class ModeGrid:
    """Time constants in seconds, shape (k,), and every pair of them that is far enough apart, shape (pairs,)."""

    taus: FloatArray
    fast: NDArray[np.intp]
    slow: NDArray[np.intp]

    @property
    def columns(self) -> NDArray[np.intp]:
        """Return which columns of a design's mode part belong to each pair, shape (pairs, 8).

        A design holds, for all k time constants in turn: exponentials, their derivatives, power, ambient.
        """
        k = self.taus.size
        parts = [b * k + m for b in (0, 1) for m in (self.fast, self.slow)]
        parts += [b * k + m for b in (2, 3) for m in (self.fast, self.slow)]
        return np.stack(parts, axis=1)


@dataclass(frozen=True, kw_only=True, eq=False)
class Prior:
    """Mean and standard deviation of each pair's eight coefficients, as shares of the rise, shape (pairs, 8).

    `odds` are the logarithms of the pairs' own odds, shape (pairs,).
    """

    mean: FloatArray
    sd: FloatArray
    odds: FloatArray


@cache
def mode_grid() -> ModeGrid:
    """Return the grid of time constants."""
    count = int(math.log(LONGEST_S / SHORTEST_S) / math.log(RATIO)) + 1
    taus = SHORTEST_S * RATIO ** np.arange(count, dtype=float)
    fast, slow = np.triu_indices(count, 1)
    apart = taus[slow] / taus[fast] > APART
    return ModeGrid(taus=taus, fast=fast[apart], slow=slow[apart])


@lru_cache(maxsize=32)
def prior(usual_tau_s: float) -> Prior:
    """Return what is believed of each pair's coefficients, given the time constant that is no surprise.

    The derivative's spread is that of a time constant anywhere between two grid points, for a part of its usual size.
    """
    grid = mode_grid()
    part = np.where(grid.taus > SLOW_FROM * usual_tau_s, SLOW_PART, ANY_PART)
    between = part * math.log(RATIO) / math.sqrt(12)
    pairs = grid.fast.size
    flat = np.ones(pairs)
    sd = [part[grid.fast], part[grid.slow], between[grid.fast], between[grid.slow]]
    sd += [POWER_SPREAD * flat] * 2 + [AMBIENT_SPREAD * flat] * 2
    mean = [0.0 * flat] * 4 + [POWER_PART * flat] * 2 + [AMBIENT_PART * flat] * 2
    odds = np.where(part[grid.slow] < ANY_PART, SURPRISE, 0.0)
    odds = np.where(part[grid.fast] < ANY_PART, -np.inf, odds)  # every cooler has a part of usual speed
    return Prior(mean=np.stack(mean, axis=1), sd=np.stack(sd, axis=1), odds=odds)
