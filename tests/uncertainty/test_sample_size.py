"""How large a difference is told: against another library, and the limits of many degrees of freedom."""

from __future__ import annotations

import math

import pytest
from statsmodels.stats.power import TTestIndPower

from builder.uncertainty import difference_told, power_to_tell

SPREAD = 0.4  # K from mount to mount


@pytest.mark.parametrize("mounts", [2, 3, 4, 5, 8, 20])
def test_it_agrees_with_the_power_of_students_test_of_two_groups(mounts: int) -> None:
    """Independent oracle: statsmodels TTestIndPower (noncentral t), two-sided at 5 % with 80 % power."""
    expected = SPREAD * float(TTestIndPower().solve_power(nobs1=mounts, alpha=0.05, power=0.8, ratio=1))
    found = difference_told(SPREAD * math.sqrt(2 / mounts), 2 * mounts - 2)
    assert found == pytest.approx(expected, rel=2e-4)


@pytest.mark.parametrize("difference", [0.1, 0.5, 1.0, 2.0])
def test_the_power_is_that_of_another_library(difference: float) -> None:
    """Independent oracle: statsmodels TTestIndPower.power."""
    expected = TTestIndPower().power(effect_size=difference / SPREAD, nobs1=3, alpha=0.05, ratio=1)
    assert power_to_tell(difference, SPREAD * math.sqrt(2 / 3), 4) == pytest.approx(float(expected), rel=1e-6)


def test_no_difference_is_found_as_often_as_the_level_says() -> None:
    assert power_to_tell(0.0, 1.0, 6) == pytest.approx(0.05)
    assert power_to_tell(0.0, 1.0, math.inf) == pytest.approx(0.05)


def test_without_end_of_degrees_of_freedom_it_is_the_normal_law() -> None:
    """1.959964 + 0.841621, the quantiles of the normal law at 97.5 and 80 % (value from memory)."""
    assert difference_told(1.0, math.inf) == pytest.approx(2.801585, rel=2e-4)
    assert difference_told(1.0, 1e6) == pytest.approx(2.801585, rel=1e-3)


@pytest.mark.parametrize(("u", "dof"), [(0.0, 5), (-1.0, 5), (math.nan, 5), (1.0, 0.5)])
def test_nothing_is_told_of_nothing(u: float, dof: float) -> None:
    with pytest.raises(ValueError, match="no difference is told"):
        difference_told(u, dof)
