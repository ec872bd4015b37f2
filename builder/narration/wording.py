"""What words say besides a number: a direction, no difference, a bound, a range, or that a run had not settled."""

from __future__ import annotations

import re
from dataclasses import dataclass, replace
from enum import Enum

from builder.core.results import FIGURES
from builder.narration.numbers import Spoken, spoken_numbers

_DOWN = (
    r"cooler|colder|lower(?:s|ed)?|less|fewer|slower|quieter|smaller|down|drop(?:s|ped)?|falls?|fell"
    r"|lo(?:se|ses|st|ss)|sav(?:e|es|ed|ing)|reduc(?:es|ed|tion)|decrease[sd]?|cuts?"
)
_UP = (
    r"warmer|hotter|higher|more|faster|quicker|louder|larger|bigger|greater|(?<!end )(?<!ends )(?<!ended )up"
    r"|gain(?:s|ed)?|increase[sd]?|extra|raise[sd]?|rises|rose"
)
_DIRECTION = re.compile(rf"\b(?:(?P<down>{_DOWN})|(?P<up>{_UP})|(?P<better>better)|(?P<worse>worse))\b", re.IGNORECASE)

_NOT = r"\b(?:no|not|isn.t|nor)\s+(?:(?:a|any|much|measurabl[ey]|real(?:ly)?|clear(?:ly)?|bit)\s+)*"
_NONE = re.compile(
    rf"too close to call|\bthe same\b|\bidentical\b|\bequal\b|\bindistinguishable\b|\bunchanged\b|\btie[ds]?\b"
    rf"|\b(?:cannot|can.t|could not|couldn.t)\s+(?:be\s+)?t(?:ell|old)\b|\bno(?:thing)? in it\b"
    rf"|{_NOT}(?:differen(?:t|ce)|change|gain|loss|{_DOWN}|{_UP}|better|worse)\b",
    re.IGNORECASE,
)
_AT_LEAST = re.compile(r"\b(?:more than|over|above|at least|upwards of)\s*$", re.IGNORECASE)
_AT_MOST = re.compile(r"\b(?:(?:no|not) more than|less than|under|below|at most|up to|within)\s*$", re.IGNORECASE)


class Meant(Enum):
    """Whether a number is meant as itself, or as the least or the most that there is."""

    ITSELF = "itself"
    LEAST = "at least"
    MOST = "at most"


@dataclass(frozen=True, kw_only=True)
class Direction:
    """What words say of a difference: -1 for lower, +1 for higher, 0 for neither; `none` where they deny one."""

    sign: int = 0
    none: bool = False
    word: str = ""


def meant_before(text: str, number: Spoken) -> Meant:
    """Return what the words right before a number make of it.

    >>> meant_before("less than 60 °C", spoken_numbers("less than 60 °C")[0])
    <Meant.MOST: 'at most'>
    """
    before = text[: number.start]
    if _AT_MOST.search(before):
        return Meant.MOST
    return Meant.LEAST if _AT_LEAST.search(before) else Meant.ITSELF


def direction_of(text: str, kind: str, number: Spoken | None = None) -> Direction:
    """Return what words say of a difference of one kind of figure; of several directions the one next to the number.

    >>> direction_of("the hotter card ends up 5 K cooler", "core_rise", None).word
    'hotter'
    """
    if number is not None:
        before = text[: number.start]
        for bound in (_AT_MOST, _AT_LEAST):
            before = bound.sub(lambda match: " " * len(match.group()), before)
        text = before + text[number.start :]
    if denial := _NONE.search(text):
        return Direction(none=True, word=denial.group())
    found = [(_distance(match, number), _sign(match, kind), match.group()) for match in _DIRECTION.finditer(text)]
    told = [entry for entry in found if entry[1]]
    if not told:
        return Direction(sign=number.sign if number else 0)
    _, sign, word = min(told, key=lambda entry: entry[0])
    return Direction(sign=sign, word=word)


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


# --- Two numbers that are one: a value with its uncertainty, and a range

_BETWEEN = re.compile(r"\bbetween\s*$", re.IGNORECASE)
_FROM = re.compile(r"\bfrom\s*$", re.IGNORECASE)
_AND = re.compile(r"\s*(?:to|and|–|—|-)\s*", re.IGNORECASE)
_TO = re.compile(r"\s*(?:to|–|—|-)\s*", re.IGNORECASE)


@dataclass(frozen=True, kw_only=True)
class Claim:
    """A number as it is meant: itself, with the uncertainty that was spoken beside it, or a range up to `upper`."""

    number: Spoken
    spread: Spoken | None = None
    upper: Spoken | None = None

    @property
    def text(self) -> str:
        """Return what was said."""
        return f"{self.number.text} to {self.upper.text}" if self.upper else self.number.text


def claims_of(text: str) -> tuple[Claim, ...]:
    """Return the numbers of a text with what belongs together joined: `1130 ± 50 rpm`, `between 35 and 40 degrees`.

    >>> [claim.text for claim in claims_of("between 35 and 40 degrees")]
    ['35 to 40 degrees']
    >>> [claim.spread.text for claim in claims_of("1130 ± 50 rpm")]
    ['± 50 rpm']
    """
    found: list[Claim] = []
    for number in spoken_numbers(text):
        joined = _joined(text, found[-1], number) if found else None
        if joined:
            found[-1] = joined
        else:
            found.append(Claim(number=number))
    return tuple(found)


def _joined(text: str, before: Claim, number: Spoken) -> Claim | None:
    """Return a claim together with the number behind it, where both are one; the unit may stand once, at the end."""
    first = before.number
    if before.spread is not None or before.upper or (first.unit and number.unit and first.unit != number.unit):
        return None
    between = text[first.end : number.start]
    unit = number.unit or first.unit
    if _is_spread(between.strip().casefold(), number):
        return Claim(number=replace(first, unit=unit, end=number.end), spread=number)
    if _is_range(text[: first.start], between) and number.value > first.value and not number.sign:
        return Claim(number=replace(first, unit=unit), upper=replace(number, unit=unit))
    return None


def _is_spread(between: str, number: Spoken) -> bool:
    return (number.text.startswith("±") and between in ("", "(")) or (number.sign < 0 and between == "plus or")


def _is_range(before: str, between: str) -> bool:
    """Return whether two numbers are the ends of a range; `from 95 to 98` tells of a change and is none."""
    if _BETWEEN.search(before):
        return _AND.fullmatch(between) is not None
    return _TO.fullmatch(between) is not None and not _FROM.search(before)


# --- That a run had not settled

_UNSETTLED = re.compile(
    r"\bso far\b|\b(?:not|n.t)\s+(?:yet\s+)?settled\b|\bunsettled\b"
    r"|\bstill\s+(?:drifting|warming|rising|climbing|moving)\b|\btoo short\b|\b(?:not|n.t)\s+final\b",
    re.IGNORECASE,
)
SO_FAR = "so far"
AS_READ = "as read by hand"
_BY_HAND = re.compile(r"\bby hand\b|\boff (?:a|the|its) (?:display|screen)\b", re.IGNORECASE)


def says_unsettled(text: str) -> bool:
    """Return whether words say that a figure rests on a run that had not settled.

    >>> says_unsettled("54 degrees so far"), says_unsettled("54 degrees")
    (True, False)
    """
    return _UNSETTLED.search(text) is not None


def says_by_hand(text: str) -> bool:
    """Return whether words say that a figure was read by hand.

    >>> says_by_hand("54 degrees as read by hand"), says_by_hand("54 degrees")
    (True, False)
    """
    return _BY_HAND.search(text) is not None
