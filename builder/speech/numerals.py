"""Numbers as words and digits hold them, with how precisely each was spoken."""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import dataclass
from decimal import Decimal

from builder.speech.units import UNIT, unit_of

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
_SIGN = rf"(?:(?P<sign>[-−+±]|\b(?:minus|plus)\b){_GAP}*)?"

_NUMBER = re.compile(
    rf"(?<![\w.,:]){_SIGN}(?:(?P<digits>{_DIGITS})(?!\d|[.:]\d)|\b(?P<words>{_SPELLED}{_POINT})"
    rf"|\b(?P<half>half{_GAP}+an?)\b|\b(?P<one>an?)\b)"
    rf"(?P<and_half>{_GAP}+and{_GAP}+a{_GAP}+half\b)?"
    rf"(?:(?:{_GAP}|-)*(?:{UNIT}))?",
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
    return tuple(_found(_NAMES.sub(lambda match: "\0" * len(match.group()), text)))


def _found(text: str) -> Iterator[Spoken]:
    for match in _NUMBER.finditer(text):
        unit = unit_of(match)
        if unit or match["digits"] or (match["words"] and match["words"].casefold() not in ("one", "zero")):
            value, slack = _value(match)
            sign = {"-": -1, "−": -1, "minus": -1, "+": 1, "plus": 1}.get((match["sign"] or "").casefold(), 0)
            yield Spoken(
                value=value,
                slack=slack,
                sign=sign,
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
