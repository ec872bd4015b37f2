"""Sound pressure levels against ISO 3744 and acoustics by hand."""

from __future__ import annotations

import math

import numpy as np
import pytest
from GTC import log10, ureal
from GTC import uncertainty as gtc_u

from builder.archive.bench import SoundSetup
from builder.core.results import Bound, Role
from builder.reduction.derived import (
    background_correction,
    corrected_level,
    correction_lines,
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


@pytest.mark.parametrize("margin", [6.0, 8.0, 12.0])
def test_the_backgrounds_uncertainty_reaches_k1_as_gtc_propagates_it(margin: float) -> None:
    # ISO 3744:2010, annex H: sensitivity 1 / (10^(0.1 ΔL) - 1) (value from memory); GTC 1.5 differentiates K1 itself.
    background = ureal(30.0, 1 / math.sqrt(3))
    k1 = -10 * log10(1 - 10 ** (-0.1 * (30.0 + margin - background)))
    (line,) = correction_lines(30.0 + margin, SoundSetup(background_dba=30.0))
    assert line.contribution == pytest.approx(gtc_u(k1), rel=1e-9)
    assert line.role is Role.STEP


def test_six_decibels_over_the_background_add_two_tenths_and_fifteen_next_to_nothing() -> None:
    # Hand: 0.5774 / (10^0.6 - 1) = 0.1937 and 0.5774 / (10^1.5 - 1) = 0.0189 dB.
    setup = SoundSetup(background_dba=30.0)
    found = [next(correction_lines(30.0 + margin, setup)).contribution for margin in (6.0, 15.0)]
    assert found == pytest.approx([0.1937, 0.0189], abs=5e-5)


def test_a_level_reported_at_another_distance_carries_a_tenth_of_its_correction() -> None:
    # Hand: 6.02 dB from 0.5 m to 1 m; a tenth over root 3 is 0.348 dB.
    lines = list(correction_lines(45.0, SoundSetup(background_dba=30.0, distance_m=0.5)))
    assert lines[1].contribution == pytest.approx(0.3476, abs=5e-5)
    assert lines[1].role is Role.OFFSET
