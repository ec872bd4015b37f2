"""A log's bytes -> a table in standard units."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import chain

import numpy as np

from builder.archive.bench import Reader
from builder.core.errors import Problems
from builder.core.quantity import FloatArray
from builder.core.results import Quantity
from builder.logs.cells import BadCell, shown
from builder.logs.columns import Declared, Opened, checked, column_repairs, open_log
from builder.logs.rows import report_cell
from builder.logs.times import TimeAxis, read_time
from builder.logs.types import FrameTable, LogColumn, LogTable, Repair


def read_log(data: bytes, *, file: str, readers: Sequence[Reader], problems: Problems) -> LogTable | None:
    """Return the log in standard units, or None after reporting every reason why it cannot be read.

    `file` is the log's path inside the archive, for messages. Where the reader has no time column, time is the sum
    of frame times.
    """
    opened = open_log(data, file, readers, problems)
    if opened is None:
        return None
    axis = time_axis(opened)
    if axis is None:
        return None
    columns = _columns(opened, axis)
    if columns is None:
        return None
    layout = opened.layout
    return LogTable(
        file=file,
        reader_id=layout.reader.id,
        time_s=axis.seconds,
        start=axis.start,
        columns={q: c.column for q, c in columns.items()},
        repairs=(*opened.body.repairs, *axis.repairs, *chain.from_iterable(c.repairs for c in columns.values())),
        origin_s=axis.origin_s,
        zone=axis.zone,
        lines=tuple(opened.body.lines[i] for i in axis.rows),
        of_day_s=axis.of_day_s,
    )


@dataclass(frozen=True, kw_only=True, eq=False)
class _Column:
    column: LogColumn
    repairs: tuple[Repair, ...]


def _columns(opened: Opened, axis: TimeAxis) -> dict[Quantity, _Column] | None:
    """Return the quantities that have readings; None after reporting the first bad cell of each bad column."""
    found: dict[Quantity, _Column] = {}
    failed = False
    everything = len(axis.rows) == len(opened.body.lines)
    lines = opened.body.lines if everything else [opened.body.lines[i] for i in axis.rows]
    for declared in opened.quantities:
        all_cells = opened.body.cells[declared.name]
        cells = all_cells if everything else [all_cells[i] for i in axis.rows]
        read = checked(opened, declared, cells, lines)
        if read is None:
            failed = True
        elif read.missing == len(cells):
            message = f"column {shown(declared.name)} holds no reading"
            opened.problems.warning("empty-column", opened.layout.header_place, message, "it is left out")
        elif declared.quantity is not None:
            column = LogColumn(
                quantity=declared.quantity,
                header=declared.name,
                values=read.values,
                resolution=smallest_step(read.values),
                spelled_decimals=read.decimals,
            )
            repairs = tuple(column_repairs(shown(declared.name), read, lines))
            found[declared.quantity] = _Column(column=column, repairs=repairs)
    return None if failed else found


def smallest_step(values: FloatArray) -> float:
    """Return the smallest step between distinct values, NaN ignored; 0 where there is only one value."""
    distinct = np.unique(values[np.isfinite(values)])
    if distinct.size <= 1:
        return 0.0
    steps = np.diff(distinct)
    steps = steps[steps > 1e-9 * float(np.abs(distinct).max())]
    return float(f"{steps.min():.6g}") if steps.size else 0.0


def time_axis(opened: Opened) -> TimeAxis | None:
    """Return the time of each row, from the time column or else the frame times; None after reporting why not."""
    if opened.layout.reader.time is None:
        return _axis_of_frames(opened)
    return read_time(opened.layout, opened.body, opened.time_unit, opened.spelling, opened.problems)


def _axis_of_frames(opened: Opened) -> TimeAxis | None:
    layout = opened.layout
    frames = next((c for c in opened.columns if c.quantity is Quantity.FRAME_TIME), None)
    if frames is None:
        message = f'the reader "{layout.reader.id}" has no time column'
        opened.problems.error("no-time", layout.header_place, message, "add time: to the reader")
        return None
    read = frame_times(opened, frames)
    if read is None:
        return None
    starts = np.concatenate([[0.0], np.cumsum(read.frame_ms[:-1])]) / 1000
    return TimeAxis(seconds=starts, rows=read.rows, start=None, zone=None, origin_s=0.0, repairs=read.repairs)


# --- Frame times: a column of a log, or the steps of its time column


def read_frames(
    data: bytes, *, file: str, readers: Sequence[Reader], problems: Problems, skip: int = 0
) -> FrameTable | None:
    """Return the frame times of a frame file without its first `skip` frames; None after reporting why not.

    Frame times are a column of their own, or else the differences of the time column. They are not placed on a
    time axis, so a repeated or missing time loses no frame.
    """
    opened = open_log(data, file, readers, problems, for_frames=True)
    if opened is None:
        return None
    declared = next((c for c in opened.columns if c.quantity is Quantity.FRAME_TIME), None)
    read = frame_times(opened, declared) if declared else _frame_steps(opened)
    if read is None:
        return None
    if skip >= read.frame_ms.size:
        message = f"the log has {read.frame_ms.size} frames, of which {skip} are to be skipped"
        problems.error("no-frames", opened.layout.header_place, message, "lower skip_frames in the bundle")
        return None
    return FrameTable(file=file, frame_ms=read.frame_ms[skip:], repairs=(*opened.body.repairs, *read.repairs))


MANY_MEDIANS = 5.0  # of the first frames: loading, not rendering; common practice, no source
_MOST_SLOW = 20  # more are the scene's own


def slow_start(frame_ms: FloatArray) -> int:
    """Return how many frames at the start, shape (n,) in ms, each took at least five times the median.

    None where more than 20 in a row did, which no longer is a start.

    >>> slow_start(np.array([167.4, 13.0, 13.1, 13.2, 12.9]))
    1
    """
    ordinary = np.flatnonzero(frame_ms < MANY_MEDIANS * float(np.median(frame_ms)))
    slow = int(ordinary[0]) if ordinary.size else 0
    return slow if slow <= _MOST_SLOW else 0


def slow_start_said(frame_ms: FloatArray, skipped: int = 0) -> str:
    """Return what is to be said of slow first frames behind those that are skipped, and what to set; else empty."""
    slow = slow_start(frame_ms) if frame_ms.size else 0
    if not slow:
        return ""
    first, median = float(frame_ms[0]), float(np.median(frame_ms))
    which = "the first frame" if not skipped else f"frame {skipped + 1}"
    return (
        f"{which} took {first:.1f} ms, {first / median:.0f} times the median of {median:.1f} ms: if it is part of "
        f"loading, set skip_frames: {skipped + slow}"
    )


@dataclass(frozen=True, kw_only=True, eq=False)
class Frames:
    """Frame times in ms, shape (n,), and the numbers of their rows."""

    frame_ms: FloatArray
    rows: list[int]
    repairs: tuple[Repair, ...]


def frame_times(opened: Opened, declared: Declared) -> Frames | None:
    """Return the frame times of a column; None after reporting one that is not above zero."""
    cells, lines = opened.body.cells[declared.name], opened.body.lines
    read = checked(opened, declared, cells, lines)
    if read is None:
        return None
    zero = np.flatnonzero(read.values <= 0)
    if zero.size:
        bad = BadCell(
            index=int(zero[0]),
            code="frame-time",
            message=f"{shown(cells[int(zero[0])])} is no frame time: it must be above zero",
            hint="take the line out of a copy of the log, or name its spelling under missing: in the reader",
            more=int(zero.size) - 1,
        )
        report_cell(opened.layout, declared.name, lines[bad.index], bad, opened.problems)
        return None
    rows = np.flatnonzero(~np.isnan(read.values))
    if not rows.size:
        opened.problems.error("no-frames", opened.layout.header_place, "the log has no frame times", "check the column")
        return None
    repairs = tuple(column_repairs(shown(declared.name), read, lines))
    return Frames(frame_ms=read.values[rows], rows=rows.tolist(), repairs=repairs)


def _frame_steps(opened: Opened) -> Frames | None:
    axis = time_axis(opened)
    if axis is None:
        return None
    if axis.seconds.size <= 1:
        where = opened.layout.header_place
        opened.problems.error("no-frames", where, "one time makes no frame", "check that this is the frame file")
        return None
    repairs = tuple(r for r in axis.repairs if r.code != "gap")
    return Frames(frame_ms=np.diff(axis.seconds) * 1000, rows=axis.rows[1:], repairs=repairs)
