"""Variance within and between groups against the GUM, NIST's certified values and independent libraries."""

from __future__ import annotations

import math
from importlib import resources

import numpy as np
import pytest
from scipy import stats
from statsmodels.stats.multitest import multipletests

from builder.core.quantity import FloatArray
from builder.uncertainty import holm, one_way

# JCGM 100:2008, H.5, table H.9: daily means above 10 V and standard deviations of five readings, in microvolts.
DAILY_MEAN = (172, 116, 13, 144, 106, 31, 60, 125, 163, 41)
DAILY_SD = (60, 77, 111, 101, 67, 93, 80, 73, 88, 86)


def _day(mean: float, sd: float) -> FloatArray:
    """Return five readings with exactly this mean and standard deviation."""
    shape = np.array([-2.0, -1.0, 0.0, 1.0, 2.0])
    return np.asarray(mean + sd * shape / shape.std(ddof=1), dtype=float)


def test_the_zener_reference_has_the_printed_spread_between_days() -> None:
    days = [_day(m, s) for m, s in zip(DAILY_MEAN, DAILY_SD, strict=True)]
    result = one_way(days, "V")
    assert result.between_sd == pytest.approx(42.6386, abs=5e-4)
    assert result.mean.value == pytest.approx(97.1, abs=0.05)
    assert result.mean.u == pytest.approx(18.0533, abs=5e-4)
    assert result.mean.dof == 9
    assert not result.clipped


# NIST StRD, one-way analysis of variance, as the sets lie in scipy's own test data. The last number is the relative
# error allowed: the sets with 13 constant digits hold 0.1 only to about four digits in binary.
@pytest.mark.parametrize(
    ("name", "tolerance"),
    [("SiRstv", 1e-9), ("AtmWtAg", 1e-6), ("SmLs01", 1e-9), ("SmLs04", 1e-7), ("SmLs06", 1e-7), ("SmLs09", 2e-2)],
    ids=str,
)
def test_nist_sets_have_their_certified_f(name: str, tolerance: float) -> None:
    path = resources.files("scipy.stats.tests") / "data" / "nist_anova" / f"{name}.dat"
    lines = path.read_text().splitlines()
    certified = [row.split() for row in lines[40:47] if row.startswith(("Between", "Within"))]
    rows = np.array([[float(v) for v in row.split()] for row in lines[60:]])
    groups = [rows[rows[:, 0] == g, 1] for g in np.unique(rows[:, 0])]
    result = one_way(groups, "")
    assert result.f == pytest.approx(float(certified[0][-1]), rel=tolerance)
    assert result.within_sd**2 == pytest.approx(float(certified[1][-1]), rel=tolerance)


def test_scipy_gives_the_same_f_and_p_for_groups_of_unlike_size() -> None:
    groups = [
        np.array([24.5, 23.5, 26.4, 27.1, 29.9]),
        np.array([28.4, 34.2, 29.5]),
        np.array([26.1, 28.3, 24.3, 26.2]),
    ]
    mine, other = one_way(groups, "K"), stats.f_oneway(*groups)
    assert mine.f == pytest.approx(other.statistic, rel=1e-12)
    assert mine.p == pytest.approx(other.pvalue, rel=1e-9)


def test_a_negative_estimate_between_groups_becomes_zero_and_is_marked() -> None:
    # Groups whose means agree better than their scatter allows; the mean keeps the scatter's uncertainty.
    groups = [np.array([9.0, 11.0]), np.array([8.0, 12.0]), np.array([10.0, 10.2])]
    result = one_way(groups, "K")
    assert result.between_sd == 0.0
    assert result.clipped
    assert result.mean.u == pytest.approx(result.within_sd / math.sqrt(6))


def test_identical_groups_have_no_spread_and_no_effect() -> None:
    result = one_way([np.full(3, 7.0), np.full(3, 7.0)], "K")
    assert (result.f, result.p, result.mean.u) == (0.0, 1.0, 0.0)


def test_groups_that_differ_without_scatter_differ_certainly() -> None:
    result = one_way([np.full(3, 7.0), np.full(3, 8.0)], "K")
    assert (result.f, result.p) == (math.inf, 0.0)
    assert result.between_sd == pytest.approx(math.sqrt(0.5))


@pytest.mark.parametrize(
    "groups", [[[1.0, 2.0]], [[1.0], [2.0]], [[1.0, 2.0], []]], ids=["one group", "single values", "an empty group"]
)
def test_too_few_groups_are_refused(groups: list[list[float]]) -> None:
    with pytest.raises(ValueError, match="two groups"):
        one_way([np.array(g) for g in groups], "K")


def test_the_estimate_between_groups_is_right_on_average() -> None:
    # Monte Carlo with a fixed seed: between 0.5, within 1.0, five groups of four.
    rng, found = np.random.default_rng(2), []
    for _ in range(2000):
        result = one_way([rng.normal(rng.normal(0, 0.5), 1.0, 4) for _ in range(5)], "K")
        found.append((result.f - 1) * result.within_sd**2 / 4)
    assert float(np.mean(found)) == pytest.approx(0.25, abs=0.03)


def test_holm_multiplies_the_smallest_by_the_number_of_tests() -> None:
    # Holm 1979: (.01, .04, .03) -> (.03, .06, .06).
    assert holm([0.01, 0.04, 0.03]) == pytest.approx((0.03, 0.06, 0.06))


def test_holm_of_nothing_is_nothing() -> None:
    assert holm([]) == ()


@pytest.mark.parametrize("seed", range(8))
def test_statsmodels_adjusts_the_same(seed: int) -> None:
    p_values = np.random.default_rng(seed).uniform(0, 0.2, 9).round(2).tolist()  # rounding makes ties
    assert holm(p_values) == pytest.approx(tuple(multipletests(p_values, method="holm")[1]), abs=1e-12)
