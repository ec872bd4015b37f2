"""Figures that were right when they were spoken: a correction says what a figure was before."""

from __future__ import annotations

from builder.compare import Tested
from builder.errors import Severity
from builder.model import Correction
from builder.speech.findings import Finding
from builder.speech.numerals import spoken_numbers
from builder.speech.truth import Truth


def excused(found: Finding, words: str, truth: Truth, tested: Tested) -> Finding:
    """Return a notice in place of a finding where the words say what a correction gives as the figure's old value.

    A script stays as it was spoken, and the correction tells viewers what has changed.
    """
    address = truth.address
    if found.code != "claim-differs" or address.relative:
        return found
    figure = f"{address.point}/{address.kind}"
    corrections = (c for c in tested.bundle(address.bundle).corrections if c.figure == figure)
    match = next((c for c in corrections if _says(words, c)), None)
    if match is None:
        return found
    message = f"{found.message}: it was {match.was} until the correction of {match.date.isoformat()}"
    hint = "nothing to mend where the words are published already"
    return Finding(code="claim-corrected", message=message, hint=hint, severity=Severity.NOTICE)


def _says(words: str, correction: Correction) -> bool:
    said, was = spoken_numbers(words), spoken_numbers(correction.was)
    return bool(was) and any(abs(number.value - was[0].value) <= number.slack for number in said)
