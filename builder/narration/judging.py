"""Whether the words of a link say what was computed."""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass
from decimal import Decimal
from enum import Enum

from builder.archive.bundle import Correction
from builder.comparison import Tested
from builder.core.errors import Severity
from builder.core.quantity import MINUS, NO_BREAK, SYMBOLS, Estimate, format_estimate
from builder.core.results import FIGURES
from builder.core.words import quoted
from builder.narration.numbers import Reading, Spoken, reading_of, spoken, spoken_numbers
from builder.narration.truth import Apart, NoDifference, Truth

# --- What words say of a difference: its direction, that there is none, or that a number is only a bound


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


# --- What is wrong with the words of a link, in words: said, computed, and how to mend it


_LONGEST = 59  # characters of a link's words that a message repeats


@dataclass(frozen=True, kw_only=True)
class Finding:
    """What is wrong with the words of a link: a code, what was said and computed, and how to mend it."""

    code: str
    message: str
    hint: str
    severity: Severity = Severity.ERROR


@dataclass(frozen=True, kw_only=True)
class Said:
    """The number that a link's words hold, and the computed estimate that it speaks of, in the unit it has."""

    number: Spoken
    estimate: Estimate
    reading: Reading

    @property
    def computed(self) -> Decimal:
        """Return the computed value in the unit that was spoken."""
        return Decimal(repr(self.estimate.value * self.reading.factor + self.reading.offset))

    @property
    def as_spoken(self) -> str:
        """Return the computed value in words, as precisely as the number was spoken; a difference with its sign."""
        decimals = max(0, -int(self.number.value.as_tuple().exponent))
        return spoken(float(self.computed), self.number.unit or self.estimate.unit, decimals)


def differs(words: str, said: Said, truth: Truth, *, code: str = "claim-differs") -> Finding:
    """Return the finding for a number that is not the computed one."""
    computed = computed_words(said.estimate, sign=truth.address.relative)
    value = f"{said.as_spoken.lstrip(MINUS)} {_way(truth)}" if truth.address.relative else said.as_spoken
    return Finding(code=code, message=f"said {_quoted(words)}, computed {computed}", hint=_as_spoken(value))


def denied(words: str, truth: Truth) -> Finding:
    """Return the finding for words that deny a difference which there is."""
    computed = computed_words(truth.value, sign=True)
    message = f"said {_quoted(words)}, computed {computed}"
    return Finding(code="claim-differs", message=message, hint=_as_spoken(suggestion(truth)))


def wrong_way(words: str, truth: Truth, way: Way) -> Finding:
    """Return the finding for a difference in the wrong direction."""
    direction = way.word or ("+" if way.sign > 0 else MINUS)
    computed = computed_words(truth.value, sign=True)
    message = f'said {_quoted(words)}, computed {computed}: "{direction}" is the wrong way'
    return Finding(code="claim-sign", message=message, hint=_as_spoken(suggestion(truth)))


def too_close(words: str, truth: Truth) -> Finding:
    """Return the finding for a difference that cannot be told from none."""
    why = f"{computed_words(truth.value, sign=True)} cannot be told from no difference"
    return not_separable(words, why, 'say "too close to call", or leave the comparison out')


def not_separable(words: str, why: str, hint: str) -> Finding:
    """Return the finding for a difference that must not be claimed."""
    return Finding(code="claim-not-separable", message=f"said {_quoted(words)}, but {why}", hint=hint)


def ambiguous(words: str, candidates: Sequence[Said]) -> Finding:
    """Return the finding for words in which several numbers may be the figure."""
    held = " and ".join(f'"{said.number.text}"' for said in candidates)
    message = f"{_quoted(words)} holds more than one number that may be this figure: {held}"
    return Finding(code="claim-ambiguous", message=message, hint="link each number by itself")


def wrong_unit(numbers: Sequence[Spoken], truth: Truth) -> Finding:
    """Return the finding for numbers in units that cannot speak of the figure."""
    held = " and ".join(f'"{number.text}"' for number in numbers)
    unit = SYMBOLS[truth.value.unit]
    also = " or %" if truth.percent and truth.value.unit != "percent" else ""
    message = f"said {held}, but {FIGURES[truth.address.kind].name} is in {unit}{also}"
    return Finding(code="claim-unit", message=message, hint=_as_spoken(suggestion(truth)))


def no_number(words: str, truth: Truth) -> Finding:
    """Return the finding for words without a number."""
    computed = computed_words(truth.value, sign=truth.address.relative)
    message = f"{_quoted(words)} holds no number, computed {computed}"
    return Finding(code="claim-without-number", message=message, hint=_as_spoken(suggestion(truth)))


def unsettled(words: str) -> Finding:
    """Return the warning for a figure that is not final."""
    message = f"{_quoted(words)} rests on a run that had not settled"
    return Finding(code="claim-not-settled", message=message, hint="say so, or run longer", severity=Severity.WARNING)


def computed_words(estimate: Estimate, *, sign: bool = False) -> str:
    """Return an estimate as messages show it."""
    return format_estimate(estimate, sign=sign).replace(NO_BREAK, " ")


def suggestion(truth: Truth) -> str:
    """Return a figure or difference as one speaks it."""
    value = truth.value
    if not truth.address.relative:
        return spoken(value.value, value.unit)
    if truth.apart is Apart.TOO_CLOSE:
        return "too close to call"
    return f"{spoken(abs(value.value), value.unit)} {_way(truth)}"


_FINDINGS_WAYS = {
    "K": ("cooler", "warmer"),
    "1/s": ("less", "more"),
    "W": ("less", "more"),
    "dBA": ("quieter", "louder"),
}


def _way(truth: Truth) -> str:
    lower, higher = _FINDINGS_WAYS.get(truth.value.unit, ("lower", "higher"))
    return lower if truth.value.value < 0 else higher


def _as_spoken(words: str) -> str:
    return f'as one speaks it: "{words}"'


def _quoted(words: str) -> str:
    return quoted(" ".join(words.split()), _LONGEST)


def judge(words: str, answer: Truth | NoDifference) -> Finding | None:
    """Return what is wrong with a link's words, or None where they say what was computed.

    A number fits where the computed value lies within half a step of its last digit; a difference also needs the
    right direction, and must be separable from none.
    """
    if isinstance(answer, NoDifference):
        return not_separable(words, f"there is no difference to speak of: {answer.why}", "leave it out")
    said = _said(words, answer)
    if isinstance(said, Finding):
        return said
    found = _difference(words, answer, said) if answer.address.relative else _value(words, answer, said)
    return found or (None if answer.settled else unsettled(words))


def _said(words: str, truth: Truth) -> Said | Finding | None:
    """Return the number that speaks of the figure; None where a difference is spoken of in words alone."""
    numbers = spoken_numbers(words)
    readings = [said for number in numbers if (said := _reading(number, truth))]
    candidates = [said for said in readings if said.number.unit] or readings
    if len(candidates) > 1:
        return ambiguous(words, candidates)
    if candidates:
        return candidates[0]
    if numbers:
        return wrong_unit(numbers, truth)
    way = way_of(words, truth.address.kind)
    spoken_of = truth.address.relative and (way.sign or way.none)
    return None if spoken_of else no_number(words, truth)


def _reading(number: Spoken, truth: Truth) -> Said | None:
    """Return the number with what it speaks of: percents of a relative difference, unless the figure is in percent."""
    estimates = [truth.value, *([truth.percent] if truth.percent and number.unit else [])]
    for estimate in estimates:
        reading = reading_of(number.unit, estimate.unit) if number.unit else Reading()
        if reading:
            return Said(number=number, estimate=estimate, reading=reading)
    return None


def _value(words: str, truth: Truth, said: Said | None) -> Finding | None:
    if said is None:
        return no_number(words, truth)
    number = said.number
    value = -number.value if number.sign < 0 else number.value
    if _fits(value, said.computed, number.slack, bound_before(words, number)):
        return None
    mirrored = value != 0 and abs(value + said.computed) <= number.slack
    return differs(words, said, truth, code="claim-sign" if mirrored else "claim-differs")


def _fits(value: Decimal, computed: Decimal, slack: Decimal, bound: Bound) -> bool:
    if bound is Bound.MOST:
        return computed <= value
    if bound is Bound.LEAST:
        return computed >= value
    return abs(value - computed) <= slack


def _difference(words: str, truth: Truth, said: Said | None) -> Finding | None:
    number = said.number if said else None
    way = way_of(words, truth.address.kind, number)
    close = truth.apart is Apart.TOO_CLOSE
    if way.none and not close:
        return denied(words, truth)
    claims = not way.none and (number is None or _claims(words, number, way.sign))
    if close and claims:
        return too_close(words, truth)
    if not way.none and way.sign * truth.value.value < 0:
        return wrong_way(words, truth, way)
    return None if said is None else _size(words, truth, said)


def _claims(words: str, number: Spoken, sign: int) -> bool:
    """Tell a number that claims a difference from zero, and from one that only says how large it is at most."""
    return number.value != 0 and (sign != 0 or bound_before(words, number) is not Bound.MOST)


def _size(words: str, truth: Truth, said: Said) -> Finding | None:
    bound = bound_before(words, said.number)
    if _fits(said.number.value, abs(said.computed), said.number.slack, bound):
        return None
    return differs(words, said, truth)


# --- Figures that were right when they were spoken: a correction says what a figure was before


def excused(found: Finding, words: str, truth: Truth, tested: Tested) -> Finding:
    """Return a notice in place of a finding where the words say what a correction gives as the figure's old value.

    A script stays as it was spoken, and the correction tells viewers what has changed.
    """
    address = truth.address
    if found.code != "claim-differs" or address.relative:
        return found
    figure = f"{address.point}/{address.kind}"
    corrections = (c for c in tested.setup(address.bundle).bundle.corrections if c.figure == figure)
    match = next((c for c in corrections if _says(words, c)), None)
    if match is None:
        return found
    message = f"{found.message}: it was {match.was} until the correction of {match.date.isoformat()}"
    hint = "nothing to mend where the words are published already"
    return Finding(code="claim-corrected", message=message, hint=hint, severity=Severity.NOTICE)


def _says(words: str, correction: Correction) -> bool:
    said, was = spoken_numbers(words), spoken_numbers(correction.was)
    return bool(was) and any(abs(number.value - was[0].value) <= number.slack for number in said)
