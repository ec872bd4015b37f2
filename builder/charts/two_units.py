"""Texts that say temperatures: as they are, and what stands for them where readers chose °F."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from decimal import Decimal
from typing import TypeAlias

from builder.core.quantity import SYMBOLS, Estimate, FloatArray, format_number, in_fahrenheit

Turn: TypeAlias = Callable[[Estimate], Estimate]

_NOISE = 9  # decimals: below these a number on an axis is the arithmetic's own


@dataclass(frozen=True, kw_only=True)
class Said:
    """A text, and what stands for it where readers chose °F; empty where it says no temperature."""

    text: str
    fahrenheit: str = ""


NOTHING = Said(text="")


def said(words: Callable[[Turn], str]) -> Said:
    """Return what `words` says of its figures, each passed through the function that it is given, in both units.

    >>> from builder.core.quantity import format_estimate
    >>> rise = Estimate(value=30.34, u=0.8, unit="K")
    >>> said(lambda turn: format_estimate(turn(rise), unit=False)).fahrenheit.replace(chr(160), " ")
    '54.6 ± 2.8'
    """
    return twins(words(as_it_is), words(turned))


def twins(here: str, there: str) -> Said:
    """Return a text with what stands for it in °F, unless that is the same."""
    return Said(text=here, fahrenheit=there if there != here else "")


def as_it_is(estimate: Estimate) -> Estimate:
    """Return the estimate itself."""
    return estimate


def turned(estimate: Estimate) -> Estimate:
    """Return a temperature, or a difference of temperatures, in °F; other quantities as they are."""
    return in_fahrenheit(estimate) or estimate


def exact(value: float, unit: str) -> Estimate:
    """Return a number without uncertainty, such as a limit or a place on an axis."""
    return Estimate(value=value, u=0.0, unit=unit)


def symbol(unit: str, turn: Turn) -> str:
    """Return what people see of a unit.

    >>> symbol("K", turned), symbol("W", turned)
    ('°F', 'W')
    """
    return SYMBOLS[turn(exact(0.0, unit)).unit]


@dataclass(frozen=True, kw_only=True)
class Axis:
    """What an axis shows: words with `{}` for the symbol of its unit, and the id of that unit."""

    words: str
    unit: str

    @property
    def name(self) -> Said:
        """The name of the axis."""
        return said(lambda turn: self.words.format(symbol(self.unit, turn)))


def ticks_in_fahrenheit(ticks: Sequence[float], unit: str) -> tuple[str, ...]:
    """Return the numbers that stand at the ticks of an axis in °F, all with as many decimals as one of them needs.

    Empty where the axis has no temperature.

    >>> ticks_in_fahrenheit((0.0, 2.5, 5.0), "K"), ticks_in_fahrenheit((-20.0, 20.0), "degC")
    (('0.0', '4.5', '9.0'), ('−4', '68'))
    """
    found = [there.value for tick in ticks if (there := in_fahrenheit(exact(tick, unit)))]
    decimals = max(map(_decimals, found), default=0)
    return tuple(format_number(value, decimals) for value in found)


def tellable(values: FloatArray, unit: str, decimals: tuple[int, int]) -> list[float]:
    """Return numbers with as few decimals as tell the same as all of them, to `decimals` in the unit and in °F.

    A script rounds them once more: 54.346 °C is told as 54.3 °C, which 54.35 would not be. NaN stays.

    >>> import numpy as np
    >>> tellable(np.array([54.346, 54.37]), "degC", (1, 1))
    [54.346, 54.37]
    """
    return [value if math.isnan(value) else _tellable(value, unit, decimals) for value in values.tolist()]


def _tellable(value: float, unit: str, decimals: tuple[int, int]) -> float:
    shorter = (round(value, places) for places in range(max(decimals) + 1, _NOISE))
    wanted = _told(value, unit, decimals)
    return next((short for short in shorter if _told(short, unit, decimals) == wanted), value)


def _told(value: float, unit: str, decimals: tuple[int, int]) -> tuple[str, str]:
    number = exact(value, unit)
    here, there = (round(turn(number).value, _NOISE) for turn in (as_it_is, turned))
    return format_number(here, decimals[0]), format_number(there, decimals[1])


def _decimals(value: float) -> int:
    power = Decimal(repr(round(value, _NOISE))).normalize().as_tuple().exponent
    return max(0, -int(power))
