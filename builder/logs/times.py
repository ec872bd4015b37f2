"""Timestamps and elapsed times of a log -> seconds that increase, with what was mended."""

from __future__ import annotations

import datetime as dt
import re
from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from itertools import pairwise
from zoneinfo import ZoneInfo, ZoneInfoNotFoundError, available_timezones

import numpy as np
from numpy.typing import NDArray

from builder.archive.bench import TimeColumn
from builder.core.errors import Problems, nearest
from builder.core.quantity import FloatArray
from builder.core.words import count
from builder.logs.cells import MISSING, BadCell, Spelling, looks_numeric, numbers, shown
from builder.logs.header import Layout
from builder.logs.rows import Body, report_cell
from builder.logs.types import Repair, repair

# --- Timestamps as text -> moments, and moments -> elapsed seconds across midnight and clock changes

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
    return min(first, second, key=lambda read: max((abs(b - a) for a, b in pairwise(read)), default=dt.timedelta(0)))


# --- The time column -> a time axis

_GAP_STEPS = 3.0  # a step this many times the usual one is a gap


@dataclass(frozen=True, kw_only=True, eq=False)
class TimeAxis:
    """Time of each kept row, shape (n,), in seconds from the first; `rows` are the numbers of the kept rows."""

    seconds: FloatArray
    rows: list[int]
    start: dt.datetime | None
    zone: dt.tzinfo | None
    origin_s: float
    repairs: tuple[Repair, ...]
    of_day_s: float | None = None  # time of day of the first row, where a log tells no year


@dataclass(frozen=True, kw_only=True, eq=False)
class _Clock:
    """Seconds as read, not yet in order."""

    seconds: FloatArray
    start: dt.datetime | None = None
    of_day_s: float | None = None
    zone: dt.tzinfo | None = None
    repairs: tuple[Repair, ...] = ()


@dataclass(frozen=True, kw_only=True, eq=False)
class _Cells:
    """The time cells that are not missing, with their lines, the column's settings, and where to report."""

    layout: Layout
    time: TimeColumn
    cells: list[str]
    lines: list[int]
    problems: Problems

    def after(self, steps: NDArray[np.intp]) -> list[int]:
        """Return the lines of the rows that steps lead to."""
        return [self.lines[i + 1] for i in steps.tolist()]

    def fail(self, index: int, code: str, message: str, hint: str = "") -> None:
        """Report an error at the cell of a row."""
        where = self.layout.place_of(self.lines[index], self.time.column)
        self.problems.error(code, where, message, hint)


def read_time(layout: Layout, body: Body, unit: str, spelling: Spelling, problems: Problems) -> TimeAxis | None:
    """Return the time axis; None after reporting why there is none.

    `unit` is that of elapsed time; the reader must have a time column.
    """
    time = layout.reader.time
    assert time is not None  # noqa: S101 - the caller has looked
    missing = MISSING | {text.casefold() for text in spelling.missing if not looks_numeric(text)}
    spelling = replace(spelling, missing=frozenset())  # a sentinel such as 0 is a time like any other
    column = [cell.strip() for cell in body.cells[time.column]]
    lost = {i for i, cell in enumerate(column) if not cell[:1].isdigit() and cell.casefold() in missing}
    if time.date:
        dates = [cell.strip() for cell in body.cells[time.date]]
        lost |= {i for i, cell in enumerate(dates) if not cell}
        column = [f"{date} {cell}" for date, cell in zip(dates, column, strict=True)]
    kept = [i for i in range(len(column)) if i not in lost]
    found = _Cells(
        layout=layout,
        time=time,
        cells=[column[i] for i in kept],
        lines=[body.lines[i] for i in kept],
        problems=problems,
    )
    if not kept:
        where = layout.header_place
        problems.error("no-time", where, f"the time column {shown(time.column)} is empty", "name another time column")
        return None
    clock = _elapsed(found, unit, spelling) if time.kind == "elapsed" else _stamped(found)
    if clock is None:
        return None
    without = [body.lines[i] for i in sorted(lost)]
    left_out = [repair("missing-time", without, f"{len(without)} rows without a time left out")] if without else []
    return _ordered(found, clock, kept, left_out)


def _elapsed(found: _Cells, unit: str, spelling: Spelling) -> _Clock | None:
    read = numbers(found.cells, unit, "s", spelling)
    if isinstance(read, BadCell):
        report_cell(found.layout, found.time.column, found.lines[read.index], read, found.problems)
        return None
    if read.missing:
        found.fail(int(np.flatnonzero(np.isnan(read.values))[0]), "not-a-number", "a unit without a time stands here")
        return None
    return _Clock(seconds=read.values)


def _stamped(found: _Cells) -> _Clock | None:
    try:
        form = timestamp_format(found.time.format, found.cells[0])
    except ValueError as problem:
        where = found.layout.header_place
        hint = "write it with %Y %m %d %H %M %S and %f for fractions of a second"
        found.problems.error("time-format", where, f'reader "{found.layout.reader.id}": {problem}', hint)
        return None
    moments = _moments(found, form)
    if moments is None:
        return None
    if not form.dated:
        return _time_of_day(moments, found.lines)
    return _dated(found, moments, form)


def _moments(found: _Cells, form: TimestampFormat) -> list[dt.datetime] | None:
    moments: list[dt.datetime] = []
    parse = form.parse
    try:
        for cell in found.cells:
            moments.append(parse(cell))  # noqa: PERF401 - the count tells which cell failed
    except (ValueError, OverflowError):
        at = len(moments)
        bad = BadCell(
            index=at,
            code="timestamp",
            message=f"expected a timestamp like {form.shown}, found {shown(found.cells[at])}",
            hint="set time.format in the reader to what the log has",
        )
        report_cell(found.layout, found.time.column, found.lines[at], bad, found.problems)
        return None
    return moments


def _time_of_day(moments: Sequence[dt.datetime], lines: list[int]) -> _Clock:
    first = moments[0].replace(hour=0, minute=0, second=0, microsecond=0)
    raw = np.array([(m - first).total_seconds() for m in moments])
    seconds = over_midnight(raw)
    new_days = [lines[i + 1] for i in np.flatnonzero(np.diff(seconds - raw) > 0)]
    found = [repair("midnight", new_days, "the time passes midnight; the next day is taken")] if new_days else []
    return _Clock(seconds=seconds, of_day_s=float(raw[0]), repairs=tuple(found))


def _dated(found: _Cells, moments: list[dt.datetime], form: TimestampFormat) -> _Clock | None:
    aware = [m.tzinfo is not None for m in moments]
    if any(aware) and not all(aware):
        found.fail(aware.index(not aware[0]), "timestamp", "some timestamps have a zone and some have none")
        return None
    zone: dt.tzinfo | None = moments[0].tzinfo
    local = moments
    if zone is not None:
        moments = [m.astimezone(dt.UTC) for m in moments]
    elif found.time.zone:
        named = _zone(found)
        if named is None:
            return None
        zone, moments = named, in_zone(moments, named)
    seconds = np.array([(m - moments[0]).total_seconds() for m in moments])
    changes = _clock_changes(local, seconds, found.lines)
    if form.has_year:
        return _Clock(seconds=seconds, start=moments[0], zone=zone, repairs=changes)
    midnight = local[0].replace(hour=0, minute=0, second=0, microsecond=0)
    return _Clock(seconds=seconds, of_day_s=(local[0] - midnight).total_seconds(), zone=zone, repairs=changes)


def _clock_changes(local: Sequence[dt.datetime], seconds: FloatArray, lines: list[int]) -> tuple[Repair, ...]:
    """Return where the clock on the wall and the time that passed differ."""
    wall = np.array([(m.replace(tzinfo=None) - local[0].replace(tzinfo=None)).total_seconds() for m in local])
    changed = [lines[i + 1] for i in np.flatnonzero(np.abs(np.diff(wall - seconds)) > 1)]
    if not changed:
        return ()
    return (repair("clock-change", changed, "the clock changes for summer or winter time; taken into account"),)


def _zone(found: _Cells) -> ZoneInfo | None:
    name = found.time.zone or ""
    try:
        return ZoneInfo(name)
    except (ZoneInfoNotFoundError, ValueError, OSError):
        where = found.layout.header_place
        usual = "use a name of the IANA time zone database, such as Europe/Berlin"
        hint = nearest(name, available_timezones()) or usual
        message = f'the reader "{found.layout.reader.id}" names an unknown time zone {shown(name)}'
        found.problems.error("unknown-zone", where, message, hint)
        return None


def _ordered(found: _Cells, clock: _Clock, kept: list[int], before: list[Repair]) -> TimeAxis | None:
    origin = float(clock.seconds[0])
    seconds = clock.seconds - origin
    back = np.flatnonzero(np.diff(seconds) < 0)
    if back.size and not found.time.restart:
        _report_back(found, clock, int(back[0]))
        return None
    repairs = [*before, *clock.repairs]
    if back.size:
        # Every new count is set one usual step after the last one: the pause between is unknown.
        steps = np.diff(seconds)
        steps[back] = _usual_step(seconds)
        seconds = np.concatenate([[0.0], np.cumsum(steps)])
        repairs.append(repair("time-restart", found.after(back), "the time starts again; joined on"))
    again = np.flatnonzero(np.diff(seconds) == 0)
    if again.size and again.size == seconds.size - 1:
        found.fail(1, "time-stands-still", "the time is the same in every row", "name another time column")
        return None
    if again.size:
        seconds = _spread(seconds)
        repairs.append(repair("repeated-time", found.after(again), f"{again.size} times repeat; spread up to the next"))
    return TimeAxis(
        seconds=seconds,
        rows=kept,
        start=clock.start,
        zone=clock.zone,
        origin_s=origin if found.time.kind == "elapsed" else 0.0,
        repairs=(*repairs, *_gaps(found, seconds)),
        of_day_s=clock.of_day_s,
    )


def _report_back(found: _Cells, clock: _Clock, at: int) -> None:
    before, after = clock.seconds[at], clock.seconds[at + 1]
    if found.time.kind == "elapsed":
        message = f"elapsed time goes from {before:.1f} s back to {after:.1f} s"
        hint = "split the file, or set time.restart: true in the reader"
    else:
        message = f"time goes from {shown(found.cells[at])} back to {shown(found.cells[at + 1])}"
        hint = "split the file, or set time.zone in the reader where the clock changed, or time.restart: true"
    found.fail(at + 1, "negative-duration", message, hint)


def _usual_step(seconds: FloatArray) -> float:
    steps = np.diff(seconds)
    positive = steps[steps > 0]
    return float(np.median(positive)) if positive.size else 1.0


def _spread(seconds: FloatArray) -> FloatArray:
    """Return the time with rows that share one spread evenly up to the next time, or over the usual step."""
    starts = np.concatenate([[0], np.flatnonzero(np.diff(seconds) > 0) + 1])
    counts = np.diff(np.concatenate([starts, [seconds.size]]))
    usual = _usual_step(seconds)
    room = np.minimum(np.diff(np.concatenate([seconds[starts], [np.inf]])), usual)
    within = np.arange(seconds.size) - np.repeat(starts, counts)
    return np.asarray(seconds + within * np.repeat(room / counts, counts), dtype=float)


def _gaps(found: _Cells, seconds: FloatArray) -> list[Repair]:
    steps = np.diff(seconds)
    wide = np.flatnonzero(steps > _GAP_STEPS * _usual_step(seconds))
    if not wide.size:
        return []
    message = f"{count(wide.size, 'gap')} in the time, the longest {steps[wide].max():.1f} s"
    return [repair("gap", found.after(wide), message)]
