"""Numbers in words: digits, number words, units, precision."""

from __future__ import annotations

from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st

from builder.narration.numbers import Spoken, spoken_numbers

WORDS = {
    "zero": 0, "one": 1, "two": 2, "three": 3, "four": 4, "five": 5, "six": 6, "seven": 7, "eight": 8, "nine": 9,
    "ten": 10, "eleven": 11, "twelve": 12, "thirteen": 13, "fourteen": 14, "fifteen": 15, "sixteen": 16,
    "seventeen": 17, "eighteen": 18, "nineteen": 19, "twenty": 20,
}  # fmt: skip


def one(text: str) -> Spoken:
    (found,) = spoken_numbers(text)
    return found


@pytest.mark.parametrize(("word", "value"), WORDS.items(), ids=WORDS.keys())
def test_number_words_up_to_twenty_are_numbers(word: str, value: int) -> None:
    assert one(f"{word} degrees cooler").value == value


LONGER = {
    "thirty-three degrees": "33",
    "twenty one frames": "21",
    "two hundred and eighty-two watts": "282",
    "three hundred watts": "300",
    "thirty-two point nine kelvins": "32.9",
    "zero point one four five kelvins per watt": "0.145",
    "1,450 r/min": "1450",
    "half a degree": "0.5",
    "two and a half degrees": "2.5",
    "a kelvin": "1",
}


@pytest.mark.parametrize(("text", "value"), LONGER.items(), ids=LONGER.keys())
def test_longer_numbers_in_words(text: str, value: str) -> None:
    assert one(text).value == Decimal(value)


UNITS = {
    "15 degrees": "degree", "15°": "degree", "15 °C": "degC", "15 degrees Celsius": "degC", "59 °F": "degF",
    "15 K": "K", "15 kelvins": "K", "71 W": "W", "71 watts": "W", "22 %": "percent", "22 percent": "percent",
    "22 per cent": "percent", "2475 MHz": "MHz", "2.475 GHz": "GHz", "69 frames per second": "1/s", "69 fps": "1/s",
    "69 frames a second": "1/s", "2 frames": "1/s", "0.35 frames per joule": "1/J", "0.117 K/W": "K/W",
    "0.117 degrees per watt": "K/W", "0.91 V": "V", "910 mV": "mV", "1040 rpm": "rpm", "31 dB(A)": "dBA",
    "3 litres per minute": "L/min", "15-degree drop": "degree", "15\u00a0K": "K", "15": "",
}  # fmt: skip


@pytest.mark.parametrize(("text", "unit"), UNITS.items(), ids=UNITS.keys())
def test_units_by_their_spellings(text: str, unit: str) -> None:
    assert one(text).unit == unit


SLACK = {"15 degrees": "0.5", "15.0 degrees": "0.05", "0.145 K/W": "0.0005", "two and a half degrees": "0.25"}


@pytest.mark.parametrize(("text", "slack"), SLACK.items(), ids=SLACK.keys())
def test_precision_is_half_a_step_of_the_last_digit_spoken(text: str, slack: str) -> None:
    assert one(text).slack == Decimal(slack)


SIGNS = {"−3 %": -1, "-3 %": -1, "minus three percent": -1, "+3 %": 1, "plus 3 %": 1, "3 %": 0, "15-degree": 0}


@pytest.mark.parametrize(("text", "sign"), SIGNS.items(), ids=SIGNS.keys())
def test_signs(text: str, sign: int) -> None:
    assert one(text).sign == sign


NOTHING = {
    "time": "at 6:40 we start",
    "name of a figure": "the 1 % low",
    "setting": "the 80 % limit, the 70 % run, a limit of 60 %",
    "pronoun": "this one is the best of a kind",
    "part of a word": "GPU2 and m1",
    "version": "release 1.2.3",
}


@pytest.mark.parametrize("text", NOTHING.values(), ids=NOTHING.keys())
def test_what_is_no_number(text: str) -> None:
    assert spoken_numbers(text) == ()


def test_numbers_keep_their_places() -> None:
    text = "98 frames per second become 95"
    assert [(text[n.start : n.end].strip(), n.unit) for n in spoken_numbers(text)] == [
        ("98 frames per second", "1/s"),
        ("95", ""),
    ]


@given(st.decimals(min_value=0, max_value=9999, places=2), st.sampled_from([" K", " watts", " %", "°", " fps", ""]))
def test_any_decimal_is_read_as_it_is_written(value: Decimal, unit: str) -> None:
    assert one(f"{value}{unit}").value == value


@given(st.text(max_size=60))
def test_any_text_can_be_read(text: str) -> None:
    assert all(0 <= n.start < n.end <= len(text) and n.value >= 0 for n in spoken_numbers(text))
