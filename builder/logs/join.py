"""Several logs of one run -> one table on the time of the card's log, joined by time of day."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace

import numpy as np

from builder.archive.bundle import LogSource
from builder.core.errors import Problems, Span
from builder.core.quantity import FloatArray
from builder.core.results import Quantity
from builder.core.words import listed, listing
from builder.logs.types import EPOCH_FROM_S, EPOCH_MS_FROM, LogColumn, LogTable, Repair

GAP_STEPS = 3.0  # a step this many times the usual one is a gap, and is not bridged
WHOLE = 0.95  # of the run's readings; a log that covers less is warned of
HOUR_S, DAY_S = 3600.0, 86_400.0
MOST_HOURS = 14  # between two time zones
_OF_THE_CARD = frozenset(
    {
        Quantity.CORE_TEMPERATURE,
        Quantity.HOTSPOT_TEMPERATURE,
        Quantity.MEMORY_TEMPERATURE,
        Quantity.CORE_CLOCK,
        Quantity.BOARD_POWER,
    }
)


@dataclass(frozen=True, kw_only=True, eq=False)
class PlacedLog:
    """A log that was read, as its bundle names it: what is said of its clock, and where."""

    table: LogTable
    source: LogSource
    where: Span

    @property
    def name(self) -> str:
        """Return the file as the bundle names it."""
        return self.source.file

    @property
    def gives(self) -> frozenset[Quantity]:
        """Return the quantities that may be taken from it."""
        held = frozenset(self.table.columns)
        return held & frozenset(self.source.only) if self.source.only else held

    def moment(self, index: int) -> str:
        """Return the date and time of a row as its own clock shows it."""
        return self.table.shown(float(self.table.time_s[index]))


def placed(table: LogTable, source: LogSource, where: Span, problems: Problems) -> PlacedLog:
    """Return a log with the date that its bundle gives it, or that its seconds since 1970 do.

    Reports a date for a log that has dates of its own, and quantities under `only` that it does not hold.
    """
    if source.starts is not None and table.start is not None:
        message = f"{source.file} has dates of its own, and starts: gives it another"
        problems.error("starts-beside-dates", where, message, "take starts out, or say clock_offset_s instead")
    if lacking := sorted(set(source.only) - set(table.columns)):
        message = f"only: names {listed(lacking)}, which {source.file} does not hold"
        problems.error("only-missing", where, message, f"it holds {listing(table.columns)}")
    if source.starts is not None:
        moment = source.starts - dt.timedelta(seconds=float(table.time_s[0]))
        table = replace(table, start=_utc(moment), zone=moment.tzinfo, of_day_s=None)
    elif table.start is None and table.of_day_s is None and EPOCH_FROM_S <= table.origin_s < EPOCH_MS_FROM:
        table = replace(table, start=dt.datetime.fromtimestamp(table.origin_s, dt.UTC), zone=dt.UTC)
    return PlacedLog(table=table, source=source, where=where)


def _utc(moment: dt.datetime) -> dt.datetime:
    return moment if moment.tzinfo is None else moment.astimezone(dt.UTC)


def card_log(logs: Sequence[PlacedLog]) -> int:
    """Return which of a run's own logs gives it its span: the first with a reading of the card, else the first."""
    return next((i for i, log in enumerate(logs) if log.gives & _OF_THE_CARD), 0)


def join_logs(card: PlacedLog, others: Sequence[PlacedLog], problems: Problems) -> LogTable | None:
    """Return the card's log with the quantities of the others, or None after reporting why they do not go together.

    Each quantity of another log is interpolated linearly at the card log's times inside its own span alone: before and
    after it, and inside its gaps, it is missing. A quantity that one log names under `only` is taken from no other.
    """
    taken = _taken((card, *others), problems)
    shifts = [_shift(card, other, problems) for other in others]
    if taken is None or any(shift is None for shift in shifts):
        return None
    columns = {q: c for q, c in card.table.columns.items() if q in taken[0]}
    repairs = list(card.table.repairs)
    for other, shift, own in zip(others, shifts, taken[1:], strict=True):
        assert shift is not None  # noqa: S101 - the caller has looked
        if not _covers(card, other, shift, problems):
            return None
        columns |= {q: _interpolated(other.table, q, shift, card.table.time_s) for q in other.table.columns if q in own}
        repairs += _said(other, own)
    return replace(card.table, columns=columns, repairs=tuple(repairs))


# --- Which log gives which quantity


def _taken(logs: Sequence[PlacedLog], problems: Problems) -> list[frozenset[Quantity]] | None:
    """Return what is taken from each log; None after reporting a quantity that two of them give."""
    named = [frozenset(log.source.only) for log in logs]
    taken = [
        frozenset(q for q in log.gives if q in named[i] or not any(q in other for other in named))
        for i, log in enumerate(logs)
    ]
    before = len(problems)
    for i, log in enumerate(logs):
        for first, held in zip(logs[:i], taken[:i], strict=True):
            if twice := sorted(held & taken[i]):
                _report_twice(first, log, twice, problems)
    return taken if len(problems) == before else None


def _report_twice(first: PlacedLog, second: PlacedLog, twice: Sequence[Quantity], problems: Problems) -> None:
    verb = "is" if len(twice) == 1 else "are"
    message = f"{listed(twice)} {verb} given by {first.name} and by {second.name}"
    hint = f"name the log to take it from: {{file: {second.name}, only: [{', '.join(twice)}]}}"
    problems.error("quantity-in-two-logs", second.where, message, hint)


# --- How their clocks go together


def _shift(card: PlacedLog, other: PlacedLog, problems: Problems) -> float | None:
    """Return what is added to a log's time to give the card log's, in s; None after reporting that nothing says it."""
    offset = other.source.clock_offset_s - card.source.clock_offset_s
    if abs(offset) >= HOUR_S:
        message = f"the clock of {other.name} is said to be {_hours(offset)} off that of {card.name}"
        hint = "where they are in two time zones, set time.zone in the readers, and take clock_offset_s out"
        problems.warning("clock-hours", other.where, message, hint)
    mine, its = card.table, other.table
    if mine.start is not None and its.start is not None:
        between = _between(card, other)
        if between is None:
            _report_zones(card, other, problems)
            return None
        return between - offset
    if mine.of_day_s is not None and its.of_day_s is not None:
        between = its.of_day_s - mine.of_day_s - offset
        return (between + DAY_S / 2) % DAY_S - DAY_S / 2
    if _counts(mine) and _counts(its) and other.source.clock_offset_s:
        return its.origin_s - mine.origin_s - offset
    _report_undated(card, other, problems)
    return None


def _counts(table: LogTable) -> bool:
    """Whether a log counts seconds from a beginning of its own."""
    return table.start is None and table.of_day_s is None


def _between(card: PlacedLog, other: PlacedLog) -> float | None:
    """Return the time from one log's start to the other's in s; a start that was typed is in the other's zone."""
    starts = [card.table.start, other.table.start]
    for i, (log, beside) in enumerate(((card, other), (other, card))):
        start = starts[i]
        if log.source.starts is not None and start is not None and start.tzinfo is None and beside.table.zone:
            starts[i] = start.replace(tzinfo=beside.table.zone).astimezone(dt.UTC)
    first, second = starts
    if first is None or second is None or (first.tzinfo is None) != (second.tzinfo is None):
        return None
    return (second - first).total_seconds()


def _report_zones(card: PlacedLog, other: PlacedLog, problems: Problems) -> None:
    bare, zoned = (card, other) if card.table.start and card.table.start.tzinfo is None else (other, card)
    message = f"the times of {zoned.name} are in a zone, and those of {bare.name} are in none"
    hint = f'set time.zone in the reader "{bare.table.reader_id}", as zone: Europe/Vienna'
    problems.error("log-without-zone", other.where, message, hint)


def _report_undated(card: PlacedLog, other: PlacedLog, problems: Problems) -> None:
    bare = next(log for log in (other, card) if log.table.start is None)
    beside = card if bare is other else other
    date = beside.table.start
    what = "times of day and no date" if bare.table.of_day_s is not None else "elapsed time alone"
    has = "a date" if date else ("times of day" if beside.table.of_day_s is not None else "elapsed time alone too")
    message = f"{bare.name} holds {what}, and {beside.name} {'has ' if date else 'holds '}{has}"
    at = bare.moment(0).rjust(8, "0") if bare.table.of_day_s is not None else "14:05:10"
    day = date.date().isoformat() if date else "2026-04-18"
    both = "" if date else " of each"
    hint = f"give the moment of its first row{both}: {{file: {bare.name}, starts: {day} {at}}}"
    problems.error("log-without-date", other.where, message, hint)


def _covers(card: PlacedLog, other: PlacedLog, shift: float, problems: Problems) -> bool:
    """Whether a log holds any part of the run; a part that it lacks is warned of."""
    time, its = card.table.time_s, other.table.time_s + shift
    share = float(np.mean((time >= its[0]) & (time <= its[-1])))
    if share == 0.0:
        _report_apart(card, other, shift, problems)
    elif share < WHOLE:
        message = f"{other.name} covers {share:.0%} of the run: from {other.moment(0)} to {other.moment(-1)}"
        hint = f"the run goes from {card.moment(0)} to {card.moment(-1)} in {card.name}: see whether both clocks agree"
        problems.warning("log-covers-part", other.where, message, hint)
    return share > 0.0


def _report_apart(card: PlacedLog, other: PlacedLog, shift: float, problems: Problems) -> None:
    message = (
        f"{other.name} and {card.name} share no time: {other.moment(0)} to {other.moment(-1)}, "
        f"and {card.moment(0)} to {card.moment(-1)}"
    )
    hours = _hours_that_fit(card.table.time_s, other.table.time_s + shift)
    if hours is None:
        hint = f"name the log of this run, or say how its clock goes: soakbook inspect {card.name} {other.name}"
    else:
        offset = hours * HOUR_S + other.source.clock_offset_s
        hint = (
            f"they would share it if its clock were {_hours(hours * HOUR_S)} off, as in another time zone: set "
            f"time.zone in the readers, or clock_offset_s: {offset:.0f}"
        )
    problems.error("logs-apart", other.where, message, hint)


def _hours_that_fit(time: FloatArray, its: FloatArray) -> int | None:
    """Return the whole hours that bring a log onto the run, fewest first, that cover the most of it; None for none."""
    mid = (float(time[0]) + float(time[-1])) / 2
    fitting = [h for h in range(-MOST_HOURS, MOST_HOURS + 1) if its[0] <= mid + h * HOUR_S <= its[-1]]
    return min(fitting, key=abs, default=None)


def _hours(seconds: float) -> str:
    hours = round(abs(seconds) / HOUR_S, 2)
    return f"{hours:g} {'hour' if hours == 1 else 'hours'}"


# --- Its readings on the card log's time


def _interpolated(table: LogTable, quantity: Quantity, shift: float, time_s: FloatArray) -> LogColumn:
    column = table.columns[quantity]
    known = np.isfinite(column.values)
    at, values = table.time_s[known] + shift, column.values[known]
    return replace(column, values=inside_span(time_s, at, values), read_at_s=at)


def inside_span(time_s: FloatArray, at_s: FloatArray, values: FloatArray) -> FloatArray:
    """Return readings at other times, shape (n,): linear between two readings, NaN outside their span and in gaps.

    `at_s` (increasing, shape (m,)) are the times of the readings, of which there is at least one. A step of more than
    three times the usual one is a gap.

    >>> inside_span(np.array([-1.0, 0.5, 2.0, 9.0]), np.array([0.0, 1.0, 2.0, 20.0]), np.array([0.0, 2.0, 4.0, 6.0]))
    array([nan,  1.,  4., nan])
    """
    found = np.interp(time_s, at_s, values, left=np.nan, right=np.nan)
    steps = np.diff(at_s)
    if not steps.size:
        return np.asarray(found)
    after = np.clip(np.searchsorted(at_s, time_s, side="left"), 1, at_s.size - 1)
    in_gap = (
        (steps[after - 1] > GAP_STEPS * float(np.median(steps))) & (time_s > at_s[after - 1]) & (time_s < at_s[after])
    )
    return np.asarray(np.where(in_gap, np.nan, found))


def _said(other: PlacedLog, own: frozenset[Quantity]) -> Iterator[Repair]:
    if not own:
        return
    offset = other.source.clock_offset_s
    clock = f", whose clock was {abs(offset):g} s {'ahead' if offset > 0 else 'behind'}" if offset else ""
    names = listed(sorted(str(q).replace("_", " ") for q in own))
    yield Repair(code="joined", count=1, lines=(), message=f"{names} from another log{clock}")
    yield from (replace(r, message=f"log of {names}: {r.message}") for r in other.table.repairs)
