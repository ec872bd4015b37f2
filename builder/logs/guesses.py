"""Guesses of what a column holds, from the words of its header, the units in it and its range."""

from __future__ import annotations

import datetime as dt
import re
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace
from itertools import product
from typing import Literal

import numpy as np

from builder.core.quantity import FloatArray
from builder.core.results import Quantity
from builder.logs.cells import converts, unit_id
from builder.logs.columns import header_unit
from builder.logs.times import TimestampFormat, timestamp_format

_Q = Quantity
_CAMEL = re.compile(r"(?<=[a-z])(?=[A-Z])|[^A-Za-z0-9%°]+")
# Bare unit words at the end of a header, as in `elapsed_s`; one letter counts only after another word.
_SUFFIXES = frozenset(
    {
        *("ms", "s", "us", "sec", "w", "mw", "c", "f", "degc"),
        *("mhz", "rpm", "v", "mv", "lpm", "fps", "dba", "pct", "%"),
    }
)
_SPELLED = {"mw": "mW", "mv": "mV", "c": "degC", "f": "degF", "w": "W", "v": "V"}
_LIMITS = {"limit", "cap", "target", "max", "maximum", "min", "minimum", "default"}
_EXTREMES = {"max", "maximum", "min", "minimum", "peak", "default"}
_AVERAGES = {"average", "avg", "averaged", "mean"}
_OTHER_PARTS = {"cpu", "psu", "wall", "video", "rail", "disk", "drive", "ram", "system", "mainboard", "board_in"}
_MEMORY = {"memory", "mem", "vram"}
_CORE = {"core", "gpu", "die", "chip", "edge", "card", "graphics", "sm", "shader"}
_ROOM = {"ambient", "room", "air", "intake", "inlet"}
_COOLANT = {"coolant", "water", "liquid", "fluid", "loop"}
# Where a temperature was taken; of a header that names several places, the first of these counts.
_PLACES = (
    ({"hotspot", "junction"}, _Q.HOTSPOT_TEMPERATURE),
    (_COOLANT, _Q.COOLANT_IN_TEMPERATURE),
    (_MEMORY, _Q.MEMORY_TEMPERATURE),
    (_ROOM, _Q.AMBIENT_TEMPERATURE),
)


@dataclass(frozen=True, kw_only=True)
class Column:
    """What is known of a column before guessing: header, unit found in cells or a row of units ("" for none), range."""

    name: str
    unit: str
    low: float
    high: float


@dataclass(frozen=True, kw_only=True)
class Guess:
    """A guessed quantity with its unit id, and how well the column suits it beside others of the same quantity."""

    quantity: Quantity
    unit: str
    rank: int


def words_of(name: str) -> tuple[str, ...]:
    """Return the words of a header in lower case, without a unit in brackets.

    >>> words_of("coreTemp_in.average [W]")
    ('core', 'temp', 'in', 'average')
    """
    bare = re.sub(r"[\[(][^\[\]()]*(?:\(\w\))?[\])]|#\d+$", " ", name)
    return tuple(word.lower() for word in _CAMEL.split(bare) if word)


def unit_of(column: Column) -> str:
    """Return the unit id that cells, a row of units or the header name, or ""."""
    if column.unit:
        return column.unit
    named = header_unit(column.name)
    words = words_of(column.name)
    if named is not None or len(words) <= 1 or words[-1] not in _SUFFIXES:
        return named or ""
    return unit_id(_SPELLED.get(words[-1], words[-1])) or ""


def guess(column: Column) -> Guess | None:
    """Return what a numeric column most likely holds, or None where its header does not say."""
    words, unit = set(words_of(column.name)), unit_of(column)
    if words & _OTHER_PARTS:
        return None
    quantity = next((q for rule in _RULES if (q := rule(words, unit, column)) is not None), None)
    if quantity is None:
        return None
    standard = quantity.unit
    unit = unit or _unit_by_range(quantity, column)
    if not converts(unit, standard):
        return None
    return Guess(quantity=quantity, unit=unit, rank=_rank(words, quantity))


def _rank(words: set[str], quantity: Quantity) -> int:
    """Prefer averaged power, because a sampled reading can alias the load's own cycle; else the plain reading."""
    if words & _EXTREMES and quantity is not _Q.POWER_LIMIT:
        return -1
    if words & _AVERAGES:
        return 1 if quantity is _Q.BOARD_POWER else -1
    return 0


def _unit_by_range(quantity: Quantity, column: Column) -> str:
    standard = quantity.unit
    milli = {"W": "mW", "V": "mV"}
    if standard in milli and column.high > (5_000 if standard == "W" else 50):
        return milli[standard]
    if standard == "MHz" and column.high > 100_000:  # noqa: PLR2004 - kHz or Hz by their size
        return "Hz" if column.high > 100_000_000 else "kHz"  # noqa: PLR2004 - the same
    if standard == "ms" and column.high < 1:
        return "s"
    return standard


def _temperature(words: set[str], unit: str, _column: Column) -> Quantity | None:
    if not (unit in {"degC", "degF", "K"} or words & {"temp", "temps", "temperature"}):
        return None
    if {"hot", "spot"} <= words:
        return _Q.HOTSPOT_TEMPERATURE
    place = next((quantity for named, quantity in _PLACES if words & named), None)
    if place is _Q.COOLANT_IN_TEMPERATURE and words & {"out", "outlet"}:
        return _Q.COOLANT_OUT_TEMPERATURE
    if place:
        return place
    bare = not words - {"temp", "temps", "temperature", "c", "f", "degc", "t", *_AVERAGES}
    return _Q.CORE_TEMPERATURE if bare or words & _CORE else None


def _power(words: set[str], unit: str, _column: Column) -> Quantity | None:
    if unit == "percent" or not (unit in {"W", "mW", "kW"} or words & {"power", "watt", "watts"}):
        return None
    if words & _MEMORY or (words & _CORE and "rail" in words):
        return None
    return _Q.POWER_LIMIT if words & _LIMITS - {"max", "maximum", "min", "minimum"} else _Q.BOARD_POWER


def _clock(words: set[str], unit: str, _column: Column) -> Quantity | None:
    if not (unit in {"MHz", "kHz", "GHz"} or words & {"clock", "clocks", "frequency", "freq"}):
        return None
    return _Q.MEMORY_CLOCK if words & _MEMORY else _Q.CORE_CLOCK


def _voltage(words: set[str], unit: str, _column: Column) -> Quantity | None:
    if not (unit in {"V", "mV"} or words & {"voltage", "volt", "volts", "vcore", "vdd"}) or words & _MEMORY:
        return None
    return _Q.CORE_VOLTAGE


def _turning(words: set[str], unit: str, column: Column) -> Quantity | None:
    if "pump" in words:
        return _Q.PUMP_SPEED if unit != "percent" else None
    if not words & {"fan", "fans"}:
        return None
    share = unit == "percent" or words & {"duty", "pwm"} or (not unit and column.high <= 100)  # noqa: PLR2004 - percent
    return _Q.FAN_DUTY if share else _Q.FAN_SPEED


def _flow(words: set[str], unit: str, _column: Column) -> Quantity | None:
    flowing = words & {"flow", "flowrate"} or (unit and converts(unit, "L/min"))
    return _Q.FLOW_RATE if flowing else None


def _frames(words: set[str], unit: str, _column: Column) -> Quantity | None:
    if words & {"fps", "framerate"} or {"frame", "rate"} <= words or unit == "1/s":
        return _Q.FRAME_RATE
    if words & {"frametime", "frametimes"} or ({"frame"} <= words and words & {"time", "duration", "ms"}):
        return _Q.FRAME_TIME
    return None


def _sound(words: set[str], unit: str, _column: Column) -> Quantity | None:
    return _Q.SOUND_LEVEL if unit == "dBA" or words & {"sound", "noise", "spl", "loudness"} else None


def _load(words: set[str], unit: str, _column: Column) -> Quantity | None:
    if words & _MEMORY or unit not in {"", "percent"}:
        return None
    return _Q.UTILIZATION if words & {"utilization", "utilisation", "load", "usage", "util", "busy"} else None


_RULES: tuple[Callable[[set[str], str, Column], Quantity | None], ...] = (
    _frames,
    _turning,
    _flow,
    _temperature,
    _power,
    _clock,
    _voltage,
    _sound,
    _load,
)


# --- Guesses of which column holds the time, and how it is written

_DATES = (
    *("%Y-%m-%d", "%Y/%m/%d", "%Y.%m.%d", "%d.%m.%Y", "%d/%m/%Y"),
    *("%m/%d/%Y", "%d-%m-%Y", "%m-%d-%Y", "%d.%m.%y", "%Y%m%d"),
)
_JOINTS = (" ", "T", ", ", "_", " - ")
_TIMES = (
    *("%H:%M:%S.%f", "%H:%M:%S", "%H:%M:%S,%f", "%H:%M:%S:%f", "%I:%M:%S %p"),
    *("%I:%M:%S.%f %p", "%H:%M", "%H-%M-%S", "%H%M%S"),
)
_FORMATS = (None, *map("".join, product(_DATES, _JOINTS, _TIMES)), *_TIMES)  # None is ISO 8601
_TIME_WORDS = {"time", "timestamp", "datetime", "date", "elapsed", "seconds", "sec", "epoch", "uptime", "t"}
_FIRST_CELLS = 50
_FEW_MS = 20.0  # plain numbers a step of this apart are milliseconds rather than seconds


@dataclass(frozen=True, kw_only=True)
class TimeGuess:
    """A guessed time column; `format` None for ISO 8601 or elapsed time; `note` says what was uncertain."""

    column: str
    kind: Literal["elapsed", "timestamp"]
    unit: str = "s"
    format: str | None = None
    note: str = ""
    rank: int = 0
    date: str = ""  # the column of dates, where the time of day stands alone
    dated: bool = False


def guess_timestamps(name: str, cells: Sequence[str]) -> TimeGuess | None:
    """Return the format that all cells of a column fit; where several do, the one with the shortest span."""
    stripped = [cell.strip() for cell in cells]
    if not stripped or len(stripped[0]) < len("0:00"):
        return None
    shape = _shape(stripped[0])
    formats = (text for text in _FORMATS if text is None or _shape(text) == shape)
    fitting = [spans for text in formats if (spans := _fit(text, stripped)) is not None]
    if not fitting:
        return None
    best = min(fitting, key=lambda fit: (not fit.forward, fit.span))
    same = [fit.text for fit in fitting if fit.span == best.span and fit.forward == best.forward and fit is not best]
    note = f"could also be {same[0]}" if same and same[0] else ""
    rank = 1 + bool(set(words_of(name)) & _TIME_WORDS) + best.dated
    return TimeGuess(column=name, kind="timestamp", format=best.text, note=note, rank=rank, dated=best.dated)


def guess_two_columns(name: str, cells: Sequence[str], dates: Mapping[str, Sequence[str]]) -> TimeGuess | None:
    """Return the guess of a column of times of day beside one of dates, or None where no such column is there.

    `dates` are the other columns' cells by name, each of the length of `cells`.
    """
    for date, days in dates.items():
        first = days[0].strip() if days else ""
        if not any(_shape(text) == _shape(first) and _fit(text, [first]) for text in _DATES):
            continue
        found = guess_timestamps(name, [f"{day.strip()} {cell.strip()}" for day, cell in zip(days, cells, strict=True)])
        if found:
            return replace(found, date=date, rank=found.rank + 1)
    return None


def _shape(text: str) -> str:
    """Return a timestamp or a format with every field as 9, to try only formats that can fit: each takes a while."""
    return re.sub(r"(?:%[A-Za-z]|\d)+", "9", re.sub(r"%p|[AaPp][Mm]\b", "P", text))


@dataclass(frozen=True, kw_only=True)
class _Fit:
    text: str | None
    span: float
    forward: bool
    dated: bool


def _fit(text: str | None, cells: Sequence[str]) -> _Fit | None:
    form = timestamp_format(text, cells[0])
    if _parsed(form, cells[:_FIRST_CELLS]) is None or (moments := _parsed(form, cells)) is None:
        return None
    zoned = {moment.tzinfo is None for moment in moments}
    if len(zoned) > 1:
        return None
    seconds = [(moment - moments[0]).total_seconds() for moment in moments]
    forward = not form.dated or all(step >= 0 for step in np.diff(seconds))
    return _Fit(text=text, span=max(seconds) - min(seconds), forward=forward, dated=form.dated)


def _parsed(form: TimestampFormat, cells: Sequence[str]) -> list[dt.datetime] | None:
    try:
        return [form.parse(cell) for cell in cells]
    except (ValueError, OverflowError):
        return None


def guess_elapsed(column: Column, values: FloatArray, *, first: bool) -> TimeGuess | None:
    """Return a guess of elapsed time for numbers that grow, in a column whose header says so or that comes first."""
    words = words_of(column.name)
    named = bool(set(words) & _TIME_WORDS) and not set(words) & {"frame", "frames", "render", "latency"}
    steps = np.diff(values)
    if not (named or first) or not steps.size or not bool(np.all(steps >= 0)) or float(steps.max()) <= 0:
        return None
    unit = unit_of(column)
    if unit and not converts(unit, "s"):
        return None
    usual = float(np.median(steps))
    note = "" if unit else "its unit is a guess"
    unit = unit or ("ms" if usual >= _FEW_MS else "s")
    return TimeGuess(column=column.name, kind="elapsed", unit=unit, note=note, rank=2 * named)
