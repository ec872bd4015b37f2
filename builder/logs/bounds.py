"""What a reading can be at all: wide limits that only a wrong unit, a sentinel or a defect exceeds."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from types import MappingProxyType

from builder.figures import STANDARD_UNITS, Quantity


@dataclass(frozen=True, kw_only=True)
class Bounds:
    """Lowest and highest reading that is believed, in a standard unit."""

    low: float
    high: float


# Common practice, no source: chosen far outside what a graphics card, its cooler and a room can do.
_BY_UNIT = {
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
BOUNDS: Mapping[Quantity, Bounds] = MappingProxyType({q: _BY_UNIT[unit] for q, unit in STANDARD_UNITS.items()})
