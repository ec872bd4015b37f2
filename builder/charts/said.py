"""Texts that say temperatures: as they are, and what stands for them where readers chose °F."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from decimal import Decimal
from typing import TypeAlias

from builder.quantity import SYMBOLS, Estimate, format_number, in_fahrenheit

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

    >>> from builder.quantity import format_estimate
    >>> rise = Estimate(value=30.34, u=0.8, unit="K")
    >>> said(lambda turn: format_estimate(turn(rise), unit=False)).fahrenheit.replace(chr(160), " ")
    '54.6 ± 2.8'
    """
    here, there = words(_as_it_is), words(_turned)
    return Said(text=here, fahrenheit=there if there != here else "")


def _as_it_is(estimate: Estimate) -> Estimate:
    return estimate


def _turned(estimate: Estimate) -> Estimate:
    return in_fahrenheit(estimate) or estimate


def exact(value: float, unit: str) -> Estimate:
    """Return a number without uncertainty, such as a limit or a place on an axis."""
    return Estimate(value=value, u=0.0, unit=unit)


def symbol(unit: str, turn: Turn) -> str:
    """Return what people see of a unit.

    >>> symbol("K", _turned), symbol("W", _turned)
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


def _decimals(value: float) -> int:
    power = Decimal(repr(round(value, _NOISE))).normalize().as_tuple().exponent
    return max(0, -int(power))
