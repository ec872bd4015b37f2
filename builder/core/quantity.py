"""Estimates with uncertainty and unit, and the only rounding and formatting of figures."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from decimal import ROUND_CEILING, ROUND_FLOOR, ROUND_HALF_EVEN, ROUND_UP, Context, Decimal
from functools import cache
from typing import Any, TypeAlias

import numpy as np
from numpy.typing import NDArray

FloatArray: TypeAlias = NDArray[np.float64]

_DIGITS = 700  # any double, written out
_EXACT = 1e-12  # relative: below this an uncertainty is the arithmetic's own
MINUS = "\N{MINUS SIGN}"
PLUS_MINUS = "\N{PLUS-MINUS SIGN}"
NO_BREAK = "\N{NO-BREAK SPACE}"

# Unit id (as the units library reads it) -> what people see. The ids are the only units inside the program.
SYMBOLS = {
    "degC": "°C",
    "degF": "°F",
    "K": "K",
    "delta_degF": "°F",
    "K/W": "K/W",
    "K/W**2": "K/W²",
    "W": "W",
    "V": "V",
    "MHz": "MHz",
    "rpm": "r/min",
    "L/min": "L/min",
    "ms": "ms",
    "s": "s",
    "1/s": "fps",
    "1/J": "frames/J",
    "percent": "%",
    "dBA": "dB(A)",
    "": "",
}


@dataclass(frozen=True, kw_only=True)
class Bounds:
    """Lowest and highest reading that is believed, in a unit of the program: what lies outside is a defect."""

    low: float
    high: float


# Common practice, no source: chosen far outside what a graphics card, its cooler and a room can do.
POSSIBLE = {
    "degC": Bounds(low=-90, high=300),
    "W": Bounds(low=-100, high=10_000),
    "MHz": Bounds(low=0, high=100_000),
    "V": Bounds(low=-10, high=100),
    "rpm": Bounds(low=0, high=200_000),
    "percent": Bounds(low=-1, high=1_000),
    "L/min": Bounds(low=-100, high=1_000),
    "ms": Bounds(low=0, high=3_600_000),
    "1/s": Bounds(low=0, high=100_000),
    "dBA": Bounds(low=-20, high=200),
}


@dataclass(frozen=True, kw_only=True)
class Estimate:
    """A value with its standard uncertainty (k = 1), effective degrees of freedom and unit id.

    `u` is zero only for a number that is exact by definition, such as a count or a setting.
    Raises ValueError for numbers that are not finite, a negative `u`, or `dof` below 1.
    """

    value: float
    u: float
    unit: str
    dof: float = math.inf

    def __post_init__(self) -> None:
        if not (math.isfinite(self.value) and math.isfinite(self.u)) or self.u < 0:
            raise ValueError(f"not an estimate: {self.value!r} with u {self.u!r}")
        if not self.dof >= 1:
            raise ValueError(f"degrees of freedom must be at least 1, not {self.dof!r}")

    def expanded(self, level: float = 0.95) -> float:
        """Return the half-width of the interval with the given coverage: t(level, dof) * u.

        Source: JCGM 100:2008, annex G.6.4; t from scipy, with dof as it is (not truncated).
        """
        return coverage_factor(self.dof, level) * self.u

    def scaled(self, factor: float, unit: str) -> Estimate:
        """Return the estimate times an exact factor, in another unit."""
        return replace(self, value=self.value * factor, u=self.u * abs(factor), unit=unit)


_FAHRENHEIT = {"degC": ("degF", 32.0), "K": ("delta_degF", 0.0)}


def in_fahrenheit(estimate: Estimate) -> Estimate | None:
    """Return a temperature in °F, or a difference of temperatures in Fahrenheit degrees; None for other quantities.

    >>> in_fahrenheit(Estimate(value=50.0, u=0.5, unit="degC"))
    Estimate(value=122.0, u=0.9, unit='degF', dof=inf)
    """
    if estimate.unit not in _FAHRENHEIT:
        return None
    unit, offset = _FAHRENHEIT[estimate.unit]
    scaled = estimate.scaled(1.8, unit)
    return replace(scaled, value=scaled.value + offset)


@cache
def coverage_factor(dof: float, level: float = 0.95) -> float:
    """Return Student's t for a two-sided interval; the normal quantile where `dof` is infinite.

    Source: JCGM 100:2008, table G.2.

    >>> round(coverage_factor(9), 3), round(coverage_factor(math.inf), 3)
    (2.262, 1.96)
    """
    from scipy import special

    p = 0.5 + level / 2
    return float(special.ndtri(p) if math.isinf(dof) else special.stdtrit(dof, p))


@dataclass(frozen=True, kw_only=True)
class Rounded:
    """A value and its uncertainty as digits, both to the same decimal place."""

    value: str
    u: str
    decimals: int


def round_to_uncertainty(value: float, u: float) -> Rounded:
    """Round an uncertainty to one or two digits and its value to the same place.

    The number of digits follows the Particle Data Group: leading digits 100 to 354 keep two,
    355 to 949 keep one, 950 to 999 become 1000 and keep two. Where rounding to nearest would understate
    the uncertainty by more than 2.5 %, it is rounded up (JCGM 100:2008, 7.2.6). Work is done on the
    shortest decimal text of the number, so 0.0355 never turns into 0.035. Raises ValueError unless u > 0.

    >>> round_to_uncertainty(0.827, 0.119)
    Rounded(value='0.83', u='0.12', decimals=2)
    """
    if not (u > 0 and math.isfinite(u) and math.isfinite(value)):
        raise ValueError(f"cannot round {value!r} to uncertainty {u!r}")
    exact = Decimal(repr(float(u)))
    exponent = exact.adjusted()
    lead = int((exact.scaleb(-exponent + 2)).to_integral_value(rounding=ROUND_HALF_EVEN))
    place = exponent - 1 if lead < 355 else exponent  # noqa: PLR2004 - the rule's own number
    quantum = Decimal(1).scaleb(place)
    rounded = exact.quantize(quantum, rounding=ROUND_HALF_EVEN)
    if rounded < exact * Decimal("0.975"):
        rounded = exact.quantize(quantum, rounding=ROUND_UP)
    digits = _quantize(Decimal(repr(float(value))), quantum)
    decimals = max(0, -place)
    return Rounded(value=_text(digits, decimals), u=_text(rounded, decimals), decimals=decimals)


def _quantize(number: Decimal, quantum: Decimal) -> Decimal:
    """Round half to even; the precision grows with the number, so that none is too large."""
    return number.quantize(quantum, rounding=ROUND_HALF_EVEN, context=Context(prec=_DIGITS))


def _text(number: Decimal, decimals: int) -> str:
    text = f"{number:.{decimals}f}"
    if float(text) == 0:
        text = text.lstrip("-")
    return text.replace("-", MINUS)


def format_number(value: float, decimals: int, *, sign: bool = False) -> str:
    """Return a number to a fixed number of decimals, half to even on its decimal text, with a true minus.

    >>> format_number(-0.04, 1), format_number(2.25, 1, sign=True)
    ('0.0', '+2.2')
    """
    digits = _quantize(Decimal(repr(float(value))), Decimal(1).scaleb(-decimals))
    text = _text(digits, decimals)
    return f"+{text}" if sign and digits > 0 else text


def format_estimate(estimate: Estimate, *, level: float | None = 0.95, sign: bool = False, unit: bool = True) -> str:
    """Return `61.4 ± 0.3 °C`: the value with its expanded uncertainty and unit.

    `level` None shows the standard uncertainty. An exact number is shown without an uncertainty.

    >>> format_estimate(Estimate(value=61.412, u=0.2, unit="degC")).replace(NO_BREAK, " ")
    '61.4 ± 0.4 °C'
    """
    parts = estimate_parts(estimate, level=level, sign=sign)
    text = f"{parts.value}{NO_BREAK}{PLUS_MINUS}{NO_BREAK}{parts.u}" if parts.u else parts.value
    symbol = SYMBOLS[estimate.unit] if unit else ""
    return f"{text}{NO_BREAK}{symbol}" if symbol else text


def format_limit(estimate: Estimate, *, lower: bool, unit: bool = True) -> str:
    """Return the end of an estimate's 95 % interval, `lower` or upper, rounded away from the value.

    It has the decimals that the estimate has beside its uncertainty.

    >>> format_limit(Estimate(value=21.74, u=0.2, unit="K"), lower=True).replace(NO_BREAK, " ")
    '21.3 K'
    """
    width = estimate.expanded()
    decimals = estimate_parts(estimate).decimals
    end = Decimal(repr(estimate.value)) + (-1 if lower else 1) * Decimal(repr(width))
    rounding = ROUND_FLOOR if lower else ROUND_CEILING
    digits = end.quantize(Decimal(1).scaleb(-decimals), rounding=rounding, context=Context(prec=_DIGITS))
    symbol = SYMBOLS[estimate.unit] if unit else ""
    return f"{_text(digits, decimals)}{NO_BREAK}{symbol}" if symbol else _text(digits, decimals)


def format_spread(u: float) -> str:
    """Return an uncertainty on its own, rounded as next to its value; `0` for zero.

    >>> format_spread(0.119), format_spread(0.0)
    ('0.12', '0')
    """
    return round_to_uncertainty(0.0, u).u if u > 0 else "0"


def estimate_parts(estimate: Estimate, *, level: float | None = 0.95, sign: bool = False) -> Rounded:
    """Return the digits of an estimate; `u` is empty for an exact number."""
    width = estimate.u if level is None else estimate.expanded(level)
    if width <= _EXACT * max(abs(estimate.value), 1e-300):
        text = format_number(estimate.value, _exact_decimals(estimate.value), sign=sign)
        return Rounded(value=text, u="", decimals=_exact_decimals(estimate.value))
    parts = round_to_uncertainty(estimate.value, width)
    positive = estimate.value > 0 and float(parts.value.replace(MINUS, "-")) != 0
    return replace(parts, value=f"+{parts.value}") if sign and positive else parts


def _exact_decimals(value: float) -> int:
    return 0 if float(value).is_integer() else 1


@cache
def _registry() -> Any:  # noqa: ANN401 - the units library is loaded late and has no useful static type
    import pint

    registry: Any = pint.UnitRegistry(autoconvert_offset_to_baseunit=True)
    registry.define("dBA = []")
    return registry


def is_unit(text: str) -> bool:
    """Return whether the units library knows this unit."""
    try:
        _registry().Unit(text)
    except Exception:  # noqa: BLE001 - any failure of the parser means it is no unit
        return False
    return True


def convert(values: FloatArray, unit: str, to: str) -> FloatArray:
    """Return values in another unit; temperatures keep their offset, so pass differences as `delta_degC` or `K`.

    Raises ValueError where the units measure different things.
    """
    if unit == to:
        return values
    registry = _registry()
    try:
        return np.asarray(registry.Quantity(values, unit).to(to).magnitude, dtype=float)
    except Exception as problem:
        raise ValueError(f"cannot convert {unit} to {to}") from problem
