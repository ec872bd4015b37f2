"""Whether the words of a link say what was computed, and what is wrong where they do not."""

from __future__ import annotations

import re
from dataclasses import dataclass
from decimal import Decimal
from enum import Enum

from builder.comparison import Tested
from builder.core.errors import Severity
from builder.core.quantity import MINUS, NO_BREAK, SYMBOLS, Estimate, format_estimate
from builder.core.results import FIGURES
from builder.narration.numbers import Reading, Spoken, reading_of, spoken, spoken_numbers
from builder.narration.truth import Apart, NoDifference, Truth

_LONGEST = 60  # characters of a link's words that a message repeats


@dataclass(frozen=True, kw_only=True)
class Finding:
    """What is wrong with the words of a link: a code, what was said and computed, and how to mend it."""

    code: str
    message: str
    hint: str
    severity: Severity = Severity.ERROR


@dataclass(frozen=True, kw_only=True)
class _Said:
    """The number that a link's words hold, and the computed estimate that it speaks of, in the unit it has."""

    number: Spoken
    estimate: Estimate
    reading: Reading

    @property
    def computed(self) -> Decimal:
        """Return the computed value in the unit that was spoken."""
        return Decimal(repr(self.estimate.value * self.reading.factor + self.reading.offset))

    @property
    def suggestion(self) -> str:
        """Return the computed value in words, as precisely as the number was spoken."""
        decimals = max(0, -int(self.number.value.as_tuple().exponent))
        return spoken(float(self.computed), self.number.unit or self.estimate.unit, decimals)


def judge(words: str, answer: Truth | NoDifference) -> Finding | None:
    """Return what is wrong with a link's words, or None where they say what was computed.

    A number fits where the computed value lies within half a step of its last digit; a difference also needs the
    right direction, and must be separable from none.
    """
    if isinstance(answer, NoDifference):
        message = f"said {_quoted(words)}, but there is no difference to speak of: {answer.why}"
        return Finding(code="claim-not-separable", message=message, hint="leave it out")
    said = _said(words, answer)
    if isinstance(said, Finding):
        return said
    if said is None or answer.address.relative:
        found = _judge_difference(words, answer, said)
    else:
        found = _judge_value(words, answer, said)
    if found or answer.settled:
        return found
    message = f"{_quoted(words)} rests on a run that had not settled"
    return Finding(code="claim-not-settled", message=message, hint="say so, or run longer", severity=Severity.WARNING)


def excused(found: Finding, words: str, truth: Truth, tested: Tested) -> Finding:
    """Return a notice in place of a finding where a correction gives what the words say as the figure's old value.

    A script stays as it was spoken, and the correction tells viewers what has changed.
    """
    address = truth.address
    if found.code != "claim-differs" or address.relative:
        return found
    said = spoken_numbers(words)
    for correction in tested.setup(address.bundle).bundle.corrections:
        was = spoken_numbers(correction.was)[:1] if correction.figure == f"{address.point}/{address.kind}" else ()
        if any(abs(number.value - old.value) <= number.slack for old in was for number in said):
            until = f"it was {correction.was} until the correction of {correction.date.isoformat()}"
            hint = "nothing to mend where the words are published already"
            message = f"{found.message}: {until}"
            return Finding(code="claim-corrected", message=message, hint=hint, severity=Severity.NOTICE)
    return found


def suggestion(truth: Truth) -> str:
    """Return a figure or difference as one speaks it."""
    value = truth.value
    if not truth.address.relative:
        return spoken(value.value, value.unit)
    if truth.apart is Apart.TOO_CLOSE:
        return "too close to call"
    return f"{spoken(abs(value.value), value.unit)} {_direction_of(truth)}"


# --- The number that speaks of the figure, and whether it fits


def _said(words: str, truth: Truth) -> _Said | Finding | None:
    """Return the number that speaks of the figure; None where a difference is spoken of in words alone."""
    numbers = spoken_numbers(words)
    readings = [said for number in numbers if (said := _reading(number, truth))]
    candidates = [said for said in readings if said.number.unit] or readings
    if len(candidates) > 1:
        held = " and ".join(f'"{said.number.text}"' for said in candidates)
        message = f"{_quoted(words)} holds more than one number that may be this figure: {held}"
        return Finding(code="claim-ambiguous", message=message, hint="link each number by itself")
    if candidates:
        return candidates[0]
    if numbers:
        held = " and ".join(f'"{number.text}"' for number in numbers)
        also = " or %" if truth.percent and truth.value.unit != "percent" else ""
        name = FIGURES[truth.address.kind].name
        return _finding("claim-unit", f"said {held}, but {name} is in {SYMBOLS[truth.value.unit]}{also}", truth)
    direction = direction_of(words, truth.address.kind)
    if truth.address.relative and (direction.sign or direction.none):
        return None
    return _finding("claim-without-number", f"{_quoted(words)} holds no number, computed {_computed(truth)}", truth)


def _reading(number: Spoken, truth: Truth) -> _Said | None:
    """Return the number with what it speaks of: percents of a relative difference, unless the figure is in percent."""
    estimates = [truth.value, *([truth.percent] if truth.percent and number.unit else [])]
    for estimate in estimates:
        reading = reading_of(number.unit, estimate.unit) if number.unit else Reading()
        if reading:
            return _Said(number=number, estimate=estimate, reading=reading)
    return None


def _judge_value(words: str, truth: Truth, said: _Said) -> Finding | None:
    number = said.number
    value = -number.value if number.sign < 0 else number.value
    if _fits(value, said.computed, number.slack, bound_before(words, number)):
        return None
    mirrored = value != 0 and abs(value + said.computed) <= number.slack
    return _differs(words, truth, said, code="claim-sign" if mirrored else "claim-differs")


def _judge_difference(words: str, truth: Truth, said: _Said | None) -> Finding | None:
    number = said.number if said else None
    direction = direction_of(words, truth.address.kind, number)
    bound = bound_before(words, number) if number else Bound.ITSELF
    close = truth.apart is Apart.TOO_CLOSE
    if direction.none and not close:
        return _finding("claim-differs", f"said {_quoted(words)}, computed {_computed(truth)}", truth)
    # Zero claims no difference, nor does a number that only says how large one is at most.
    claims = number is None or (number.value != 0 and (direction.sign != 0 or bound is not Bound.MOST))
    if close and claims and not direction.none:
        message = f"said {_quoted(words)}, but {_computed(truth)} cannot be told from no difference"
        hint = 'say "too close to call", or leave the comparison out'
        return Finding(code="claim-not-separable", message=message, hint=hint)
    if not direction.none and direction.sign * truth.value.value < 0:
        word = direction.word or ("+" if direction.sign > 0 else MINUS)
        message = f'said {_quoted(words)}, computed {_computed(truth)}: "{word}" is the wrong way'
        return _finding("claim-sign", message, truth)
    if said is None or _fits(said.number.value, abs(said.computed), said.number.slack, bound):
        return None
    return _differs(words, truth, said)


def _fits(value: Decimal, computed: Decimal, slack: Decimal, bound: Bound) -> bool:
    if bound is Bound.MOST:
        return computed <= value
    if bound is Bound.LEAST:
        return computed >= value
    return abs(value - computed) <= slack


def _differs(words: str, truth: Truth, said: _Said, *, code: str = "claim-differs") -> Finding:
    relative = truth.address.relative
    instead = f"{said.suggestion.lstrip(MINUS)} {_direction_of(truth)}" if relative else said.suggestion
    return _finding(code, f"said {_quoted(words)}, computed {_computed(truth, said.estimate)}", truth, instead)


def _finding(code: str, message: str, truth: Truth, instead: str = "") -> Finding:
    return Finding(code=code, message=message, hint=f'as one speaks it: "{instead or suggestion(truth)}"')


def _computed(truth: Truth, estimate: Estimate | None = None) -> str:
    return format_estimate(estimate or truth.value, sign=truth.address.relative).replace(NO_BREAK, " ")


def _quoted(words: str) -> str:
    text = " ".join(words.split())
    return f'"{text}"' if len(text) <= _LONGEST else f'"{text[: _LONGEST - 1].rstrip()}…"'


_DIRECTIONS = {
    "K": ("cooler", "warmer"),
    "1/s": ("less", "more"),
    "W": ("less", "more"),
    "dBA": ("quieter", "louder"),
}


def _direction_of(truth: Truth) -> str:
    lower, higher = _DIRECTIONS.get(truth.value.unit, ("lower", "higher"))
    return lower if truth.value.value < 0 else higher


# --- What words say of a difference: its direction, that there is none, or that a number is only a bound

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


class Bound(Enum):
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


def bound_before(text: str, number: Spoken) -> Bound:
    """Return what the words right before a number make of it.

    >>> bound_before("less than 60 °C", spoken_numbers("less than 60 °C")[0])
    <Bound.MOST: 'at most'>
    """
    before = text[: number.start]
    if _AT_MOST.search(before):
        return Bound.MOST
    return Bound.LEAST if _AT_LEAST.search(before) else Bound.ITSELF


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
