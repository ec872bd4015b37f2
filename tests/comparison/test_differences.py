"""Differences of two results: what cancels, what stays."""

import math
from dataclasses import replace

import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy import stats

from builder.comparison import Difference, Member, SharedLine, Term, difference, two_sided_p
from builder.comparison.members import pooled
from builder.core.quantity import Estimate

numbers = st.floats(-200, 200)
sizes = st.floats(0.001, 5)
dofs = st.one_of(st.floats(1, 200), st.just(math.inf))


@st.composite
def members(draw: st.DrawFn, bundle: str) -> Member:
    pool = draw(st.sampled_from(["kind air", f"own {bundle}"]))
    bench = draw(st.sampled_from(["one", "two"]))
    line = SharedLine(instrument="core_temperature", bench=bench, offset=draw(sizes), gain=draw(sizes))
    return Member(
        bundle=bundle,
        estimate=Estimate(value=draw(numbers), u=1.0, unit="K"),
        terms=(Term(u=draw(sizes), dof=draw(dofs), pool=pool),),
        shared=(line,),
    )


def member(value: float, u: float, *, dof: float = math.inf, pool: str, shared: tuple[SharedLine, ...] = ()) -> Member:
    return Member(
        bundle=pool,
        estimate=Estimate(value=value, u=u, unit="K"),
        terms=(Term(u=u, dof=dof, pool=pool),),
        shared=shared,
    )


def known(found: Difference | None) -> Difference:
    assert found is not None
    return found


def test_a_sensors_offset_cancels_on_one_bench_and_stays_on_two() -> None:
    offset = (SharedLine(instrument="core_temperature", offset=0.6, gain=0.0),)
    a, b = member(30, 0.3, pool="a", shared=offset), member(28, 0.4, pool="b", shared=offset)
    assert known(difference(a, b)).estimate.u == pytest.approx(0.5)
    elsewhere = replace(b, shared=(replace(offset[0], bench="other"),))
    # JCGM 100:2008, 5.1.2: 0.3² + 0.4² + 2 · 0.6² = 0.97
    assert known(difference(a, elsewhere)).estimate.u == pytest.approx(math.sqrt(0.97))


def test_a_gain_error_stays_in_proportion_to_the_difference() -> None:
    """One per cent (standard) of readings 60 and 50 leaves 0.1 of the difference 10; JCGM 100:2008, 5.2.2, r = 1."""
    a = member(60, 0.0, pool="a", shared=(SharedLine(instrument="core_temperature", offset=0.5, gain=0.6),))
    b = member(50, 0.0, pool="b", shared=(SharedLine(instrument="core_temperature", offset=0.5, gain=0.5),))
    assert known(difference(a, b)).estimate.u == pytest.approx(0.1)


def test_one_pool_keeps_its_degrees_of_freedom() -> None:
    a, b = (replace(member(v, 0.3, dof=6, pool="kind air"), bundle=n) for v, n in ((30, "a"), (28, "b")))
    found = known(difference(a, b))
    assert found.estimate.dof == pytest.approx(6)
    assert found.estimate.u == pytest.approx(0.3 * math.sqrt(2))


def test_two_pools_combine_as_in_welchs_test() -> None:
    """Against scipy.stats.ttest_ind(equal_var=False) from summary statistics of two invented samples."""
    a, b = [24.5, 23.5, 26.4, 27.1, 29.9], [28.4, 34.2, 29.5]
    first, second = (
        member(float(stats.tmean(x)), float(stats.sem(x)), dof=len(x) - 1, pool=n) for x, n in ((a, "a"), (b, "b"))
    )
    expected = stats.ttest_ind(a, b, equal_var=False)
    found = known(difference(first, second))
    assert found.p == pytest.approx(float(expected.pvalue), rel=1e-9)
    assert found.estimate.dof == pytest.approx(float(expected.df), rel=1e-9)


def test_unknown_mounting_spread_gives_no_difference() -> None:
    a = member(30, 0.3, pool="a")
    assert difference(a, replace(a, bundle="b", terms=None)) is None


def test_a_difference_of_temperatures_is_in_kelvins() -> None:
    hot, cold = (
        replace(member(v, 0.3, pool=n), estimate=Estimate(value=v, u=0.3, unit="degC"))
        for v, n in ((60.0, "a"), (50.0, "b"))
    )
    assert known(difference(hot, cold)).estimate.unit == "K"


@pytest.mark.parametrize(("value", "p"), [(0.0, 1.0), (2.0, 0.0)])
def test_exact_values_are_equal_or_not(value: float, p: float) -> None:
    assert two_sided_p(Estimate(value=value, u=0.0, unit="K")) == p


@given(members("a"), members("b"))
def test_swapping_a_pair_changes_the_sign_and_nothing_else(a: Member, b: Member) -> None:
    one, other = known(difference(a, b)), known(difference(b, a))
    assert one.estimate.value == -other.estimate.value
    assert one.estimate.u == other.estimate.u
    assert one.estimate.dof == other.estimate.dof
    assert one.p == other.p


@given(members("a"), members("b"))
def test_no_mounting_term_vanishes_from_a_difference(a: Member, b: Member) -> None:
    own = math.hypot(*(t.u for m in (a, b) for t in m.terms or ()))
    assert known(difference(a, b)).estimate.u >= own * (1 - 1e-12)


def test_tests_of_one_cooler_pool_by_their_mounts_and_keep_the_instruments_part_whole() -> None:
    """Independent oracle: the weighted mean by hand; GTC would give one error times the sum of weights, which is 1."""
    line = (SharedLine(instrument="core_temperature", bench="one", offset=0.6, gain=0.2),)
    one = replace(member(30, 0.4, pool="kind air", shared=line), bundle="one", mounts=1)
    three = replace(member(32, 0.3, pool="kind air", shared=line), bundle="three", mounts=3)
    both = pooled([one, three])
    assert both.bundle == "three"
    assert both.estimate.value == pytest.approx(0.25 * 30 + 0.75 * 32)
    assert [(x.instrument, x.bench) for x in both.shared] == [("core_temperature", "one")]
    assert (both.shared[0].offset, both.shared[0].gain) == pytest.approx((0.6, 0.2))
    own = math.hypot(0.25 * 0.4, 0.75 * 0.3)
    assert both.estimate.u == pytest.approx(math.hypot(own, 0.6, 0.2))


def test_pooled_tests_with_an_unknown_spread_stay_unknown() -> None:
    a = member(30, 0.4, pool="a")
    assert pooled([a, replace(a, bundle="b", terms=None)]).terms is None
