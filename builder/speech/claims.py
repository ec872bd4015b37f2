"""Whether the words of a link say what was computed."""

from __future__ import annotations

from decimal import Decimal

from builder.speech import findings
from builder.speech.directions import Bound, bound_before, way_of
from builder.speech.findings import Finding, Said
from builder.speech.numerals import Spoken, spoken_numbers
from builder.speech.truth import Apart, NoDifference, Truth
from builder.speech.units import Reading, reading_of


def judge(words: str, answer: Truth | NoDifference) -> Finding | None:
    """Return what is wrong with a link's words, or None where they say what was computed.

    A number fits where the computed value lies within half a step of its last digit; a difference also needs the
    right direction, and must be separable from none.
    """
    if isinstance(answer, NoDifference):
        return findings.not_separable(words, f"there is no difference to speak of: {answer.why}", "leave it out")
    said = _said(words, answer)
    if isinstance(said, Finding):
        return said
    found = _difference(words, answer, said) if answer.address.relative else _value(words, answer, said)
    return found or (None if answer.settled else findings.unsettled(words))


def _said(words: str, truth: Truth) -> Said | Finding | None:
    """Return the number that speaks of the figure; None where a difference is spoken of in words alone."""
    numbers = spoken_numbers(words)
    readings = [said for number in numbers if (said := _reading(number, truth))]
    candidates = [said for said in readings if said.number.unit] or readings
    if len(candidates) > 1:
        return findings.ambiguous(words, candidates)
    if candidates:
        return candidates[0]
    if numbers:
        return findings.wrong_unit(numbers, truth)
    way = way_of(words, truth.address.kind)
    spoken_of = truth.address.relative and (way.sign or way.none)
    return None if spoken_of else findings.no_number(words, truth)


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
        return findings.no_number(words, truth)
    number = said.number
    value = -number.value if number.sign < 0 else number.value
    if _fits(value, said.computed, number.slack, bound_before(words, number)):
        return None
    mirrored = value != 0 and abs(value + said.computed) <= number.slack
    return findings.differs(words, said, truth, code="claim-sign" if mirrored else "claim-differs")


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
        return findings.denied(words, truth)
    claims = not way.none and (number is None or _claims(words, number, way.sign))
    if close and claims:
        return findings.too_close(words, truth)
    if not way.none and way.sign * truth.value.value < 0:
        return findings.wrong_way(words, truth, way)
    return None if said is None else _size(words, truth, said)


def _claims(words: str, number: Spoken, sign: int) -> bool:
    """Tell a number that claims a difference from zero, and from one that only says how large it is at most."""
    return number.value != 0 and (sign != 0 or bound_before(words, number) is not Bound.MOST)


def _size(words: str, truth: Truth, said: Said) -> Finding | None:
    bound = bound_before(words, said.number)
    if _fits(said.number.value, abs(said.computed), said.number.slack, bound):
        return None
    return findings.differs(words, said, truth)
