"""A part of a log: one run out of a longer file."""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass

from builder.errors import Problems, Span
from builder.logs.results import LogTable


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
    hint = f"the log {table.file} goes from {_moment(table, 0)} to {_moment(table, -1)}"
    wrong = _wrong(table, from_, to)
    if wrong is not None:
        problems.error(wrong.code, where, wrong.message, hint)
        return None
    try:
        return table.cut(from_, to)
    except ValueError as problem:
        problems.error("cut-empty", where, str(problem), hint)
        return None


@dataclass(frozen=True, kw_only=True)
class _Wrong:
    code: str
    message: str


def _wrong(table: LogTable, from_: float | dt.datetime | None, to: float | dt.datetime | None) -> _Wrong | None:
    try:
        return _outside(table, from_, to)
    except ValueError as problem:
        return _Wrong(code="cut-zone", message=str(problem))


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
    if table.start is None:
        return elapsed
    moment = table.start + dt.timedelta(seconds=seconds)
    shown = moment.astimezone(table.zone) if table.zone else moment
    return f"{elapsed} ({shown.isoformat(sep=' ', timespec='seconds')})"
