"""Mounting spread, pooled over coolers of one kind."""

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy import stats

from builder.archive.catalogue import CoolerKind
from builder.comparison import Mounted, bartlett_p, mount_spreads

GROUPS = [
    [24.5, 23.5, 26.4, 27.1, 29.9],
    [28.4, 34.2, 29.5, 32.2, 30.1],
    [26.1, 28.3, 24.3, 26.2, 27.8],
]


def mounted(name: str, *values: float, own: float = 0.0, declared: float | None = None, **more: object) -> Mounted:
    fields: dict[str, object] = {"cooler_kind": CoolerKind.AIR, "own_dof": math.inf, **more}
    return Mounted(bundle=name, values=values, own_variance=own**2, declared=declared, **fields)  # type: ignore[arg-type]


def test_pooled_variance_is_that_within_groups_of_an_analysis_of_variance() -> None:
    """Against the mean square within groups from scipy.stats.f_oneway on the groups of scipy's tukey_hsd example."""
    terms = mount_spreads([mounted(str(i), *g) for i, g in enumerate(GROUPS)]).terms
    within = float(np.mean([np.var(g, ddof=1) for g in GROUPS]))  # equal sizes
    between = 5 * float(np.var([np.mean(g) for g in GROUPS], ddof=1))
    assert between / within == pytest.approx(float(stats.f_oneway(*GROUPS).statistic))
    for term in terms.values():
        assert term is not None
        assert term.variance == pytest.approx(within)
        assert term.dof == 12


def test_kinds_of_cooler_are_not_pooled_with_each_other() -> None:
    block = mounted("block", 20.0, 20.2, cooler_kind=CoolerKind.WATER_BLOCK)
    terms = mount_spreads([mounted("air", 30.0, 32.0), block]).terms
    assert {name: term.pool for name, term in terms.items() if term} == {"air": "kind air", "block": "kind water block"}


def test_one_mount_and_nothing_declared_leaves_the_spread_unknown() -> None:
    spreads = mount_spreads([mounted("a", 30.0), mounted("b", 31.0)])
    assert spreads.terms == {"a": None, "b": None}
    assert spreads.notes == ("Kind air: mounting spread unknown: differences are not judged.",)


def test_remounts_of_one_cooler_speak_for_others_of_its_kind() -> None:
    terms = mount_spreads([mounted("a", 30.0), mounted("b", 31.0, 32.0)]).terms
    assert terms["a"] == terms["b"]
    assert terms["a"] is not None


def test_mounts_that_agree_by_luck_keep_the_runs_own_uncertainty() -> None:
    term = mount_spreads([mounted("a", 30.0, 30.0, own=0.2)]).terms["a"]
    assert term is not None
    assert term.variance == pytest.approx(0.04)
    assert term.pool == "run a"


def test_declared_spread_counts_as_ten_degrees_of_freedom() -> None:
    """Weighted mean of variances: (10 · 0.5² + 2 · 1) / 12; the weight is our own choice, no source."""
    term = mount_spreads([mounted("a", 30.0, 31.0, 32.0, declared=0.5)]).terms["a"]
    assert term is not None
    assert term.variance == pytest.approx((10 * 0.25 + 2) / 12)
    assert term.dof == 12


def test_coolers_that_spread_differently_keep_their_own() -> None:
    calm = mounted("calm", 30.0, 30.1, 30.0, 30.1, 30.0)
    wild = mounted("wild", 30.0, 35.0, 31.0, 36.0, 29.0)
    spreads = mount_spreads([calm, wild])
    pools = {name: term.pool for name, term in spreads.terms.items() if term}
    assert pools == {"calm": "own calm", "wild": "own wild"}
    assert spreads.notes == ("Kind air: mounting spreads differ between coolers, so each cooler's own is used.",)


@given(st.lists(st.lists(st.floats(-50, 50), min_size=2, max_size=6), min_size=2, max_size=5))
def test_bartletts_test_agrees_with_scipy(groups: list[list[float]]) -> None:
    """Independent oracle: scipy.stats.bartlett; where rounding takes its statistic below zero, it knows no p value."""
    variances = [float(np.var(g, ddof=1)) for g in groups]
    if min(variances) < 1e-6:
        return
    found = float(stats.bartlett(*groups).pvalue)
    expected = 1.0 if math.isnan(found) else found
    assert bartlett_p(variances, [len(g) - 1.0 for g in groups]) == pytest.approx(expected, rel=1e-6, abs=1e-12)


@given(st.permutations(range(4)))
def test_order_of_bundles_does_not_matter(order: list[int]) -> None:
    bundles = [mounted(str(i), 30.0 + i, 30.7 + i * 1.3, own=0.1, declared=0.4) for i in range(4)]
    assert mount_spreads([bundles[i] for i in order]).terms == mount_spreads(bundles).terms
