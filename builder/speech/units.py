"""Units as people say and write them, and the figures that each can speak of."""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass
from types import MappingProxyType

# What may stand behind a number, longest reading first. A single letter counts only in its own case.
_SPELLINGS = {
    "1/J": r"frames?\s*(?:per|a|/)\s*joule\b|frames?\s*/\s*(?-i:J)\b",
    "K/W": r"(?:(?-i:K)|°\s?C|kelvins?|degrees?(?:\s+celsius)?)\s*(?:per\s+watt\b|(?-i:/\s*W)\b)",
    "1/s": r"frames?\s*(?:per|a|/)\s*second\b|frames?\s*/\s*(?-i:s)\b|fps\b|frames?\b",
    "degC": r"°\s?C\b|℃|degrees?\s+(?:celsius|centigrade)\b",
    "degF": r"°\s?F\b|degrees?\s+fahrenheit\b",
    "degree": r"°|degrees?\b",
    "K": r"(?-i:K)\b|kelvins?\b",
    "W": r"(?-i:W)\b|watts?\b",
    "percent": r"%|per\s?cent(?:age\s+points?)?\b",
    "MHz": r"MHz\b|megahertz\b",
    "GHz": r"GHz\b|gigahertz\b",
    "mV": r"mV\b|millivolts?\b",
    "V": r"(?-i:V)\b|volts?\b",
    "rpm": r"rpm\b|r/min\b|revolutions\s+(?:per|a)\s+minute\b",
    "L/min": r"L\s*/\s*min\b|lit(?:re|er)s?\s+(?:per|a)\s+minute\b",
    "dBA": r"dB\s?\(A\)|dBA?\b|decibels?\b",
}
_IDS = tuple(_SPELLINGS)
UNIT = "|".join(f"(?P<u{index}>{_SPELLINGS[unit]})" for index, unit in enumerate(_IDS))


@dataclass(frozen=True, kw_only=True)
class Reading:
    """How a figure turns into the unit that was spoken: times `factor`, plus `offset`."""

    factor: float = 1.0
    offset: float = 0.0


_SAME = Reading()
_FITS: Mapping[tuple[str, str], Reading] = MappingProxyType(
    {
        **{(unit, unit): _SAME for unit in _IDS},
        **{(spoken, unit): _SAME for spoken in ("degree", "degC") for unit in ("degC", "K")},
        ("degF", "degC"): Reading(factor=1.8, offset=32.0),
        ("degF", "K"): Reading(factor=1.8),
        ("GHz", "MHz"): Reading(factor=0.001),
        ("mV", "V"): Reading(factor=1000.0),
    }
)


def unit_of(match: re.Match[str]) -> str:
    """Return the id of the unit that a match of UNIT found, or an empty text."""
    return next((unit for index, unit in enumerate(_IDS) if match[f"u{index}"] is not None), "")


def reading_of(spoken: str, unit: str) -> Reading | None:
    """Return how a figure in `unit` reads in the unit that was spoken; None where one cannot speak of the other.

    Kelvins speak of differences only, since nobody gives a temperature on a card in kelvins.

    >>> reading_of("degree", "K"), reading_of("K", "degC")
    (Reading(factor=1.0, offset=0.0), None)
    """
    return _FITS.get((spoken, unit))
