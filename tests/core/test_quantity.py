"""Rounding, formatting and units against published rules, and properties that always hold."""

from __future__ import annotations

import math
from decimal import Decimal

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from builder.core.quantity import (
    MINUS,
    NO_BREAK,
    Estimate,
    convert,
    coverage_factor,
    estimate_parts,
    format_estimate,
    format_number,
    format_spread,
    is_unit,
    round_to_uncertainty,
)

VALUES = st.floats(min_value=-1e6, max_value=1e6, allow_nan=False)
SPREADS = st.floats(min_value=1e-6, max_value=1e5, allow_nan=False)


# JCGM 100:2008, 7.2.6: 10.47 is rounded up to 11, 28.05 down to 28; 10.057 62 with 0.027 is given as 10.058.
@pytest.mark.parametrize(
    ("value", "u", "shown"),
    [(0.0, 10.47, ("0", "11")), (0.0, 28.05, ("0", "28")), (10.05762, 0.027, ("10.058", "0.027"))],
)
def test_rounding_follows_the_guide(value: float, u: float, shown: tuple[str, str]) -> None:
    rounded = round_to_uncertainty(value, u)
    assert (rounded.value, rounded.u) == shown


# Particle Data Group, Review of Particle Physics, introduction, section 5.3: 0.827 ± 0.119 is 0.83 ± 0.12,
# 0.827 ± 0.367 is 0.8 ± 0.4.
@pytest.mark.parametrize(("u", "shown"), [(0.119, ("0.83", "0.12")), (0.367, ("0.8", "0.4"))])
def test_the_number_of_digits_follows_the_particle_data_group(u: float, shown: tuple[str, str]) -> None:
    rounded = round_to_uncertainty(0.827, u)
    assert (rounded.value, rounded.u) == shown


def test_a_binary_fraction_is_never_rounded_below_its_decimal_text() -> None:
    # 0.0355 is stored as 0.03549999…: it may become 0.036 or 0.04, never 0.035.
    assert round_to_uncertainty(1.0, 0.0355).u in {"0.036", "0.04"}


# JCGM 100:2008, table G.2, 95 %.
@pytest.mark.parametrize(
    ("dof", "t"), [(1, 12.71), (2, 4.30), (5, 2.57), (10, 2.23), (30, 2.04), (100, 1.984), (math.inf, 1.960)]
)
def test_coverage_factors_are_those_of_the_table(dof: float, t: float) -> None:
    assert coverage_factor(dof) == pytest.approx(t, abs=0.005)


def test_a_large_uncertainty_keeps_whole_tens() -> None:
    rounded = round_to_uncertainty(1234.5, 96.0)
    assert (rounded.value, rounded.u) == ("1230", "100")


def test_an_estimate_reads_as_people_write_it() -> None:
    text = format_estimate(Estimate(value=-0.4, u=0.1, unit="K"), sign=True)
    assert text == f"{MINUS}0.40{NO_BREAK}±{NO_BREAK}0.20{NO_BREAK}K"


def test_an_exact_number_has_no_plus_minus() -> None:
    assert format_estimate(Estimate(value=2.0, u=0.0, unit="")) == "2"


@pytest.mark.parametrize("bad", [math.nan, math.inf, -math.inf])
def test_what_is_not_a_number_is_no_estimate(bad: float) -> None:
    with pytest.raises(ValueError, match="not an estimate"):
        Estimate(value=bad, u=1.0, unit="K")
    with pytest.raises(ValueError, match="not an estimate"):
        Estimate(value=1.0, u=abs(bad), unit="K")


def test_a_negative_uncertainty_is_refused() -> None:
    with pytest.raises(ValueError, match="not an estimate"):
        Estimate(value=1.0, u=-0.1, unit="K")


@given(VALUES, SPREADS)
def test_formatting_commutes_with_sign(value: float, u: float) -> None:
    plus, minus = round_to_uncertainty(value, u), round_to_uncertainty(-value, u)
    assert plus.u == minus.u
    assert plus.value.lstrip(MINUS) == minus.value.lstrip(MINUS)


@given(VALUES, SPREADS)
def test_no_uncertainty_vanishes_or_is_understated(value: float, u: float) -> None:
    shown = Decimal(round_to_uncertainty(value, u).u)
    assert shown > 0
    assert float(shown) >= 0.975 * u
    assert float(shown) <= 2.0 * u


@given(VALUES, SPREADS)
def test_the_shown_value_is_within_half_a_unit_of_its_last_place(value: float, u: float) -> None:
    rounded = round_to_uncertainty(value, u)
    shown = float(rounded.value.replace(MINUS, "-"))
    assert abs(shown - value) <= 0.51 * float(rounded.u)


@given(st.floats(allow_nan=False, allow_infinity=False), st.integers(min_value=0, max_value=6))
def test_any_finite_number_can_be_written(value: float, decimals: int) -> None:
    assert "e" not in format_number(value, decimals)


@given(st.just(0.0) | st.floats(min_value=1e-9, max_value=1e9, allow_nan=False))
def test_a_spread_on_its_own_is_rounded_as_next_to_its_value(u: float) -> None:
    assert format_spread(u) == (estimate_parts(Estimate(value=0.0, u=u, unit="K"), level=None).u or "0")


# NIST SP 811, appendix B: a difference of 10 °F is 50/9 K, a US gallon 3.785 411 784 L.
@pytest.mark.parametrize(
    ("value", "unit", "to", "expected"),
    [
        (10.0, "delta_degF", "K", 50 / 9),
        (1.0, "gallon/min", "L/min", 3.785411784),
        (212.0, "degF", "degC", 100.0),
        (1.5, "GHz", "MHz", 1500.0),
        (850.0, "mV", "V", 0.85),
        (16_667.0, "us", "ms", 16.667),
    ],
)
def test_units_are_converted_by_definition(value: float, unit: str, to: str, expected: float) -> None:
    assert convert(np.array([value]), unit, to)[0] == pytest.approx(expected, rel=1e-12)


def test_a_unit_of_another_kind_is_refused() -> None:
    with pytest.raises(ValueError, match="cannot convert W to degC"):
        convert(np.array([1.0]), "W", "degC")
    assert not is_unit("furlongs per whim")
