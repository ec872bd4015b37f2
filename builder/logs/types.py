"""The named types that come out of reading a log."""

from __future__ import annotations

import datetime as dt
from collections.abc import Mapping
from dataclasses import dataclass, replace

import numpy as np

from builder.core.errors import Problems, Span
from builder.core.quantity import FloatArray
from builder.core.results import Quantity
from builder.core.words import noun

SHOWN_LINES = 10


@dataclass(frozen=True, kw_only=True)
class Repair:
    """Something that was mended while reading: a stable code, how often, the first lines concerned, and words."""

    code: str
    count: int
    lines: tuple[int, ...]
    message: str

    def __str__(self) -> str:
        """Return the message with the lines: `1 repeated header row left out (line 14)`."""
        if not self.lines:
            return self.message
        more = ", ..." if self.count > len(self.lines) else ""
        return f"{self.message} ({noun(len(self.lines), 'line')} {', '.join(map(str, self.lines))}{more})"


def repair(code: str, lines: list[int], message: str) -> Repair:
    """Return a repair whose count is the number of lines, of which the first are kept."""
    return Repair(code=code, count=len(lines), lines=tuple(lines[:SHOWN_LINES]), message=message)


@dataclass(frozen=True, kw_only=True, eq=False)
class LogColumn:
    """One quantity of a log: shape (n,), standard unit of the quantity, NaN where missing.

    `resolution` is the smallest step seen between distinct values, in the standard unit, 0 where the column never
    changes; `spelled_decimals` counts the decimals written in the file, in the file's unit. Where `values` are
    interpolated from another log, `read_at_s` holds the times of its own readings, shape (m,), on the run's clock.
    """

    quantity: Quantity
    header: str
    values: FloatArray
    resolution: float
    spelled_decimals: int
    read_at_s: FloatArray | None = None


@dataclass(frozen=True, kw_only=True, eq=False)
class LogTable:
    """A log in standard units.

    `time_s` (shape (n,), increasing) counts seconds from the first sample or from the start of a cut; `origin_s` is
    what the file's own elapsed time reads there (0 for timestamps). `start` is the moment of `time_s` 0: aware in UTC
    where the zone is known, naive in the log's own time where not, None where the file holds no date. `zone` is what
    the file's timestamps are in; `of_day_s` is the time of day of `time_s` 0 in s where a log tells that alone.
    `lines` gives the line of each sample.
    """

    file: str
    reader_id: str
    time_s: FloatArray
    start: dt.datetime | None
    columns: Mapping[Quantity, LogColumn]
    repairs: tuple[Repair, ...] = ()
    origin_s: float = 0.0
    zone: dt.tzinfo | None = None
    lines: tuple[int, ...] = ()
    of_day_s: float | None = None

    @property
    def joined(self) -> tuple[Quantity, ...]:
        """Return the quantities that are interpolated from other logs."""
        return tuple(q for q, column in self.columns.items() if column.read_at_s is not None)

    @property
    def duration_s(self) -> float:
        """Return the time from the first sample to the last, in seconds."""
        return float(self.time_s[-1] - self.time_s[0])

    def seconds(self, moment: float | dt.datetime) -> float:
        """Return a moment on the scale of `time_s`: own elapsed seconds of the file, or a timestamp.

        A naive timestamp is taken in the log's own zone; a number that only seconds since 1970 reach is such a moment
        where the log has dates, and a log that counts so is cut at a timestamp with a zone. Raises ValueError, which
        says how to write the cut, where the log and the moment have no clock in common.
        """
        if not isinstance(moment, dt.datetime):
            return self._counted(float(moment))
        if self.start is None:
            return self._since_1970(moment)
        if moment.tzinfo is None and self.start.tzinfo is not None:
            moment = moment.replace(tzinfo=self.zone or dt.UTC)
        if moment.tzinfo is not None and self.start.tzinfo is None:
            raise ValueError(f"the timestamp has a zone and the log has none: {_ZONE_HINT}")
        return (moment - self.start).total_seconds()

    def _counted(self, seconds: float) -> float:
        """Return elapsed seconds of the file, or seconds since 1970 in a file with dates, on the scale of `time_s`."""
        if self.start is None or not EPOCH_FROM_S <= seconds < EPOCH_MS_FROM:
            return seconds - self.origin_s
        if self.start.tzinfo is None:
            raise ValueError(f"{seconds:.0f} counts from 1970 and the log has no zone: {_ZONE_HINT}")
        return seconds - self.start.timestamp()

    def _since_1970(self, moment: dt.datetime) -> float:
        if not EPOCH_FROM_S <= self.origin_s < EPOCH_MS_FROM:
            raise ValueError("the log holds no date, so it cannot be cut at a timestamp: give seconds as it counts")
        if moment.tzinfo is None:
            raise ValueError("the log counts seconds since 1970: end the timestamp with its zone, as Z or +02:00")
        return moment.timestamp() - self.origin_s

    def shown(self, seconds: float) -> str:
        """Return the date and time at a moment of `time_s` as the log's own clock shows it; empty where it has none."""
        if self.start is not None:
            moment = self.start + dt.timedelta(seconds=seconds)
            own = moment.astimezone(self.zone) if self.zone else moment
            return own.isoformat(sep=" ", timespec="seconds")
        if self.of_day_s is None:
            return ""
        return str(dt.timedelta(seconds=round(self.of_day_s + seconds) % 86_400))

    def cut(self, start: float | dt.datetime | None, end: float | dt.datetime | None) -> LogTable:
        """Return the samples in [start, end), with `time_s` 0 at the start of the cut; None leaves an end open.

        Raises ValueError for a moment that `seconds` refuses, and where no sample is inside.
        """
        low = self.seconds(start) if start is not None else float(self.time_s[0])
        high = self.seconds(end) if end is not None else np.inf
        first, last = np.searchsorted(self.time_s, [low, high], side="left")
        if first >= last:
            raise ValueError("no sample is inside the cut")
        inside = slice(int(first), int(last))
        columns = {q: replace(c, values=c.values[inside]) for q, c in self.columns.items()}
        return replace(
            self,
            time_s=self.time_s[inside] - low,
            start=self.start + dt.timedelta(seconds=low) if self.start else None,
            columns=columns,
            origin_s=self.origin_s + low,
            lines=self.lines[inside],
            of_day_s=None if self.of_day_s is None else self.of_day_s + low,
        )


@dataclass(frozen=True, kw_only=True, eq=False)
class FrameTable:
    """Frame times of a run in order, in milliseconds: shape (n,), all positive."""

    file: str
    frame_ms: FloatArray
    repairs: tuple[Repair, ...] = ()

    @property
    def total_s(self) -> float:
        """Return the sum of the frame times, in seconds."""
        return float(self.frame_ms.sum()) / 1000


# --- A part of a log: one run out of a longer file

EPOCH_FROM_S = 1e8  # 1973: no elapsed time of a log is as long
EPOCH_MS_FROM = 1e11  # seconds would be in the year 5138
_ZONE_HINT = "write it as the log's clock shows it, without Z or +02:00, or set time.zone in the reader"


def cut_log(
    table: LogTable,
    from_: float | dt.datetime | None,
    to: float | dt.datetime | None,
    *,
    where: Span,
    problems: Problems,
) -> LogTable | None:
    """Return the samples in [from_, to); None after reporting a cut that the log does not hold.

    Numbers are elapsed seconds as the log counts them; timestamps without a zone are in the log's own. `where` is
    the place in the bundle that asks for the cut.
    """
    if from_ is None and to is None:
        return table
    try:
        wrong = _outside(table, from_, to)
    except ValueError as problem:
        wrong = _Wrong(code="cut-zone", message=str(problem))
    if wrong is None:
        try:
            return table.cut(from_, to)
        except ValueError as problem:
            wrong = _Wrong(code="cut-empty", message=str(problem))
    hint = f"the log {table.file} goes from {_moment(table, 0)} to {_moment(table, -1)}"
    problems.error(wrong.code, where, wrong.message, hint)
    return None


@dataclass(frozen=True, kw_only=True)
class _Wrong:
    code: str
    message: str


def _outside(table: LogTable, from_: float | dt.datetime | None, to: float | dt.datetime | None) -> _Wrong | None:
    """Return what is wrong with a cut; one sampling step beyond either end of the log is still inside."""
    step = table.duration_s / max(table.time_s.size - 1, 1)
    first, last = float(table.time_s[0]) - step, float(table.time_s[-1]) + step
    for asked in (from_, to):
        if asked is not None and not first <= table.seconds(asked) <= last:
            return _Wrong(code="cut-outside", message=f"the cut at {asked} is outside the log")
    if from_ is not None and to is not None and table.seconds(from_) >= table.seconds(to):
        return _Wrong(code="cut-order", message=f"the cut ends at {to} and starts at {from_}")
    return None


def _moment(table: LogTable, index: int) -> str:
    seconds = float(table.time_s[index])
    elapsed = f"{seconds + table.origin_s:.1f} s"
    shown = table.shown(seconds)
    return f"{elapsed} ({shown})" if shown else elapsed
