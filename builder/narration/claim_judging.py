"""Whether the words of a link say what was computed, and what is wrong where they do not."""

from __future__ import annotations

from dataclasses import dataclass, replace
from decimal import Decimal

from builder.comparison import Tested
from builder.core.errors import Severity
from builder.core.quantity import (
    MINUS,
    NO_BREAK,
    SYMBOLS,
    Estimate,
    estimate_parts,
    format_estimate,
    format_limit,
    format_number,
)
from builder.core.results import BOUND_WORDS, FIGURES, Bound
from builder.narration.link_values import Apart, NoDifference, Truth
from builder.narration.numbers import Reading, Spoken, reading_of, spoken, spoken_limit, spoken_numbers
from builder.narration.wording import (
    AS_READ,
    SO_FAR,
    Claim,
    Meant,
    claims_of,
    direction_of,
    meant_before,
    says_by_hand,
    says_unsettled,
)

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

    claim: Claim
    estimate: Estimate
    reading: Reading
    bound: Bound = Bound.NONE

    @property
    def number(self) -> Spoken:
        """Return the number, or the lower end of a range."""
        return self.claim.number

    @property
    def read(self) -> Estimate:
        """Return the computed estimate in the unit that was spoken."""
        there = self.estimate.scaled(self.reading.factor, self.estimate.unit)
        return replace(there, value=there.value + self.reading.offset)

    @property
    def computed(self) -> Decimal:
        """Return the computed value in the unit that was spoken; of a bound the end of its interval."""
        if self.bound is Bound.NONE:
            return Decimal(repr(self.read.value))
        return Decimal(repr(_limit(self.read, self.bound)))

    @property
    def shown(self) -> tuple[Decimal, Decimal]:
        """Return the digits that a page shows, of value and uncertainty."""
        parts = estimate_parts(self.read)
        return Decimal(parts.value.replace(MINUS, "-")), Decimal(parts.u or "0")

    @property
    def suggestion(self) -> str:
        """Return the computed value in words, as precisely as the number was spoken."""
        unit = self.number.unit or self.estimate.unit
        if self.bound is not Bound.NONE:
            limit = spoken_limit(float(self.computed), unit, lower=self.bound is Bound.LOWER)
            return f"{BOUND_WORDS[self.bound]} {limit}"
        decimals = max(0, _places(self.number.value))
        nothing = float(format_number(float(self.computed), decimals).replace(MINUS, "-")) == 0
        return spoken(float(self.computed), unit, None if nothing else decimals)

    def fits(self, computed: Decimal, value: Decimal, meant: Meant) -> bool:
        """Return whether the words hold of `computed`, where `value` is what they say; what a page shows always fits.

        A number fits where the computed value lies within half a step of its last digit, a range where it lies inside.
        """
        shown, spread = self.shown
        shown = abs(shown) if computed == abs(self.computed) and value >= 0 else shown
        if self.claim.upper:
            return any(value <= found <= self.claim.upper.value for found in (computed, shown))
        if meant is Meant.MOST:
            return computed <= value
        if meant is Meant.LEAST:
            return computed >= value
        said = self.claim.spread
        width = Decimal(repr(self.read.expanded()))
        narrow = said is None or said.value == spread or abs(said.value - width) <= said.slack
        as_shown = value == shown and _places(self.number.value) <= _places(shown)
        return narrow and (as_shown or abs(value - computed) <= self.number.slack)


def _places(number: Decimal) -> int:
    return -int(number.as_tuple().exponent)


def _limit(estimate: Estimate, bound: Bound) -> float:
    return estimate.value + (estimate.expanded() if bound is Bound.UPPER else -estimate.expanded())


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
    if found is None and answer.by_hand and not says_by_hand(words):
        hint = f'say so, as in "{suggestion(answer)}"'
        message = f"{_quoted(words)} rests on readings by hand, and nobody can say whether the run had settled"
        return Finding(code="claim-by-hand", message=message, hint=hint, severity=Severity.WARNING)
    if found or answer.settled or answer.bound is not Bound.NONE or says_unsettled(words):
        return found
    message = f"{_quoted(words)} rests on a run that had not settled"
    hint = f'say so, as in "{suggestion(answer)}", or run longer'
    return Finding(code="claim-not-settled", message=message, hint=hint, severity=Severity.WARNING)


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
    """Return a figure or difference as one speaks it; the words pass `judge`."""
    value = truth.value
    if truth.bound is not Bound.NONE:
        limit = spoken_limit(_limit(value, truth.bound), value.unit, lower=truth.bound is Bound.LOWER)
        return f"{BOUND_WORDS[truth.bound]} {limit}"
    if not truth.address.relative:
        return _so_far(spoken(value.value, value.unit), truth)
    if truth.apart is Apart.TOO_CLOSE:
        return _so_far("too close to call", truth)
    return _so_far(f"{spoken(abs(value.value), value.unit)} {_direction_of(truth)}", truth)


def _so_far(words: str, truth: Truth) -> str:
    return f"{words}{said_of(truth)}"


def said_of(truth: Truth) -> str:
    """Return what is said behind a figure's number of what it rests on; empty where its runs had settled."""
    if truth.by_hand:
        return f" {AS_READ}"
    return "" if truth.settled else f" {SO_FAR}"


# --- The number that speaks of the figure, and whether it fits


def _said(words: str, truth: Truth) -> _Said | Finding | None:
    """Return the number that speaks of the figure; None where a difference is spoken of in words alone."""
    claims = claims_of(words)
    readings = [said for claim in claims if (said := _reading(claim, truth))]
    candidates = [said for said in readings if said.number.unit] or readings
    if len(candidates) > 1:
        held = " and ".join(f'"{said.claim.text}"' for said in candidates)
        message = f"{_quoted(words)} holds more than one number that may be this figure: {held}"
        return Finding(code="claim-ambiguous", message=message, hint="link each number by itself")
    if candidates:
        return candidates[0]
    if claims:
        held = " and ".join(f'"{claim.text}"' for claim in claims)
        also = " or %" if truth.percent and truth.value.unit != "percent" else ""
        name = FIGURES[truth.address.kind].name
        return _finding("claim-unit", f"said {held}, but {name} is in {SYMBOLS[truth.value.unit]}{also}", truth)
    direction = direction_of(words, truth.address.kind)
    if truth.address.relative and (direction.sign or direction.none):
        return None
    return _finding("claim-without-number", f"{_quoted(words)} holds no number, computed {_computed(truth)}", truth)


def _reading(claim: Claim, truth: Truth) -> _Said | None:
    """Return the number with what it speaks of: percents of a relative difference, unless the figure is in percent."""
    unit = claim.number.unit
    estimates = [truth.value, *([truth.percent] if truth.percent and unit else [])]
    for estimate in estimates:
        reading = reading_of(unit, estimate.unit) if unit else Reading()
        if reading:
            return _Said(claim=claim, estimate=estimate, reading=reading, bound=truth.bound)
    return None


_MEANT = {Bound.NONE: None, Bound.LOWER: Meant.LEAST, Bound.UPPER: Meant.MOST}


def _judge_value(words: str, truth: Truth, said: _Said) -> Finding | None:
    number = said.number
    value = -number.value if number.sign < 0 else number.value
    meant = meant_before(words, number)
    as_bound = truth.bound is Bound.NONE or meant is _MEANT[truth.bound]
    # Of a lower bound a smaller one holds too.
    if as_bound and said.fits(said.computed, value, meant):
        return None
    mirrored = value != 0 and abs(value + said.computed) <= number.slack
    return _differs(words, truth, said, code="claim-sign" if mirrored else "claim-differs")


def _judge_difference(words: str, truth: Truth, said: _Said | None) -> Finding | None:
    number = said.number if said else None
    direction = direction_of(words, truth.address.kind, number)
    meant = meant_before(words, number) if number else Meant.ITSELF
    close = truth.apart is Apart.TOO_CLOSE
    if direction.none and not close:
        return _finding("claim-differs", f"said {_quoted(words)}, computed {_computed(truth)}", truth)
    # Zero claims no difference, nor does a number that only says how large one is at most.
    claims = number is None or (number.value != 0 and (direction.sign != 0 or meant is not Meant.MOST))
    if close and claims and not direction.none:
        message = f"said {_quoted(words)}, but {_computed(truth)} cannot be told from no difference"
        hint = f'say "{suggestion(truth)}", or leave the comparison out'
        return Finding(code="claim-not-separable", message=message, hint=hint)
    if not direction.none and direction.sign * truth.value.value < 0:
        word = direction.word or ("+" if direction.sign > 0 else MINUS)
        message = f'said {_quoted(words)}, computed {_computed(truth)}: "{word}" is the wrong way'
        return _finding("claim-sign", message, truth)
    if said is None or said.fits(abs(said.computed), said.number.value, meant):
        return None
    return _differs(words, truth, said)


def _differs(words: str, truth: Truth, said: _Said, *, code: str = "claim-differs") -> Finding:
    instead = said.suggestion
    if truth.apart is Apart.TOO_CLOSE:
        instead = suggestion(truth)
    elif truth.address.relative:
        instead = _so_far(f"{instead.lstrip(MINUS)} {_direction_of(truth)}", truth)
    elif truth.bound is Bound.NONE:
        instead = _so_far(instead, truth)
    return _finding(code, f"said {_quoted(words)}, computed {_computed(truth, said.estimate)}", truth, instead)


def _finding(code: str, message: str, truth: Truth, instead: str = "") -> Finding:
    return Finding(code=code, message=message, hint=f'as one speaks it: "{instead or suggestion(truth)}"')


def _computed(truth: Truth, estimate: Estimate | None = None) -> str:
    if truth.bound is not Bound.NONE:
        limit = format_limit(truth.value, lower=truth.bound is Bound.LOWER).replace(NO_BREAK, " ")
        return f"{BOUND_WORDS[truth.bound]} {limit}"
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
