"""Numbers as people say and write them: figures rounded into words, and the numbers that words hold."""

from __future__ import annotations

import math
import re
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from decimal import ROUND_CEILING, ROUND_FLOOR, Decimal
from types import MappingProxyType
from typing import NamedTuple

from builder.core.quantity import MINUS, format_number


class _UnitWords(NamedTuple):
    """A unit in words, for one and for many, and what may stand for it behind a number."""

    one: str
    many: str
    written: str


# By unit id, longest reading first. A single letter counts only in its own case.
_UNITS = {
    "1/J": _UnitWords(
        "frame per joule", "frames per joule", r"frames?\s*(?:per|a|/)\s*joule\b|frames?\s*/\s*(?-i:J)\b"
    ),
    "K/W": _UnitWords(
        "kelvin per watt",
        "kelvins per watt",
        r"(?:(?-i:K)|°\s?C|kelvins?|degrees?(?:\s+celsius)?)\s*(?:per\s+watt\b|(?-i:/\s*W)\b)",
    ),
    "1/s": _UnitWords(
        "frame per second",
        "frames per second",
        r"frames?\s*(?:per|a|/)\s*second\b|frames?\s*/\s*(?-i:s)\b|fps\b|frames?\b",
    ),
    "degC": _UnitWords("degree", "degrees", r"°\s?C\b|℃|degrees?\s+(?:celsius|centigrade)\b"),
    "degF": _UnitWords("degree Fahrenheit", "degrees Fahrenheit", r"°\s?F\b|degrees?\s+fahrenheit\b"),
    "degree": _UnitWords("degree", "degrees", r"°|degrees?\b"),
    "K": _UnitWords("degree", "degrees", r"(?-i:K)\b|kelvins?\b"),
    "W": _UnitWords("watt", "watts", r"(?-i:W)\b|watts?\b"),
    "percent": _UnitWords("percent", "percent", r"%|per\s?cent(?:age\s+points?)?\b"),
    "MHz": _UnitWords("megahertz", "megahertz", r"MHz\b|megahertz\b"),
    "GHz": _UnitWords("gigahertz", "gigahertz", r"GHz\b|gigahertz\b"),
    "mV": _UnitWords("millivolt", "millivolts", r"mV\b|millivolts?\b"),
    "V": _UnitWords("volt", "volts", r"(?-i:V)\b|volts?\b"),
    "rpm": _UnitWords(
        "revolution per minute", "revolutions per minute", r"rpm\b|r/min\b|revolutions\s+(?:per|a)\s+minute\b"
    ),
    "L/min": _UnitWords(
        "litre per minute", "litres per minute", r"L\s*/\s*min\b|lit(?:re|er)s?\s+(?:per|a)\s+minute\b"
    ),
    "dBA": _UnitWords("decibel", "decibels", r"dB\s?\(A\)|dBA?\b|decibels?\b"),
}


@dataclass(frozen=True, kw_only=True)
class Reading:
    """How a figure turns into the unit that was spoken: times `factor`, plus `offset`."""

    factor: float = 1.0
    offset: float = 0.0


_SAME = Reading()
_READINGS: Mapping[tuple[str, str], Reading] = MappingProxyType(
    {
        **{(unit, unit): _SAME for unit in _UNITS},
        **{(spoken, unit): _SAME for spoken in ("degree", "degC") for unit in ("degC", "K")},
        ("degF", "degC"): Reading(factor=1.8, offset=32.0),
        ("degF", "K"): Reading(factor=1.8),
        ("GHz", "MHz"): Reading(factor=0.001),
        ("mV", "V"): Reading(factor=1000.0),
    }
)


def reading_of(spoken: str, unit: str) -> Reading | None:
    """Return how a figure in `unit` reads in the unit that was spoken; None where one cannot speak of the other.

    Kelvins speak of differences only, since nobody gives a temperature on a card in kelvins.

    >>> reading_of("degree", "K"), reading_of("K", "degC")
    (Reading(factor=1.0, offset=0.0), None)
    """
    return _READINGS.get((spoken, unit))


# --- Numbers rounded as one speaks them, with the unit in words

_FINE = {"K/W": 3, "V": 2, "1/J": 2, "L/min": 1, "GHz": 2}  # units whose whole numbers say too little
_SMALL = 2.0  # below this a whole number is off by a quarter and more
_LARGE = 10.0  # from here a whole number is off by a twentieth at most


def spoken_decimals(value: float, unit: str) -> int:
    """Return with how many decimals one speaks a number: none, a tenth where it is small, more where it is tiny.

    >>> [spoken_decimals(v, "W") for v in (317.2, 1.4, 0.04)], spoken_decimals(0.1168, "K/W")
    ([0, 1, 2], 3)
    """
    size = abs(value)
    if unit in _FINE:
        return max(_FINE[unit], _needed(size))
    return 0 if size >= _SMALL or size == 0 else _needed(size)


def _needed(size: float) -> int:
    """Decimals that leave one digit standing, at least one."""
    return max(1, -math.floor(math.log10(size))) if size > 0 else 0


def spoken(value: float, unit: str, decimals: int | None = None) -> str:
    """Return a number in the words of narration; `decimals` None rounds as one speaks.

    >>> spoken(316.6, "W"), spoken(-0.29, "1/s"), spoken(1.0, "K", 0)
    ('317 watts', '−0.3 frames per second', '1 degree')
    """
    digits = format_number(value, spoken_decimals(value, unit) if decimals is None else decimals)
    words = _UNITS[unit]
    return f"{digits} {words.one if digits.lstrip(MINUS) == '1' else words.many}"


def spoken_limit(value: float, unit: str, *, lower: bool) -> str:
    """Return the end of an interval in the words of narration, rounded away from what lies inside it.

    >>> spoken_limit(21.74, "K", lower=True), spoken_limit(21.24, "K", lower=False)
    ('21 degrees', '22 degrees')
    """
    decimals = spoken_decimals(value, unit)
    rounding = ROUND_FLOOR if lower else ROUND_CEILING
    return spoken(float(Decimal(repr(value)).quantize(Decimal(1).scaleb(-decimals), rounding=rounding)), unit, decimals)


def difference_decimals(a: float, b: float, unit: str, difference: float | None = None) -> int:
    """Return the decimals with which two values and their difference (a less b by default) are spoken together.

    Whole numbers, or a tenth where the difference needs it: where it is small, or where whole numbers would not add
    up for a listener by a good part of it (33 less 27 is no 7).

    >>> difference_decimals(246.0, 317.0, "W"), difference_decimals(26.55, 33.46, "K"), difference_decimals(1.2, 0, "K")
    (0, 1, 1)
    """
    between = a - b if difference is None else difference
    own = max(spoken_decimals(max(abs(a), abs(b)), unit), spoken_decimals(between, unit))
    one, other, apart = (float(format_number(x, own).replace(MINUS, "-")) for x in (a, b, between))
    adds_up = math.isclose(one - other, apart, abs_tol=1e-9)
    return own if adds_up or own or abs(between) >= _LARGE else 1


# --- The numbers that words hold

_ONES = [
    *("zero", "one", "two", "three", "four", "five", "six", "seven", "eight", "nine", "ten", "eleven", "twelve"),
    *("thirteen", "fourteen", "fifteen", "sixteen", "seventeen", "eighteen", "nineteen"),
]
_TENS = ["twenty", "thirty", "forty", "fifty", "sixty", "seventy", "eighty", "ninety"]
_WORDS = {word: value for value, word in enumerate(_ONES)} | {word: 20 + 10 * i for i, word in enumerate(_TENS)}

_GAP = r"[\s\u00a0\u202f]"
_WORD = "|".join(sorted(_WORDS, key=len, reverse=True))
_SPELLED = rf"(?:{_WORD})\b(?:(?:-|{_GAP}+|{_GAP}+and{_GAP}+)(?:hundred|{_WORD})\b)*"
_POINT = rf"(?:{_GAP}+point(?:{_GAP}+(?:{_WORD})\b)+)?"
_DIGITS = r"\d{1,3}(?:,\d{3})+(?:\.\d+)?|\d+(?:\.\d+)?"
_UNIT = "|".join(f"(?P<u{index}>{unit.written})" for index, unit in enumerate(_UNITS.values()))
_SIGN = rf"(?:(?P<sign>[-−+±]|\b(?:minus|plus)\b){_GAP}*)?"

_NUMBER = re.compile(
    rf"(?<![\w.,:]){_SIGN}(?:(?P<digits>{_DIGITS})(?!\d|[.:]\d)|\b(?P<words>{_SPELLED}{_POINT})"
    rf"|\b(?P<half>half{_GAP}+an?)\b|\b(?P<one>an?)\b)"
    rf"(?P<and_half>{_GAP}+and{_GAP}+a{_GAP}+half\b)?"
    rf"(?:(?:{_GAP}|-)*(?:{_UNIT}))?",
    re.IGNORECASE,
)
# Parts of names, which hold a number that is no figure.
_NAMES = re.compile(
    rf"\b(?:1|one){_GAP}*(?:%|per\s?cent){_GAP}+lows?\b"
    rf"|\d+{_GAP}*(?:%|per\s?cent){_GAP}+(?:(?:power|run|test){_GAP}+)?(?:limit|run|point)s?\b"
    rf"|\b(?:limit|duty){_GAP}+(?:(?:(?:down|up){_GAP}+)?(?:of|to|at){_GAP}+)?\d+{_GAP}*(?:%|per\s?cent)",
    re.IGNORECASE,
)

_HALF = Decimal("0.5")


@dataclass(frozen=True, kw_only=True)
class Spoken:
    """A number in words: its value, by how much it may be off as spoken, sign (0: none given), unit id and place."""

    value: Decimal
    slack: Decimal
    sign: int
    unit: str
    text: str
    start: int
    end: int


def spoken_numbers(text: str) -> tuple[Spoken, ...]:
    """Return the numbers of a text in order. `a degree` is one; other small words need a unit to count as a number.

    >>> [(str(n.value), str(n.slack), n.unit) for n in spoken_numbers("fifteen degrees, 3.1 % and half a kelvin")]
    [('15', '0.5', 'degree'), ('3.1', '0.05', 'percent'), ('0.5', '0.25', 'K')]
    """
    bare = _NAMES.sub(lambda match: "\0" * len(match.group()), text)
    return tuple(number for match in _NUMBER.finditer(bare) for number in _number(match))


def _number(match: re.Match[str]) -> Iterator[Spoken]:
    unit = next((unit for index, unit in enumerate(_UNITS) if match[f"u{index}"] is not None), "")
    if unit or match["digits"] or (match["words"] and match["words"].casefold() not in ("one", "zero")):
        value, slack = _value(match)
        yield Spoken(
            value=value,
            slack=slack,
            sign={"-": -1, "−": -1, "minus": -1, "+": 1, "plus": 1}.get((match["sign"] or "").casefold(), 0),
            unit=unit,
            text=match.group().strip(),
            start=match.start(),
            end=match.end(),
        )


def _value(match: re.Match[str]) -> tuple[Decimal, Decimal]:
    """Half a step of the last digit spoken; halves are spoken in steps of a half."""
    if match["half"]:
        return _HALF, _HALF / 2
    if match["digits"]:
        value = Decimal(match["digits"].replace(",", ""))
    else:
        value = Decimal(1) if match["one"] else _words_value(match["words"])
    if match["and_half"]:
        return value + _HALF, _HALF / 2
    return value, _HALF.scaleb(int(value.as_tuple().exponent))


def _words_value(words: str) -> Decimal:
    whole, _, part = re.sub(rf"{_GAP}+", " ", words.casefold()).partition(" point ")
    digits = "".join(str(_WORDS[word]) for word in part.split())
    return Decimal(f"{_whole(whole)}.{digits}" if digits else _whole(whole))


def _whole(words: str) -> int:
    total = 0
    for word in re.split(r"[- ]", words):
        if word == "hundred":
            total = max(total, 1) * 100
        elif word != "and":
            total += _WORDS[word]
    return total
