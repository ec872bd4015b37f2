"""Numbers rounded as one speaks them."""

from __future__ import annotations

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from builder.core.words import listed
from builder.narration import difference_decimals, spoken, spoken_decimals


def percent(now: float, before: float) -> float:
    return 100 * (now / before - 1)


# Common practice, no source: what a narrator says of these pairs.
def test_317_watts_lowered_to_246_is_71_watts_less_and_22_percent() -> None:
    assert difference_decimals(246, 317, "W") == 0
    assert spoken(317 - 246, "W") == "71 watts"
    assert spoken(-percent(246, 317), "percent") == "22 percent"


def test_71_to_69_frames_per_second_is_2_less_and_3_percent() -> None:
    assert difference_decimals(69, 71, "1/s") == 0
    assert spoken(71 - 69, "1/s") == "2 frames per second"
    assert spoken(-percent(69, 71), "percent") == "3 percent"


def test_28_to_63_degrees_is_a_rise_of_35() -> None:
    assert spoken(63 - 28, "K") == "35 degrees"
    assert (spoken(28.2, "degC"), spoken(62.9, "degC")) == ("28 degrees", "63 degrees")


SPOKEN = {
    "whole watts": (316.6, "W", "317 watts"),
    "one": (1.0, "K", "1.0 degrees"),
    "small": (1.17, "1/s", "1.2 frames per second"),
    "tiny": (0.04, "W", "0.04 watts"),
    "none": (0.0, "W", "0 watts"),
    "below zero": (-5.2, "degC", "−5 degrees"),
    "per watt": (0.11677, "K/W", "0.117 kelvins per watt"),
    "per joule": (0.3474, "1/J", "0.35 frames per joule"),
    "volts": (0.9104, "V", "0.91 volts"),
}


@pytest.mark.parametrize(("value", "unit", "words"), SPOKEN.values(), ids=SPOKEN.keys())
def test_numbers_in_words(value: float, unit: str, words: str) -> None:
    assert spoken(value, unit) == words


def test_a_unit_is_singular_after_one() -> None:
    assert (spoken(1.2, "K", 0), spoken(-1.2, "1/s", 0)) == ("1 degree", "−1 frame per second")


def test_a_tenth_is_spoken_where_whole_numbers_would_not_add_up() -> None:
    """33.46 less 26.55 is 6.91, but whole numbers would say that 33 less 27 is 7."""
    assert difference_decimals(26.55, 33.46, "K") == 1
    assert difference_decimals(26.27, 32.90, "K") == 0


def test_words_are_joined_as_a_list() -> None:
    assert [listed(x) for x in (["a"], ["a", "b"], ["a", "b", "c"])] == ["a", "a and b", "a, b and c"]


@given(st.floats(-5000, 5000), st.sampled_from(["K", "W", "1/s", "percent", "dBA", "MHz"]))
def test_what_is_spoken_lies_within_half_a_step(value: float, unit: str) -> None:
    decimals = spoken_decimals(value, unit)
    digits = spoken(value, unit).split(" ")[0].replace("−", "-")
    assert abs(float(digits) - value) <= 0.5 * 10**-decimals * (1 + 1e-9)


@given(st.floats(1e-6, 5000), st.sampled_from(["K", "W", "1/s", "percent", "K/W", "V"]))
def test_a_number_that_is_not_zero_is_never_spoken_as_zero(value: float, unit: str) -> None:
    assert float(spoken(value, unit).split(" ")[0]) > 0


@given(st.floats(-5000, 5000), st.sampled_from(["K", "W", "1/s"]))
def test_rounding_commutes_with_sign(value: float, unit: str) -> None:
    words, mirrored = spoken(value, unit), spoken(-value, unit)
    assert words.lstrip("−") == mirrored.lstrip("−")
    assert math.isclose(float(words.split(" ")[0].replace("−", "-")), -float(mirrored.split(" ")[0].replace("−", "-")))
