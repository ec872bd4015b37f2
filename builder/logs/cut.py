"""A part of a log: one run out of a longer file."""

from __future__ import annotations

import datetime as dt

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
    try:
        low = float(table.time_s[0]) if from_ is None else table.seconds(from_)
        high = float(table.time_s[-1]) if to is None else table.seconds(to)
    except ValueError as problem:
        problems.error("cut-zone", where, str(problem), hint)
        return None
    if from_ is not None and to is not None and low >= high:
        problems.error("cut-order", where, f"the cut ends at {to} and starts at {from_}", "from must be before to")
        return None
    step = table.duration_s / max(table.time_s.size - 1, 1)
    first, last = float(table.time_s[0]) - step, float(table.time_s[-1]) + step
    for asked, seconds in ((from_, low), (to, high)):
        if not first <= seconds <= last:
            problems.error("cut-outside", where, f"the cut at {asked} is outside the log", hint)
            return None
    try:
        return table.cut(from_, to)
    except ValueError as problem:
        problems.error("cut-empty", where, str(problem), hint)
        return None


def _moment(table: LogTable, index: int) -> str:
    seconds = float(table.time_s[index])
    elapsed = f"{seconds + table.origin_s:.1f} s"
    if table.start is None:
        return elapsed
    moment = table.start + dt.timedelta(seconds=seconds)
    shown = moment.astimezone(table.zone) if table.zone else moment
    return f"{elapsed} ({shown.isoformat(sep=' ', timespec='seconds')})"
