"""Units as logs spell them -> unit ids of the program."""

from __future__ import annotations

import re
from functools import lru_cache

import numpy as np

from builder.quantity import convert, is_unit

_SPELLINGS = {
    "degC": "°C C ℃ ºC degC deg_C degc celsius",
    "degF": "°F F ℉ ºF degF deg_F fahrenheit",
    "K": "K kelvin",
    "W": "W w watt watts",
    "V": "V v volt volts",
    "MHz": "MHz Mhz mhz MHZ",
    "rpm": "rpm RPM Rpm r/min 1/min rev/min",
    "L/min": "L/min l/min lpm LPM",
    "gallon/minute": "gpm GPM gal/min",
    "ms": "ms msec",
    "s": "s S sec secs second seconds",
    "us": "us µs μs",
    "1/s": "fps FPS 1/s",
    "percent": "% percent pct",
    "dBA": "dBA dB(A) dba",
}
_ALIASES = {spelling: unit for unit, spellings in _SPELLINGS.items() for spelling in spellings.split()}
# The units library evaluates what it is given, so nothing but the shape of a unit may reach it.
_SHAPE = re.compile(r"(?:1/)?[^\W\d_]+(?:_[^\W\d_]+)*(?:\s?[/*·]\s?[^\W\d_]+)*")
_LONGEST = 30
# Turns and samples per second are both 1/s to the units library, and it would insert a factor of 2π between them.
_ALLOWED = {
    "rpm": re.compile(r"rpm|rps|k?rev\w*/\w+"),
    "MHz": re.compile(r"\w*hertz|\w{0,2}Hz"),
    "1/s": re.compile(r"1/\w+|\w{0,2}Hz"),
    "dBA": re.compile(r"dBA"),
}


@lru_cache(maxsize=1000)
def unit_id(text: str) -> str | None:
    """Return the unit id for a spelling, or None where no such unit is known.

    >>> unit_id("°C"), unit_id("mW"), unit_id("parsnips")
    ('degC', 'mW', None)
    """
    spelling = text.strip()
    if spelling in _ALIASES:
        return _ALIASES[spelling]
    if len(spelling) > _LONGEST or not _SHAPE.fullmatch(spelling):
        return None
    return spelling if is_unit(spelling) else None


@lru_cache(maxsize=1000)
def converts(unit: str, to: str) -> bool:
    """Return whether a unit id measures the same as another.

    >>> converts("mW", "W"), converts("MHz", "rpm")
    (True, False)
    """
    if unit == to:
        return True
    if to in _ALLOWED and not _ALLOWED[to].fullmatch(unit):
        return False
    try:
        convert(np.array([1.0]), unit, to)
    except ValueError:
        return False
    return True
