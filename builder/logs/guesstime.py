"""Guesses of which column holds the time, and how it is written."""

from __future__ import annotations

import datetime as dt
import re
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from itertools import product
from typing import Literal

import numpy as np

from builder.logs.guess import Column, unit_of, words_of
from builder.logs.timestamps import TimestampFormat, timestamp_format
from builder.logs.units import converts
from builder.quantity import FloatArray

_DATES = (
    "%Y-%m-%d",
    "%Y/%m/%d",
    "%Y.%m.%d",
    "%d.%m.%Y",
    "%d/%m/%Y",
    "%m/%d/%Y",
    "%d-%m-%Y",
    "%m-%d-%Y",
    "%d.%m.%y",
    "%Y%m%d",
)
_JOINTS = (" ", "T", ", ", "_", " - ")
_TIMES = (
    "%H:%M:%S.%f",
    "%H:%M:%S",
    "%H:%M:%S,%f",
    "%H:%M:%S:%f",
    "%I:%M:%S %p",
    "%I:%M:%S.%f %p",
    "%H:%M",
    "%H-%M-%S",
    "%H%M%S",
)
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


def _formats() -> Iterator[str | None]:
    yield None
    for date, joint, time in product(_DATES, _JOINTS, _TIMES):
        yield f"{date}{joint}{time}"
    yield from _TIMES


def guess_timestamps(name: str, cells: Sequence[str]) -> TimeGuess | None:
    """Return the format that all cells of a column fit; where several do, the one with the shortest span."""
    stripped = [cell.strip() for cell in cells]
    if not stripped or len(stripped[0]) < len("0:00"):
        return None
    shape = _shape(stripped[0])
    formats = (text for text in _formats() if text is None or _shape(text) == shape)
    fitting = [spans for text in formats if (spans := _fit(text, stripped)) is not None]
    if not fitting:
        return None
    best = min(fitting, key=lambda fit: (not fit.forward, fit.span))
    same = [fit.text for fit in fitting if fit.span == best.span and fit.forward == best.forward and fit is not best]
    note = f"could also be {same[0]}" if same and same[0] else ""
    rank = 1 + bool(set(words_of(name)) & _TIME_WORDS) + best.dated
    return TimeGuess(column=name, kind="timestamp", format=best.text, note=note, rank=rank)


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
