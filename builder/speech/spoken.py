"""Numbers rounded as one speaks them, with the unit in words."""

from __future__ import annotations

import math
from collections.abc import Iterable

from builder.quantity import MINUS, Estimate, format_number

# Unit id -> words for one and for many.
_WORDS = {
    "degC": ("degree", "degrees"),
    "K": ("degree", "degrees"),
    "K/W": ("kelvin per watt", "kelvins per watt"),
    "W": ("watt", "watts"),
    "V": ("volt", "volts"),
    "MHz": ("megahertz", "megahertz"),
    "rpm": ("revolution per minute", "revolutions per minute"),
    "L/min": ("litre per minute", "litres per minute"),
    "1/s": ("frame per second", "frames per second"),
    "1/J": ("frame per joule", "frames per joule"),
    "percent": ("percent", "percent"),
    "dBA": ("decibel", "decibels"),
    "degF": ("degree Fahrenheit", "degrees Fahrenheit"),
    "degree": ("degree", "degrees"),
    "GHz": ("gigahertz", "gigahertz"),
    "mV": ("millivolt", "millivolts"),
}
_FINE = {"K/W": 3, "V": 2, "1/J": 2, "L/min": 1, "GHz": 2}  # units whose whole numbers say too little
_SMALL = 2.0  # below this a whole number is off by a quarter and more
_LARGE = 10.0  # from here a whole number is off by a twentieth at most


def spoken_decimals(value: float, unit: str) -> int:
    """Return with how many decimals one speaks a number: none, a tenth where it is small, more where it is tiny.

    >>> [spoken_decimals(v, "W") for v in (317.2, 1.4, 0.04)], spoken_decimals(0.1168, "K/W")
    ([0, 1, 2], 3)
    """
    size = abs(value)
    if unit in _FINE:
        return max(_FINE[unit], _needed(size))
    return 0 if size >= _SMALL or size == 0 else _needed(size)


def _needed(size: float) -> int:
    """Decimals that leave one digit standing, at least one."""
    return max(1, -math.floor(math.log10(size))) if size > 0 else 0


def spoken(value: float, unit: str, decimals: int | None = None) -> str:
    """Return a number in the words of narration; `decimals` None rounds as one speaks.

    >>> spoken(316.6, "W"), spoken(-0.29, "1/s"), spoken(1.0, "K", 0)
    ('317 watts', '−0.3 frames per second', '1 degree')
    """
    digits = spoken_digits(value, unit, decimals)
    one, many = _WORDS[unit]
    return f"{digits} {one if digits.lstrip(MINUS) == '1' else many}"


def spoken_digits(value: float, unit: str, decimals: int | None = None) -> str:
    """Return the digits of `spoken` alone."""
    return format_number(value, spoken_decimals(value, unit) if decimals is None else decimals)


def difference_decimals(a: float, b: float, unit: str, difference: float | None = None) -> int:
    """Return the decimals with which two values and their difference (a less b by default) are spoken together.

    Whole numbers, or a tenth where the difference needs it: where it is small, or where whole numbers would not add
    up for a listener by a good part of it (33 less 27 is no 7).

    >>> difference_decimals(246.0, 317.0, "W"), difference_decimals(26.55, 33.46, "K"), difference_decimals(1.2, 0, "K")
    (0, 1, 1)
    """
    between = a - b if difference is None else difference
    own = max(spoken_decimals(max(abs(a), abs(b)), unit), spoken_decimals(between, unit))
    apart = float(_plain(a, own)) - float(_plain(b, own))
    adds_up = math.isclose(apart, float(_plain(between, own)), abs_tol=1e-9)
    return own if adds_up or own or abs(between) >= _LARGE else 1


def _plain(value: float, decimals: int) -> str:
    return format_number(value, decimals).replace(MINUS, "-")


def listed(items: Iterable[str]) -> str:
    """Return words as `a`, `a and b` or `a, b and c`."""
    words = list(items)
    return " and ".join([", ".join(words[:-1]), words[-1]] if len(words) > 1 else words)


def in_words(estimate: Estimate) -> str:
    """Return an estimate in the words of narration."""
    return spoken(estimate.value, estimate.unit)
