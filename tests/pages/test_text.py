"""Numbers, dates and lists as pages show them."""

from __future__ import annotations

import datetime as dt

import pytest

from builder.core.quantity import NO_BREAK, Estimate
from builder.pages.parts import Name, count, joined, num, plain, plain_text, setting, short_day, unbroken


def test_a_temperature_carries_its_digits_in_fahrenheit() -> None:
    # A temperature of 61.4 °C is 142.5 °F; its uncertainty is a difference and has no offset.
    shown = num(Estimate(value=61.4, u=0.2, unit="degC"))
    assert (shown.value, shown.u, shown.unit.text) == ("61.4", "0.4", "°C")
    assert (shown.fahrenheit_value, shown.fahrenheit_u, shown.unit.fahrenheit) == ("142.5", "0.7", "°F")


def test_a_rise_turns_into_fahrenheit_without_the_offset() -> None:
    # By the definition of the degree Fahrenheit, 5 K are 9 °F; 5 °C would be 41 °F.
    assert num(Estimate(value=5.0, u=0.0, unit="K")).fahrenheit_value == "9"
    assert num(Estimate(value=5.0, u=0.0, unit="degC")).fahrenheit_value == "41"


def test_other_units_have_nothing_to_switch() -> None:
    shown = num(Estimate(value=285.0, u=1.0, unit="W"))
    assert (shown.fahrenheit_value, shown.fahrenheit_u, shown.unit.fahrenheit) == ("", "", "")


def test_a_setting_has_no_uncertainty() -> None:
    assert setting(285.0, "W").text == f"285{NO_BREAK}W"
    assert plain(1.5, "mm").text == f"1.5{NO_BREAK}mm"


def test_a_number_on_one_line_does_not_break() -> None:
    text = num(Estimate(value=31.2, u=0.2, unit="K")).text
    assert " " not in text
    assert text.replace(NO_BREAK, " ") == "31.2 ± 0.4 K"


@pytest.mark.parametrize(
    ("items", "text"),
    [((), ""), (("a",), "a"), (("a", "b"), "a and b"), (("a", "b", "c"), "a, b and c")],
    ids=["none", "one", "two", "three"],
)
def test_lists_are_joined_as_in_a_sentence(items: tuple[str, ...], text: str) -> None:
    assert plain_text(joined([(Name(text=i),) for i in items])) == text


def test_dates_do_not_depend_on_the_locale() -> None:
    assert short_day(dt.date(2026, 9, 3)).text == "3 Sep 2026"
    assert short_day(dt.date(2026, 9, 3)).iso == "2026-09-03"


def test_counts_agree_with_their_noun() -> None:
    assert count(0, "result").replace(NO_BREAK, " ") == "0 results"
    assert count(2, "cooler on air", "coolers on air").replace(NO_BREAK, " ") == "2 coolers on air"


def test_a_percent_sign_stays_with_its_number() -> None:
    assert unbroken("Power limit 80 %") == f"Power limit 80{NO_BREAK}%"
