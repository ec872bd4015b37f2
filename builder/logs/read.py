"""A log's bytes -> a table in standard units."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import chain

import numpy as np

from builder.errors import Problems
from builder.figures import Quantity
from builder.logs.cells import Numbers, shown
from builder.logs.declared import Declared
from builder.logs.frames import time_axis
from builder.logs.opened import Opened, checked, column_repairs, open_log
from builder.logs.results import LogColumn, LogTable, Repair
from builder.logs.timeaxis import TimeAxis
from builder.model import Reader
from builder.quantity import FloatArray


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
            found[declared.quantity] = _column(declared, declared.quantity, read, lines)
    return None if failed else found


def _column(declared: Declared, quantity: Quantity, read: Numbers, lines: Sequence[int]) -> _Column:
    name = shown(declared.name)
    repairs = list(column_repairs(name, read, lines))
    column = LogColumn(
        quantity=quantity,
        header=declared.name,
        values=read.values,
        resolution=smallest_step(read.values),
        spelled_decimals=read.decimals,
    )
    return _Column(column=column, repairs=tuple(repairs))


def smallest_step(values: FloatArray) -> float:
    """Return the smallest step between distinct values, NaN ignored; 0 where there is only one value."""
    distinct = np.unique(values[np.isfinite(values)])
    if distinct.size <= 1:
        return 0.0
    steps = np.diff(distinct)
    steps = steps[steps > 1e-9 * float(np.abs(distinct).max())]
    return float(f"{steps.min():.6g}") if steps.size else 0.0
