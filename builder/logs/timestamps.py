"""Timestamps as text -> moments, and moments -> elapsed seconds across midnight and clock changes."""

from __future__ import annotations

import datetime as dt
import re
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from itertools import pairwise
from zoneinfo import ZoneInfo

import numpy as np

from builder.quantity import FloatArray

_FIELDS = {
    "Y": r"(?P<Y>\d{4})",
    "m": r"(?P<m>\d{1,2})",
    "d": r"(?P<d>\d{1,2})",
    "H": r"(?P<H>\d{1,2})",
    "M": r"(?P<M>\d{1,2})",
    "S": r"(?P<S>\d{1,2})",
    "f": r"(?P<f>\d{1,9})",
}
_PARTS = "YmdHMS"
_DATED = re.compile(r"%[-]?[djxcDFGUW]")
_YEARED = re.compile(r"%[-]?[YyxcDFG]")
_DEFAULTS = {"Y": 1900, "m": 1, "d": 1}
_HALF_DAY_S = 43_200.0
Parse = Callable[[str], dt.datetime]


@dataclass(frozen=True, kw_only=True)
class TimestampFormat:
    """How timestamps are written: as `shown` to people, whether a date and a year are in it, and its parser.

    The parser raises ValueError for a text that does not fit.
    """

    shown: str
    dated: bool
    has_year: bool
    parse: Parse


def timestamp_format(text: str | None, example: str = "") -> TimestampFormat:
    """Return the parser of a strptime format, or of ISO 8601 where there is none.

    `example` decides whether ISO 8601 is with a date. Raises ValueError for a text that is no format.
    """
    if text is None:
        return _iso(example)
    _check_format(text)
    fast = _numeric_parser(text)
    return TimestampFormat(
        shown=text,
        dated=bool(_DATED.search(text)),
        has_year=bool(_YEARED.search(text)),
        parse=fast or (lambda cell: dt.datetime.strptime(cell, text)),  # noqa: DTZ007 - the zone is added later
    )


def _iso(example: str) -> TimestampFormat:
    try:
        dt.time.fromisoformat(example)
    except ValueError:
        return TimestampFormat(shown="ISO 8601", dated=True, has_year=True, parse=dt.datetime.fromisoformat)

    def parse(cell: str) -> dt.datetime:
        return dt.datetime.combine(dt.date(1900, 1, 1), dt.time.fromisoformat(cell))

    return TimestampFormat(shown="ISO 8601 time of day", dated=False, has_year=False, parse=parse)


def _check_format(text: str) -> None:
    moment = dt.datetime(2001, 2, 3, 4, 5, 6, tzinfo=dt.UTC)
    try:
        dt.datetime.strptime(moment.strftime(text), text)  # noqa: DTZ007 - the zone is added later
    except (ValueError, re.error, KeyError, IndexError) as problem:
        raise ValueError(f'"{text}" is no timestamp format') from problem
    if "%" not in text:
        raise ValueError(f'"{text}" is no timestamp format')


def _numeric_parser(text: str) -> Parse | None:
    """Return a parser of formats that hold only numbers, an order of magnitude faster than strptime."""
    parts = re.split(r"%(.)", text)
    if not set(parts[1::2]) <= set(_FIELDS):
        return None
    shape = [_FIELDS[p] if i % 2 else re.sub(r"(?:\\?\s)+", r"\\s+", re.escape(p)) for i, p in enumerate(parts)]
    pattern = re.compile("".join(shape), re.ASCII)
    order = [pattern.groupindex.get(part) for part in _PARTS]
    fraction = pattern.groupindex.get("f")
    defaults = [_DEFAULTS.get(part, 0) for part in _PARTS]

    def parse(cell: str) -> dt.datetime:
        match = pattern.fullmatch(cell)
        if match is None:
            raise ValueError(cell)
        year, month, day, hour, minute, second = (
            int(match[at]) if at else default for at, default in zip(order, defaults, strict=True)
        )
        micro = int(match[fraction].ljust(6, "0")[:6]) if fraction else 0
        return dt.datetime(year, month, day, hour, minute, second, micro)  # noqa: DTZ001 - the zone is added later

    return parse


def over_midnight(seconds: FloatArray) -> FloatArray:
    """Return times of day, in seconds, as a count that goes on over midnight: a step back by over 12 h is a new day."""
    days = np.concatenate([[0], np.cumsum(np.diff(seconds) < -_HALF_DAY_S)])
    return np.asarray(seconds + 2 * _HALF_DAY_S * days, dtype=float)


def in_zone(moments: Sequence[dt.datetime], zone: ZoneInfo) -> list[dt.datetime]:
    """Return naive moments of a zone as UTC, in the order of the log.

    An hour that the clock shows twice is read as passed through once: the second pass begins where the clock jumps
    back, or, where it does not, on the side that leaves the smaller gap.
    """
    first = [m.replace(tzinfo=zone).astimezone(dt.UTC) for m in moments]
    second = [m.replace(tzinfo=zone, fold=1).astimezone(dt.UTC) for m in moments]
    twice = [i for i, (a, b) in enumerate(zip(first, second, strict=True)) if b > a]
    if not twice:
        return first
    back = next((i for i in twice if i and moments[i] < moments[i - 1]), None)
    if back is not None:
        return first[:back] + second[back:]
    return min(first, second, key=_largest_step)


def _largest_step(moments: Sequence[dt.datetime]) -> float:
    steps = (abs((b - a).total_seconds()) for a, b in pairwise(moments))
    return max(steps, default=0.0)
