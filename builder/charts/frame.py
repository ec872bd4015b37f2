"""Sizes of a picture and where its plot lies inside; ticks and domains of its axes."""

from __future__ import annotations

import math
from collections.abc import Iterable
from dataclasses import dataclass, replace
from itertools import chain

from builder.charts.labels import text_width
from builder.charts.two_units import Said, ticks_in_fahrenheit

# Text of 13.5 in a picture 400 wide is still 11 px where a phone 360 px wide shows the picture at 328 px.
PAGE_TEXT = 13.5
HEADING = 1.25  # of the text size


@dataclass(frozen=True, kw_only=True)
class Frame:
    """Outer size of a picture in its own units, and its text size; `height` 0 lets the content decide.

    `name` is `compact` (one column, phones), `wide` (full column of a page) or `still` (a video frame).
    """

    name: str
    width: float
    height: float = 0.0
    text: float = PAGE_TEXT

    @property
    def still(self) -> bool:
        """Whether it is a frame of a video, which has no page around it and so carries its own heading."""
        return self.name == "still"

    @property
    def broad(self) -> bool:
        """Whether names have room beside the plot."""
        return self.name != "compact"

    def em(self, count: float) -> float:
        """Return a length in text sizes as one in picture units, rounded to a tenth."""
        return round(count * self.text, 1)

    def room(self, *texts: Said) -> float:
        """Return the width that the widest text needs, in either unit; a still is never switched to °F."""
        shown = ((said.text,) if self.still else (said.text, said.fahrenheit) for said in texts)
        return max((text_width(text, self.text) for text in chain.from_iterable(shown)), default=0.0)

    @property
    def head(self) -> float:
        """Height that the heading of a still takes; 0 on a page, where the caption stands outside."""
        return self.em(2.6) if self.still else 0.0


COMPACT = Frame(name="compact", width=400)
WIDE = Frame(name="wide", width=720)


def still_frame(width: int, height: int) -> Frame:
    """Return the frame of a still of that many pixels; text is 1/36 of the height, 30 px at 1080.

    Raises ValueError for a picture smaller than 320 by 180.
    """
    if width < 320 or height < 180:  # noqa: PLR2004 - nothing is readable below
        raise ValueError(f"a still of {width} by {height} pixels is too small to read")
    return Frame(name="still", width=width, height=height, text=min(height / 36, width / 56))


@dataclass(frozen=True, kw_only=True)
class Plot:
    """The plotting area inside a picture: distances from its edges to those of the picture."""

    left: float
    top: float
    right: float
    bottom: float
    width: float
    height: float

    @property
    def outer_width(self) -> float:
        """Width of the whole picture."""
        return self.left + self.width + self.right

    @property
    def outer_height(self) -> float:
        """Height of the whole picture."""
        return self.top + self.height + self.bottom


@dataclass(frozen=True, kw_only=True)
class Margins:
    """What axes and labels need around a plot."""

    left: float
    top: float
    right: float
    bottom: float


def plot_area(frame: Frame, margins: Margins, height: float) -> Plot:
    """Return the plot inside a frame; a still adds its padding and heading, and its own height wins over `height`."""
    pad = frame.em(1.6) if frame.still else 0.0
    left, right = margins.left + pad, margins.right + pad
    top, bottom = margins.top + pad + frame.head, margins.bottom + pad
    inner = frame.height - top - bottom if frame.height else height
    width = round(frame.width - left - right, 1)
    return Plot(left=left, top=top, right=right, bottom=bottom, width=width, height=round(inner, 1))


@dataclass(frozen=True, kw_only=True)
class Scale:
    """A linear axis: its domain, the ticks inside it, and the id of its unit, which may be empty."""

    low: float
    high: float
    ticks: tuple[float, ...]
    unit: str = ""

    def of(self, unit: str) -> Scale:
        """Return the axis as one of a quantity with that unit."""
        return replace(self, unit=unit)

    @property
    def domain(self) -> list[float]:
        """Domain as a specification takes it."""
        return [self.low, self.high]

    @property
    def format(self) -> str:
        """Number format that gives all ticks the same decimals, as many as they need."""
        size = self.ticks[1] - self.ticks[0] if len(self.ticks) > 1 else 1.0
        return f",.{max(0, -math.floor(math.log10(size) + 1e-9))}f"

    @property
    def tick_texts(self) -> list[Said]:
        """The ticks as they are written."""
        there = self.fahrenheit_texts or [""] * len(self.ticks)
        return [Said(text=format(tick, self.format), fahrenheit=f) for tick, f in zip(self.ticks, there, strict=True)]

    @property
    def fahrenheit_texts(self) -> tuple[str, ...]:
        """What stands at the ticks where readers chose °F; empty where the axis has no temperature."""
        return ticks_in_fahrenheit(self.ticks, self.unit) if self.unit else ()

    def place(self, value: float, length: float) -> float:
        """Return how far a value lies from the low end on an axis of that length."""
        return (value - self.low) / (self.high - self.low) * length


def step(span: float, count: int) -> float:
    """Return the tick distance 1, 2 or 5 times a power of ten that gives at most `count` intervals.

    >>> step(37, 5), step(0.9, 6)
    (10.0, 0.2)
    """
    if not span > 0:
        return 1.0
    power = 10.0 ** math.floor(math.log10(span / count))
    steps = (factor * power for factor in (1, 2, 5, 10, 20))
    return round(next(size for size in steps if span / size <= count * (1 + 1e-9)), 12)


def scale(
    values: Iterable[float], *, count: int = 5, zero: bool = False, pad: float = 0.04, tight: bool = False
) -> Scale:
    """Return an axis around the finite values, padded by a share of their span; `tight` adds no padding.

    With `zero` the axis starts (or ends) at zero where the values do not cross it. No value at all gives 0 to 1.
    """
    finite = [value for value in values if math.isfinite(value)] or [0.0, 1.0]
    low, high = min(finite), max(finite)
    if zero:
        low, high = min(low, 0.0), max(high, 0.0)
    largest = max(abs(low), abs(high), 1.0)
    span = high - low if high - low > 1e-9 * largest else 0.1 * largest
    if not tight:
        low = low if zero and low == 0 else low - pad * span
        high = high if zero and high == 0 else high + pad * span
    high = max(high, low + span)
    return Scale(low=low, high=high, ticks=_ticks(low, high, count))


def _ticks(low: float, high: float, count: int) -> tuple[float, ...]:
    size = step(high - low, count)
    first, last = math.ceil(low / size - 1e-9), math.floor(high / size + 1e-9)
    return tuple(round(index * size, 12) + 0.0 for index in range(first, last + 1))
