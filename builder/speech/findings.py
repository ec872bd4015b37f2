"""What is wrong with the words of a link, in words: said, computed, and how to mend it."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from decimal import Decimal

from builder.errors import Severity
from builder.figures import FIGURES
from builder.quantity import MINUS, NO_BREAK, SYMBOLS, Estimate, format_estimate
from builder.speech.directions import Way
from builder.speech.numerals import Spoken
from builder.speech.spoken import spoken
from builder.speech.truth import Apart, Truth
from builder.speech.units import Reading

_LONGEST = 60  # characters of a link's words that a message repeats


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


_WAYS = {"K": ("cooler", "warmer"), "1/s": ("less", "more"), "W": ("less", "more"), "dBA": ("quieter", "louder")}


def _way(truth: Truth) -> str:
    lower, higher = _WAYS.get(truth.value.unit, ("lower", "higher"))
    return lower if truth.value.value < 0 else higher


def _as_spoken(words: str) -> str:
    return f'as one speaks it: "{words}"'


def _quoted(words: str) -> str:
    text = " ".join(words.split())
    return f'"{text}"' if len(text) <= _LONGEST else f'"{text[: _LONGEST - 1].rstrip()}…"'
