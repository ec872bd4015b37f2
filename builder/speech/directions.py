"""What words say of a difference: its direction, that there is none, or that a number is only a bound."""

from __future__ import annotations

import re
from dataclasses import dataclass
from enum import Enum

from builder.figures import FIGURES
from builder.speech.numerals import Spoken

_DOWN = (
    r"cooler|colder|lower(?:s|ed)?|less|fewer|slower|quieter|smaller|down|drop(?:s|ped)?|falls?|fell"
    r"|lo(?:se|ses|st|ss)|sav(?:e|es|ed|ing)|reduc(?:es|ed|tion)|decrease[sd]?|cuts?"
)
_UP = (
    r"warmer|hotter|higher|more|faster|quicker|louder|larger|bigger|greater|(?<!end )(?<!ends )(?<!ended )up"
    r"|gain(?:s|ed)?|increase[sd]?|extra|raise[sd]?|rises|rose"
)
_WAYS = re.compile(rf"\b(?:(?P<down>{_DOWN})|(?P<up>{_UP})|(?P<better>better)|(?P<worse>worse))\b", re.IGNORECASE)

_NOT = r"\b(?:no|not|isn.t|nor)\s+(?:(?:a|any|much|measurabl[ey]|real(?:ly)?|clear(?:ly)?|bit)\s+)*"
_NONE = re.compile(
    rf"too close to call|\bthe same\b|\bidentical\b|\bequal\b|\bindistinguishable\b|\bunchanged\b|\btie[ds]?\b"
    rf"|\b(?:cannot|can.t|could not|couldn.t)\s+(?:be\s+)?t(?:ell|old)\b|\bno(?:thing)? in it\b"
    rf"|{_NOT}(?:differen(?:t|ce)|change|gain|loss|{_DOWN}|{_UP}|better|worse)\b",
    re.IGNORECASE,
)
_AT_LEAST = re.compile(r"\b(?:more than|over|above|at least|upwards of)\s*$", re.IGNORECASE)
_AT_MOST = re.compile(r"\b(?:(?:no|not) more than|less than|under|below|at most|up to|within)\s*$", re.IGNORECASE)


class Bound(Enum):
    """Whether a number is meant as itself, or as the least or the most that there is."""

    ITSELF = "itself"
    LEAST = "at least"
    MOST = "at most"


@dataclass(frozen=True, kw_only=True)
class Way:
    """What words say of a difference: -1 for lower, +1 for higher, 0 for neither; `none` where they deny one."""

    sign: int = 0
    none: bool = False
    word: str = ""


def bound_before(text: str, number: Spoken) -> Bound:
    """Return what the words right before a number make of it.

    >>> from builder.speech.numerals import spoken_numbers
    >>> bound_before("less than 60 °C", spoken_numbers("less than 60 °C")[0])
    <Bound.MOST: 'at most'>
    """
    before = text[: number.start]
    if _AT_MOST.search(before):
        return Bound.MOST
    return Bound.LEAST if _AT_LEAST.search(before) else Bound.ITSELF


def way_of(text: str, kind: str, number: Spoken | None = None) -> Way:
    """Return what words say of a difference of one kind of figure; of several directions the one next to the number.

    >>> way_of("the hotter card ends up 5 K cooler", "core_rise", None).word
    'hotter'
    """
    if number is not None:
        before = text[: number.start]
        for bound in (_AT_MOST, _AT_LEAST):
            before = bound.sub(lambda match: " " * len(match.group()), before)
        text = before + text[number.start :]
    if denial := _NONE.search(text):
        return Way(none=True, word=denial.group())
    found = [(_distance(match, number), _sign(match, kind), match.group()) for match in _WAYS.finditer(text)]
    told = [entry for entry in found if entry[1]]
    if not told:
        return Way(sign=number.sign if number else 0)
    _, sign, word = min(told, key=lambda entry: entry[0])
    return Way(sign=sign, word=word)


def _distance(match: re.Match[str], number: Spoken | None) -> int:
    """Return how far a direction stands from the number; of two as far, the one behind it counts."""
    if number is None:
        return 2 * match.start()
    return 2 * (match.start() - number.end) if match.start() >= number.end else 2 * (number.start - match.end()) + 1


def _sign(match: re.Match[str], kind: str) -> int:
    if match["down"] or match["up"]:
        return -1 if match["down"] else 1
    wanted = {"lower": -1, "higher": 1}.get(FIGURES[kind].better, 0)
    return wanted if match["better"] else -wanted
