"""Whether words say what was computed: every finding with its wording, and what always passes or always fails."""

from __future__ import annotations

import re
from dataclasses import replace
from decimal import Decimal

import pytest
from hypothesis import assume, given
from hypothesis import strategies as st

from builder.core.errors import Severity
from builder.core.quantity import NO_BREAK, SYMBOLS, Estimate, format_estimate, format_number
from builder.core.results import Bound
from builder.narration import Address, Apart, Finding, NoDifference, Truth, judge, suggestion

UNITS = {
    "core_rise": "K",
    "core_temperature": "degC",
    "board_power": "W",
    "frame_rate": "1/s",
    "fan_duty": "percent",
    "fan_speed": "rpm",
}


def estimate(value: float, unit: str, u: float = 0.1) -> Estimate:
    return Estimate(value=value, u=u, unit=unit)


def value(kind: str, number: float, *, settled: bool = True) -> Truth:
    """Return a figure of this bundle."""
    address = Address(bundle="slab", point="stock", kind=kind)
    return Truth(address=address, value=estimate(number, UNITS[kind]), settled=settled)


def change(kind: str, number: float, percent: float | None = None, *, close: bool = False) -> Truth:
    """Return a change from stock."""
    unit = "K" if UNITS[kind] == "degC" else UNITS[kind]
    return Truth(
        address=Address(bundle="slab", point="power-80", kind=kind, change=True),
        value=estimate(number, unit),
        percent=estimate(percent, "percent") if percent is not None else None,
        apart=Apart.TOO_CLOSE if close else Apart.YES,
    )


def wide(kind: str, number: float, u: float) -> Truth:
    """Return a figure whose uncertainty leaves few digits."""
    return replace(value(kind, number), value=estimate(number, UNITS[kind], u))


def drifting(kind: str, number: float, bound: Bound = Bound.LOWER) -> Truth:
    """Return a figure of which only a bound is known."""
    return replace(value(kind, number, settled=False), bound=bound)


def code(words: str, truth: Truth) -> str:
    found = judge(words, truth)
    return found.code if found else ""


# --- what fits -------------------------------------------------------------------------------------------------

FITS = {
    "whole": ("about 15 degrees", value("core_rise", 15.4)),
    "lower end": ("15 degrees", value("core_rise", 14.5)),
    "upper end": ("15 degrees", value("core_rise", 15.5)),
    "one decimal": ("32.9 K", value("core_rise", 32.9)),
    "number words": ("fifteen degrees", value("core_rise", 15.4)),
    "half": ("two and a half degrees", value("core_rise", 2.6)),
    "no unit": ("33", value("core_rise", 32.9)),
    "fahrenheit": ("131 °F", value("core_temperature", 55.0)),
    "rise in fahrenheit": ("59 °F", value("core_rise", 32.9)),
    "below zero": ("minus five degrees", value("core_temperature", -5.2)),
    "bound": ("under 60 °C", value("core_temperature", 54.8)),
    "name with a number": ("the 780 at the 80 % limit: 26 K", value("core_rise", 26.3)),
    "cooler": ("15 degrees cooler", change("core_rise", -15.2)),
    "minus": ("−15 K", change("core_rise", -15.2)),
    "drop": ("a 15-degree drop", change("core_rise", -15.2)),
    "hotter": ("4 K hotter", change("core_rise", 4.1)),
    "watts less": ("71 W less", change("board_power", -71.2)),
    "percent less": ("22 percent less", change("board_power", -71.2, -22.4)),
    "fewer": ("2 frames per second fewer", change("frame_rate", -2.0, -2.8)),
    "faster": ("3 % faster", change("frame_rate", 2.9, 3.1)),
    "better": ("7 degrees better", change("core_rise", -7.0)),
    "more than": ("more than 12 % more", change("board_power", 42.0, 12.5)),
    "percent of percent": ("5 % lower", change("fan_duty", -5.2, -10.0)),
    "nearest direction": ("the hotter card ends up 5 K cooler", change("core_rise", -5.0)),
    "no direction": ("7 degrees", change("core_rise", -6.6)),
    "tie": ("too close to call", change("core_rise", -0.1, close=True)),
    "no difference": ("no warmer", change("core_rise", 0.1, close=True)),
    "within": ("within a degree", change("core_rise", 0.1, close=True)),
    "zero": ("0 K", change("core_rise", 0.1, close=True)),
    "as the page shows it": ("1130 rpm", wide("fan_speed", 1127.3, 25.0)),
    "with its uncertainty": ("1130 ± 50 rpm", wide("fan_speed", 1127.3, 25.0)),
    "with its uncertainty in words": ("1130 plus or minus 50 rpm", wide("fan_speed", 1127.3, 25.0)),
    "range": ("between 35 and 40 degrees", value("core_rise", 37.2)),
    "range of a difference": ("between 5 and 8 degrees cooler", change("core_rise", -6.6)),
    "range with a dash": ("35–40 °C", value("core_temperature", 37.2)),
    "range from nothing": ("between 0 and 2 degrees", change("core_rise", 0.1, close=True)),
    "no measurable difference": ("no measurable difference", change("core_rise", 0.1, close=True)),
    "lower bound": ("at least 21 degrees", drifting("core_rise", 21.9)),
    "upper bound": ("at most 23 degrees", drifting("core_rise", 21.9, Bound.UPPER)),
}


@pytest.mark.parametrize(("words", "truth"), FITS.values(), ids=FITS.keys())
def test_words_that_say_what_was_computed(words: str, truth: Truth) -> None:
    assert judge(words, truth) is None


# --- what does not ---------------------------------------------------------------------------------------------

NOT = NoDifference(
    address=Address(bundle="slab", point="stock", kind="core_rise", other="twin"), why="They were tested apart."
)
FINDINGS = {
    "size": (
        "16 degrees",
        value("core_rise", 15.4),
        "claim-differs",
        'said "16 degrees", computed 15.40 ± 0.20 K',
        'as one speaks it: "15 degrees"',
    ),
    "decimal": (
        "15.3 K",
        value("core_rise", 15.4),
        "claim-differs",
        'said "15.3 K", computed 15.40 ± 0.20 K',
        'as one speaks it: "15.4 degrees"',
    ),
    "size of a difference": (
        "16 degrees cooler",
        change("core_rise", -15.2),
        "claim-differs",
        'said "16 degrees cooler", computed −15.20 ± 0.20 K',
        'as one speaks it: "15 degrees cooler"',
    ),
    "percent": (
        "25 % less",
        change("board_power", -71.2, -22.4),
        "claim-differs",
        'said "25 % less", computed −22.40 ± 0.20 %',
        'as one speaks it: "22 percent less"',
    ),
    "a tie that is none": (
        "too close to call",
        change("core_rise", -15.2),
        "claim-differs",
        'said "too close to call", computed −15.20 ± 0.20 K',
        'as one speaks it: "15 degrees cooler"',
    ),
    "wrong way": (
        "15 degrees warmer",
        change("core_rise", -15.2),
        "claim-sign",
        'said "15 degrees warmer", computed −15.20 ± 0.20 K: "warmer" is the wrong way',
        'as one speaks it: "15 degrees cooler"',
    ),
    "wrong way in words alone": (
        "noticeably hotter",
        change("core_rise", -15.2),
        "claim-sign",
        'said "noticeably hotter", computed −15.20 ± 0.20 K: "hotter" is the wrong way',
        'as one speaks it: "15 degrees cooler"',
    ),
    "wrong sign": (
        "+71 W",
        change("board_power", -71.2),
        "claim-sign",
        'said "+71 W", computed −71.20 ± 0.20 W: "+" is the wrong way',
        'as one speaks it: "71 watts less"',
    ),
    "wrong sign of a value": (
        "5 °C",
        value("core_temperature", -5.2),
        "claim-sign",
        'said "5 °C", computed −5.20 ± 0.20 °C',
        'as one speaks it: "−5 degrees"',
    ),
    "not separable": (
        "0.1 K cooler",
        change("core_rise", -0.1, close=True),
        "claim-not-separable",
        'said "0.1 K cooler", but −0.10 ± 0.20 K cannot be told from no difference',
        'say "too close to call", or leave the comparison out',
    ),
    "not separable, in words alone": (
        "cooler",
        change("core_rise", -0.1, close=True),
        "claim-not-separable",
        'said "cooler", but −0.10 ± 0.20 K cannot be told from no difference',
        'say "too close to call", or leave the comparison out',
    ),
    "no comparison": (
        "15 degrees cooler",
        NOT,
        "claim-not-separable",
        'said "15 degrees cooler", but there is no difference to speak of: They were tested apart.',
        "leave it out",
    ),
    "no number": (
        "nice and cool",
        value("core_rise", 15.4),
        "claim-without-number",
        '"nice and cool" holds no number, computed 15.40 ± 0.20 K',
        'as one speaks it: "15 degrees"',
    ),
    "unit": (
        "15 watts",
        value("core_rise", 15.4),
        "claim-unit",
        'said "15 watts", but Core over ambient is in K',
        'as one speaks it: "15 degrees"',
    ),
    "unit of a difference": (
        "71 degrees less",
        change("board_power", -71.2, -22.4),
        "claim-unit",
        'said "71 degrees", but Board power is in W or %',
        'as one speaks it: "71 watts less"',
    ),
    "kelvins of a temperature": (
        "328 K",
        value("core_temperature", 54.8),
        "claim-unit",
        'said "328 K", but Core temperature is in °C',
        'as one speaks it: "55 degrees"',
    ),
    "two numbers": (
        "98 frames per second become 95 frames per second",
        value("frame_rate", 95.0),
        "claim-ambiguous",
        ('"98 frames per second become 95 frames per second" holds more than one number that may be this figure: '
        '"98 frames per second" and "95 frames per second"'),
        "link each number by itself",
    ),
    "range that does not hold it": (
        "between 35 and 40 degrees",
        value("core_rise", 41.2),
        "claim-differs",
        'said "between 35 and 40 degrees", computed 41.20 ± 0.20 K',
        'as one speaks it: "41 degrees"',
    ),
    "range of what is too close": (
        "between 1 and 2 degrees cooler",
        change("core_rise", -1.2, close=True),
        "claim-not-separable",
        'said "between 1 and 2 degrees cooler", but −1.20 ± 0.20 K cannot be told from no difference',
        'say "too close to call", or leave the comparison out',
    ),
    "uncertainty that is another": (
        "1130 ± 20 rpm",
        wide("fan_speed", 1127.3, 25.0),
        "claim-differs",
        'said "1130 ± 20 rpm", computed 1130 ± 50 r/min',
        'as one speaks it: "1127 revolutions per minute"',
    ),
    "bound as a value": (
        "22 degrees",
        drifting("core_rise", 21.9),
        "claim-differs",
        'said "22 degrees", computed at least 21.70 K',
        'as one speaks it: "at least 21 degrees"',
    ),
    "bound of a difference too close to call": (
        "less than a degree",
        change("core_rise", 1.2, close=True),
        "claim-differs",
        'said "less than a degree", computed +1.20 ± 0.20 K',
        'as one speaks it: "too close to call"',
    ),
    "long words": (
        "a claim that goes on and on until nobody remembers how it began, 16 degrees",
        value("core_rise", 15.4),
        "claim-differs",
        'said "a claim that goes on and on until nobody remembers how it b…", computed 15.40 ± 0.20 K',
        'as one speaks it: "15 degrees"',
    ),
}  # fmt: skip


@pytest.mark.parametrize(("words", "truth", "code", "message", "hint"), FINDINGS.values(), ids=FINDINGS.keys())
def test_words_that_say_something_else(
    words: str, truth: Truth | NoDifference, code: str, message: str, hint: str
) -> None:
    assert judge(words, truth) == Finding(code=code, message=message, hint=hint)


def test_a_figure_of_a_run_that_had_not_settled_is_a_warning() -> None:
    found = judge("15 degrees", value("core_rise", 15.4, settled=False))
    assert found == Finding(
        code="claim-not-settled",
        message='"15 degrees" rests on a run that had not settled',
        hint='say so, as in "15 degrees so far", or run longer',
        severity=Severity.WARNING,
    )


SAYS_SO = ("15 degrees so far", "15 degrees, and it had not settled", "15 degrees and still warming")


@pytest.mark.parametrize("words", SAYS_SO)
def test_words_that_say_that_a_run_had_not_settled_are_right(words: str) -> None:
    assert judge(words, value("core_rise", 15.4, settled=False)) is None


WRONG_BOUNDS = {"under 50 °C": 54.8, "more than 60 °C": 54.8, "at least 55 °C": 54.8, "at most 54 °C": 54.8}


@pytest.mark.parametrize(("words", "number"), WRONG_BOUNDS.items(), ids=WRONG_BOUNDS.keys())
def test_a_bound_must_hold(words: str, number: float) -> None:
    assert code(words, value("core_temperature", number)) == "claim-differs"


# --- what always holds -----------------------------------------------------------------------------------------

PLACES = st.integers(0, 3)
KINDS = st.sampled_from(["core_rise", "core_temperature", "board_power", "frame_rate"])
SAID = {"core_rise": "K", "core_temperature": "°C", "board_power": "watts", "frame_rate": "frames per second"}


def digits(number: float, places: int) -> str:
    return format_number(number, places)


@given(st.floats(-200, 2000), PLACES, KINDS)
def test_a_correctly_spoken_value_always_passes(number: float, places: int, kind: str) -> None:
    assert judge(f"about {digits(number, places)} {SAID[kind]}", value(kind, number)) is None


@given(st.floats(-200, 2000), PLACES, KINDS, st.booleans())
def test_a_value_off_by_more_than_the_precision_always_fails(number: float, places: int, kind: str, up: bool) -> None:
    off = (Decimal(repr(number)) + (1 if up else -1) * Decimal("1.01").scaleb(-places)).quantize(
        Decimal(1).scaleb(-places)
    )
    assert code(f"{off} {SAID[kind]}", value(kind, number)) in ("claim-differs", "claim-sign")


@given(st.floats(0.6, 500), PLACES, st.booleans())
def test_a_correctly_spoken_difference_passes_in_its_direction_only(size: float, places: int, less: bool) -> None:
    truth = change("board_power", -size if less else size)
    words = f"{digits(size, places)} W"
    assert judge(f"{words} {'less' if less else 'more'}", truth) is None
    assert code(f"{words} {'more' if less else 'less'}", truth) == "claim-sign"


@given(st.floats(0.6, 500), st.floats(1.02, 50), st.booleans())
def test_a_difference_off_by_more_than_the_precision_fails(size: float, off: float, less: bool) -> None:
    said = round(size + off)
    assume(abs(said - size) > 0.5 + 1e-9)
    truth = change("board_power", -size if less else size)
    assert code(f"{said} W {'less' if less else 'more'}", truth) == "claim-differs"


@given(st.floats(-5, 5), st.sampled_from(["{} K cooler", "{} K warmer", "a drop of {} K", "{} K", "+{} K"]))
def test_no_difference_that_is_not_separable_passes(number: float, words: str) -> None:
    said = words.format(digits(abs(number) + 0.1, 1))
    assert code(said, change("core_rise", number, close=True)) == "claim-not-separable"


HINTED = re.compile(r'"([^"]+)"(?:, or |$)')
SPOKEN = st.sampled_from(
    ["{} K", "{} degrees cooler", "{} % more", "less than {} degrees", "at least {} K", "between {} and 900 degrees",
     "too close to call", "cooler", "{} ± 3 K", "{} watts", "nice"]
)  # fmt: skip
TRUTHS = st.builds(
    lambda kind, number, u, share, close, settled, relative, bound: Truth(
        address=Address(bundle="slab", point="power-80", kind=kind, change=relative),
        value=estimate(number, "K" if relative and UNITS[kind] == "degC" else UNITS[kind], u),
        percent=estimate(share, "percent") if relative and UNITS[kind] != "degC" else None,
        apart=Apart.TOO_CLOSE if close and relative else Apart.YES,
        settled=settled and bound is Bound.NONE,
        bound=Bound.NONE if relative else bound,
    ),
    st.sampled_from(sorted(UNITS)),
    st.floats(-2000, 2000).filter(lambda x: abs(x) > 1e-3),
    st.floats(0.01, 50),
    st.floats(-90, 90).filter(lambda x: abs(x) > 1e-3),
    st.booleans(),
    st.booleans(),
    st.booleans(),
    st.sampled_from(Bound),
)


@given(SPOKEN, st.integers(0, 300), TRUTHS)
def test_what_a_hint_proposes_passes_the_check(words: str, number: int, truth: Truth) -> None:
    if truth.percent and truth.percent.value * truth.value.value < 0:
        truth = replace(truth, percent=replace(truth.percent, value=-truth.percent.value))
    found = judge(words.format(number), truth)
    for proposed in HINTED.findall(found.hint) if found else ():
        assert judge(proposed, truth) is None, proposed
    assert judge(suggestion(truth), truth) is None


@given(st.floats(-2000, 2000), st.floats(0.001, 400), st.sampled_from(sorted(UNITS)))
def test_saying_what_the_page_shows_is_always_right(number: float, u: float, kind: str) -> None:
    truth = wide(kind, number, u)
    shown = format_estimate(truth.value)
    assert judge(shown, truth) is None
    assert judge(f"about {shown.split(NO_BREAK)[0]} {SYMBOLS[UNITS[kind]]}", truth) is None


@given(st.text(max_size=40))
def test_any_words_can_be_judged(words: str) -> None:
    judge(words, value("core_rise", 15.4))
    judge(words, change("core_rise", -15.2))


def test_a_figure_read_by_hand_is_said_to_be_one() -> None:
    truth = replace(value("core_rise", 31.0), by_hand=True)
    found = judge("31 degrees", truth)
    assert found is not None
    assert (found.code, found.severity) == ("claim-by-hand", Severity.WARNING)
    assert found.hint == 'say so, as in "31 degrees as read by hand"'
    assert judge(suggestion(truth), truth) is None
    assert judge("31 degrees off the display", truth) is None
    assert judge("33 degrees as read by hand", truth) is not None
