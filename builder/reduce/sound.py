"""Sound pressure levels: energy means, background correction and distance."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from builder.model import SoundSetup
from builder.quantity import FloatArray

MIN_MARGIN_DB = 6.0  # ISO 3744: under this margin over the background the result is an upper bound
NEGLIGIBLE_MARGIN_DB = 15.0  # ISO 3744: above this no correction is made


def energy_mean(levels: FloatArray) -> float:
    """Return the energy-equivalent level of levels in dB, shape (n,).

    >>> round(energy_mean(np.array([60.0, 66.0])), 3)
    63.963
    """
    return float(10.0 * np.log10(np.mean(10.0 ** (levels / 10.0))))


def level_sum(*levels: float) -> float:
    """Return the level of several independent sources together, in dB.

    >>> round(level_sum(60.0, 60.0), 4)
    63.0103
    """
    return 10.0 * math.log10(sum(10.0 ** (level / 10.0) for level in levels))


def background_correction(margin_db: float) -> float:
    """Return K1 in dB, to be subtracted, for a margin in dB of the measured level over the background.

    Source: ISO 3744, K1 = -10 lg(1 - 10^(-0.1 ΔL)); held at its 6 dB value below that margin, zero above 15 dB.

    >>> round(background_correction(10.0), 4)
    0.4576
    """
    if margin_db > NEGLIGIBLE_MARGIN_DB:
        return 0.0
    return -10.0 * math.log10(1.0 - 10.0 ** (-0.1 * max(margin_db, MIN_MARGIN_DB)))


def distance_correction(measured_m: float, reported_m: float) -> float:
    """Return the dB to add to a level measured at one distance to report it at another, for a small free source.

    >>> round(distance_correction(0.5, 1.0), 3)
    -6.021
    """
    return 20.0 * math.log10(measured_m / reported_m)


@dataclass(frozen=True, kw_only=True)
class SoundLevel:
    """A corrected level in dB(A); `upper_bound` where the background was too near to correct for."""

    level: float
    correction: float
    upper_bound: bool
    definition: str


def corrected_level(measured: float, setup: SoundSetup) -> SoundLevel:
    """Return the level of the card alone at the reported distance, in dB(A)."""
    margin = measured - setup.background_dba
    k1 = background_correction(margin)
    at = distance_correction(setup.distance_m, setup.report_at_m)
    bound = margin < MIN_MARGIN_DB
    definition = f"energy mean, corrected for background, at {setup.report_at_m:g} m"
    return SoundLevel(
        level=measured - k1 + at,
        correction=k1,
        upper_bound=bound,
        definition=f"{definition}; an upper bound, the background is within 6 dB" if bound else definition,
    )
