"""Propagation of uncertainty against the GUM's printed examples and an independent library."""

from __future__ import annotations

import math

import numpy as np
import pytest
from GTC import dof, type_b, ureal
from GTC import uncertainty as gtc_u
from hypothesis import given
from hypothesis import strategies as st
from statsmodels.stats.multitest import multipletests

from builder.core.quantity import coverage_factor
from builder.core.results import Component, Quantity, Role
from builder.uncertainty import (
    Instrument,
    combined,
    effective_dof,
    estimate_from_budget,
    holm,
    instrument_lines,
    rectangular,
)


def _line(name: str, u: float, sensitivity: float, degrees: float = math.inf) -> Component:
    return Component(name=name, kind="B", u=u, unit="", dof=degrees, sensitivity=sensitivity)


def test_a_rectangular_half_width_is_divided_by_root_three() -> None:
    # JCGM 100:2008, 4.3.7: a / sqrt(3); 4.3.7 example: a = 0.40e-6 /degC gives 0.23e-6 /degC.
    assert rectangular(0.40e-6) == pytest.approx(0.23e-6, abs=0.005e-6)
    assert rectangular(3.0) == pytest.approx(type_b.uniform(3.0), rel=1e-12)


@pytest.mark.parametrize("half_width", [-1.0, math.nan, math.inf], ids=["negative", "nan", "infinite"])
def test_a_half_width_that_is_no_width_is_refused(half_width: float) -> None:
    with pytest.raises(ValueError, match="half-width"):
        rectangular(half_width)


# JCGM 100:2008, H.1 (end gauge), table H.1: the inputs' standard uncertainties and degrees of freedom, in nm.
END_GAUGE = (
    _line("standard", 25.0, 1.0, 18),
    _line("repeats of the difference", 5.8, 1.0, 24),
    _line("comparator, random", 3.9, 1.0, 5),
    _line("comparator, systematic", 6.7, 1.0, 8),
    _line("difference in expansion", 1e-6 / math.sqrt(3), 5.0e6, 50),
    _line("difference in temperature", 0.05 / math.sqrt(3), 11.5e-6 * 5.0e7, 2),
)


def test_the_end_gauge_has_the_printed_uncertainty_and_degrees_of_freedom() -> None:
    # JCGM 100:2008, H.1.5 and H.1.6: u_c = 32 nm, 16 degrees of freedom, t99(16) = 2.92. H.1.6 gives the comparison
    # as one line, u = 9.7 nm with 25.6 degrees of freedom; unrounded 31.6639 nm and 16.752.
    estimate = estimate_from_budget(838.0, "", END_GAUGE)
    assert estimate.u == pytest.approx(31.6639, abs=2e-4)
    assert estimate.dof == pytest.approx(16.752, abs=2e-2)
    assert coverage_factor(16, 0.99) == pytest.approx(2.9208, abs=5e-5)


def test_the_gums_own_example_of_effective_degrees_of_freedom_is_met() -> None:
    # JCGM 100:2008, G.4.1, example: relative uncertainties 0.25, 0.57 and 0.82 % with 10, 5 and 15 readings.
    parts, degrees = [0.25, 0.57, 0.82], [9.0, 4.0, 14.0]
    assert combined(0.0, "percent", parts, degrees).u == pytest.approx(1.02947, abs=5e-6)
    assert effective_dof(parts, degrees) == pytest.approx(18.99874, abs=5e-6)


def test_gtc_gives_the_same_uncertainty_and_degrees_of_freedom() -> None:
    # GTC 1.5 (Measurement Standards Laboratory of New Zealand), an independent implementation of the GUM.
    other = sum(c.sensitivity * ureal(0, c.u, c.dof) for c in END_GAUGE)
    estimate = estimate_from_budget(0.0, "", END_GAUGE)
    assert estimate.u == pytest.approx(gtc_u(other), rel=1e-12)
    assert estimate.dof == pytest.approx(dof(other), rel=1e-9)


# JCGM 100:2008, table G.2, column 95 % and 99 %.
@pytest.mark.parametrize(
    ("degrees", "t95", "t99"),
    [(1, 12.71, 63.66), (2, 4.30, 9.92), (5, 2.57, 4.03), (10, 2.23, 3.17), (50, 2.01, 2.68), (math.inf, 1.960, 2.576)],
    ids=lambda v: f"{v:g}",
)
def test_t_factors_are_those_of_table_g2(degrees: float, t95: float, t99: float) -> None:
    assert coverage_factor(degrees, 0.95) == pytest.approx(t95, abs=0.0051)
    assert coverage_factor(degrees, 0.99) == pytest.approx(t99, abs=0.0051)


_PARTS = st.lists(st.tuples(st.floats(1e-6, 1e6), st.floats(1, 200)), min_size=1, max_size=6)


@given(_PARTS)
def test_effective_degrees_of_freedom_lie_between_the_smallest_and_the_sum(parts: list[tuple[float, float]]) -> None:
    # A property of equation (G.2b): the JCGM states the upper bound in G.4.1.
    degrees = effective_dof([u for u, _ in parts], [d for _, d in parts])
    assert min(d for _, d in parts) * (1 - 1e-9) <= degrees <= sum(d for _, d in parts) * (1 + 1e-9)


@given(_PARTS, st.floats(1e-3, 1e3))
def test_a_change_of_unit_scales_the_uncertainty_and_keeps_the_degrees(
    parts: list[tuple[float, float]], factor: float
) -> None:
    us, degrees = [u for u, _ in parts], [d for _, d in parts]
    scaled = [factor * u for u in us]
    one, other = (combined(0.0, "K", u, degrees).u for u in (us, scaled))
    assert other == pytest.approx(factor * one, rel=1e-9)
    assert effective_dof(scaled, degrees) == pytest.approx(effective_dof(us, degrees), rel=1e-9)


def test_a_budget_of_exact_inputs_leaves_an_exact_result() -> None:
    estimate = estimate_from_budget(5.0, "K", [_line("setting", 0.0, 1.0, 4)])
    assert (estimate.u, estimate.dof) == (0.0, math.inf)


def test_holm_multiplies_the_smallest_by_the_number_of_tests() -> None:
    # Holm 1979: (.01, .04, .03) -> (.03, .06, .06).
    assert holm([0.01, 0.04, 0.03]) == pytest.approx((0.03, 0.06, 0.06))


def test_holm_of_nothing_is_nothing() -> None:
    assert holm([]) == ()


@pytest.mark.parametrize("seed", range(8))
def test_statsmodels_adjusts_the_same(seed: int) -> None:
    p_values = np.random.default_rng(seed).uniform(0, 0.2, 9).round(2).tolist()  # rounding makes ties
    assert holm(p_values) == pytest.approx(tuple(multipletests(p_values, method="holm")[1]), abs=1e-12)


def test_a_statement_in_units_is_an_offset_and_one_in_percent_a_gain() -> None:
    # JCGM 100:2008, 4.3.7: each half-width over root three.
    stated = Instrument(offset=0.5, gain=3.0, sensor=Quantity.BOARD_POWER)
    lines = instrument_lines("power meter accuracy", stated, "W", -2.0)
    assert [line.role for line in lines] == [Role.OFFSET, Role.GAIN]
    assert [line.u for line in lines] == pytest.approx([0.5 / math.sqrt(3), 3.0 / math.sqrt(3)])
    assert [line.name for line in lines] == ["power meter accuracy", "power meter accuracy, in percent"]
    assert {(line.sensor, line.sensitivity, line.of_instrument) for line in lines} == {
        (Quantity.BOARD_POWER, -2.0, True)
    }


def test_an_instrument_that_states_nothing_has_no_line() -> None:
    assert instrument_lines("sensor accuracy", Instrument(offset=0.0, gain=0.0, sensor=None), "K") == ()
