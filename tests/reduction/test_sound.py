"""Sound pressure levels against ISO 3744 and acoustics by hand."""

from __future__ import annotations

import numpy as np
import pytest

from builder.archive.bench import SoundSetup
from builder.core.results import Bound
from builder.reduction.derived import (
    background_correction,
    corrected_level,
    distance_correction,
    energy_mean,
)


# ISO 3744:2010, 8.2.3, K1 = -10 lg(1 - 10^(-0.1 ΔL)).
@pytest.mark.parametrize(("margin", "k1"), [(6.0, 1.2563), (10.0, 0.4576), (15.0, 0.1396)])
def test_background_correction_is_that_of_iso_3744(margin: float, k1: float) -> None:
    assert background_correction(margin) == pytest.approx(k1, abs=5e-5)


def test_above_fifteen_decibels_nothing_is_corrected() -> None:
    assert background_correction(15.1) == 0.0


def test_energy_mean_of_levels_is_that_of_their_sum() -> None:
    levels = np.array([40.0, 50.0, 45.0])
    assert energy_mean(levels) == pytest.approx(10 * np.log10(np.sum(10 ** (levels / 10))) - 10 * np.log10(3))


def test_doubling_the_distance_lowers_a_free_source_by_six_decibels() -> None:
    assert distance_correction(1.0, 2.0) == pytest.approx(-6.0206, abs=5e-5)


def test_within_six_decibels_of_the_background_the_level_is_an_upper_bound() -> None:
    near = corrected_level(34.0, SoundSetup(background_dba=30.0))
    assert near.bound is Bound.UPPER
    assert "upper bound" in near.definition
    assert near.level == pytest.approx(34.0 - 1.2563, abs=5e-5)
    assert corrected_level(40.0, SoundSetup(background_dba=30.0)).bound is Bound.NONE
