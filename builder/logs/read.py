"""A log's bytes -> a table in standard units."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from itertools import chain

import numpy as np

from builder.errors import Problems
from builder.figures import Quantity
from builder.logs.body import Body, read_body
from builder.logs.bounds import BOUNDS
from builder.logs.cells import BadCell, Numbers, Spelling, numbers, shown
from builder.logs.decimals import marks
from builder.logs.declared import Declared, declared_columns, take_units_row, warn_header_units, with_row_units
from builder.logs.header import Layout, find_layout
from builder.logs.results import FrameTable, LogColumn, LogTable, Repair, repair
from builder.logs.timeaxis import TimeAxis, read_time, report_cell
from builder.model import Reader
from builder.quantity import FloatArray


@dataclass(frozen=True, kw_only=True, eq=False)
class _Opened:
    """A log whose layout, used columns, rows and spelling of numbers are known."""

    layout: Layout
    columns: list[Declared]
    body: Body
    spelling: Spelling
    problems: Problems

    @property
    def quantities(self) -> list[Declared]:
        return [column for column in self.columns if column.quantity is not None]

    @property
    def time_unit(self) -> str:
        return next(column.unit for column in self.columns if column.quantity is None)


def read_log(data: bytes, *, file: str, readers: Sequence[Reader], problems: Problems) -> LogTable | None:
    """Return the log in standard units, or None after reporting every reason why it cannot be read.

    `file` is the log's path inside the archive, for messages. Where the reader has no time column, time is the sum
    of frame times.
    """
    opened = _open(data, file, readers, problems, with_time=True)
    if opened is None:
        return None
    axis = _axis(opened)
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


def _open(data: bytes, file: str, readers: Sequence[Reader], problems: Problems, *, with_time: bool) -> _Opened | None:
    layout = find_layout(data, file, readers, problems)
    columns = declared_columns(layout, problems, with_time=with_time) if layout else None
    if layout is None or columns is None:
        return None
    warn_header_units(layout, columns, problems)
    body = read_body(layout, list(dict.fromkeys(column.name for column in columns)), problems)
    if body is None:
        return None
    units = take_units_row(body)
    if units is not None:
        body = replace(body, repairs=(units.repair, *body.repairs))
    fitted = with_row_units(layout, columns, units, problems)
    if fitted is None:
        return None
    if not body.lines:
        hint = "log the run again, or take the run out of the bundle"
        problems.error("no-samples", layout.header_place, "the log has a header and no readings", hint)
        return None
    spelling = _spelling(layout, fitted, body, problems)
    if spelling is None:
        return None
    return _Opened(layout=layout, columns=fitted, body=body, spelling=spelling, problems=problems)


def _spelling(layout: Layout, columns: list[Declared], body: Body, problems: Problems) -> Spelling | None:
    missing = frozenset(text.strip() for text in layout.reader.missing)
    if layout.reader.decimal != "auto":
        return Spelling(mark="," if layout.reader.decimal == "comma" else ".", missing=missing)
    stamped = layout.reader.time is not None and layout.reader.time.kind == "timestamp"
    names = [column.name for column in columns if column.quantity is not None or not stamped]
    texts = {name: set(body.cells[name]) for name in names}
    if not any("," in "".join(cells) for cells in texts.values()):
        return Spelling(mark=".", missing=missing)
    said = marks(chain.from_iterable(sorted(cells) for cells in texts.values()))
    if (said.point and said.comma) or not (said.point or said.comma):
        _report_marks(layout, body, said.comma if said.point else said.unclear, problems, mixed=bool(said.point))
        return None if said.comma or said.unclear else Spelling(mark=".", missing=missing)
    return Spelling(mark="," if said.comma else ".", missing=missing)


def _report_marks(layout: Layout, body: Body, text: str, problems: Problems, *, mixed: bool) -> None:
    cells = ((name, i) for name, column in body.cells.items() for i, cell in enumerate(column) if cell.strip() == text)
    found = next(cells, None)
    if not text or found is None:
        return
    name, row = found
    where = layout.place_of(body.lines[row], name)
    if mixed:
        message = f"{shown(text)} has a decimal comma and other cells have a decimal point"
        problems.error("decimal-mark", where, message, "set decimal: point or decimal: comma in the reader")
        return
    message = f"{shown(text)} may be a decimal comma or thousands, and no other cell decides it"
    problems.error("decimal-mark", where, message, "set decimal: point or decimal: comma in the reader")


def _axis(opened: _Opened) -> TimeAxis | None:
    layout = opened.layout
    if layout.reader.time is not None:
        return read_time(layout, opened.body, opened.time_unit, opened.spelling, opened.problems)
    frames = next((c for c in opened.columns if c.quantity is Quantity.FRAME_TIME), None)
    if frames is None:
        message = f'the reader "{layout.reader.id}" has no time column'
        opened.problems.error("no-time", layout.header_place, message, "add time: to the reader")
        return None
    read = _frame_times(opened, frames)
    if read is None:
        return None
    starts = np.concatenate([[0.0], np.cumsum(read.frame_ms[:-1])]) / 1000
    return TimeAxis(seconds=starts, rows=read.rows, start=None, zone=None, origin_s=0.0, repairs=read.repairs)


@dataclass(frozen=True, kw_only=True, eq=False)
class _Column:
    column: LogColumn
    repairs: tuple[Repair, ...]


def _columns(opened: _Opened, axis: TimeAxis) -> dict[Quantity, _Column] | None:
    """Return the quantities that have readings; None after reporting the first bad cell of each bad column."""
    found: dict[Quantity, _Column] = {}
    failed = False
    everything = len(axis.rows) == len(opened.body.lines)
    lines = opened.body.lines if everything else [opened.body.lines[i] for i in axis.rows]
    for declared in opened.quantities:
        all_cells = opened.body.cells[declared.name]
        cells = all_cells if everything else [all_cells[i] for i in axis.rows]
        read = _checked(opened, declared, cells, lines)
        if read is None:
            failed = True
        elif read.missing == len(cells):
            message = f"column {shown(declared.name)} holds no reading"
            opened.problems.warning("empty-column", opened.layout.header_place, message, "it is left out")
        elif declared.quantity is not None:
            found[declared.quantity] = _column(declared, declared.quantity, read, lines)
    return None if failed else found


def _checked(opened: _Opened, declared: Declared, cells: Sequence[str], lines: Sequence[int]) -> Numbers | None:
    """Return a column's numbers inside what is possible; None after reporting the first that is not."""
    read = numbers(cells, declared.unit, declared.standard, opened.spelling)
    bad = read if isinstance(read, BadCell) else _impossible(declared, cells, read)
    if bad is not None:
        report_cell(opened.layout, declared.name, lines[bad.index], bad, opened.problems)
        return None
    return read if isinstance(read, Numbers) else None


def _impossible(declared: Declared, cells: Sequence[str], read: Numbers) -> BadCell | None:
    if declared.quantity is None:
        return None
    bounds = BOUNDS[declared.quantity]
    outside = np.flatnonzero((read.values < bounds.low) | (read.values > bounds.high))
    if not outside.size:
        return None
    index = int(outside[0])
    wide = f"{bounds.low:,g} to {bounds.high:,g} {declared.standard}".replace(",", " ")
    return BadCell(
        index=index,
        code="impossible-value",
        message=f"{shown(cells[index])} in {declared.unit} is no possible {declared.quantity} ({wide})",
        hint="check the unit in the reader, or name the spelling under missing: there",
        more=int(outside.size) - 1,
    )


def _column(declared: Declared, quantity: Quantity, read: Numbers, lines: Sequence[int]) -> _Column:
    name = shown(declared.name)
    repairs = list(_column_repairs(name, read, lines))
    column = LogColumn(
        quantity=quantity,
        header=declared.name,
        values=read.values,
        resolution=smallest_step(read.values),
        spelled_decimals=read.decimals,
    )
    return _Column(column=column, repairs=tuple(repairs))


def _column_repairs(name: str, read: Numbers, lines: Sequence[int]) -> Iterator[Repair]:
    if read.missing:
        rows = [lines[i] for i in np.flatnonzero(np.isnan(read.values))]
        yield repair("missing-value", rows, f"column {name}: {read.missing} values missing")
    if read.grouped:
        rows = [lines[i] for i in read.grouped]
        yield repair("thousands", rows, f"column {name}: thousands separators read in {len(rows)} cells")
    if read.converted:
        units = ", ".join(read.converted)
        yield Repair(code="cell-unit", count=1, lines=(), message=f"column {name}: cells in {units} converted")


def smallest_step(values: FloatArray) -> float:
    """Return the smallest step between distinct values, NaN ignored; 0 where there is only one value."""
    distinct = np.unique(values[np.isfinite(values)])
    if distinct.size <= 1:
        return 0.0
    steps = np.diff(distinct)
    steps = steps[steps > 1e-9 * float(np.abs(distinct).max())]
    return float(f"{steps.min():.6g}") if steps.size else 0.0


# --- frames ----------------------------------------------------------------------------------------------------


def read_frames(
    data: bytes, *, file: str, readers: Sequence[Reader], problems: Problems, skip: int = 0
) -> FrameTable | None:
    """Return the frame times of a frame file without its first `skip` frames; None after reporting why not.

    Frame times are a column of their own, or else the differences of the time column. They are not placed on a
    time axis, so a repeated or missing time loses no frame.
    """
    reads_times = [r for r in readers if any(m.quantity is Quantity.FRAME_TIME for m in r.columns.values())]
    opened = _open(data, file, readers, problems, with_time=not reads_times)
    if opened is None:
        return None
    declared = next((c for c in opened.columns if c.quantity is Quantity.FRAME_TIME), None)
    read = _frame_times(opened, declared) if declared else _frame_steps(opened)
    if read is None:
        return None
    if skip >= read.frame_ms.size:
        message = f"the log has {read.frame_ms.size} frames, of which {skip} are to be skipped"
        problems.error("no-frames", opened.layout.header_place, message, "lower skip_frames in the bundle")
        return None
    return FrameTable(file=file, frame_ms=read.frame_ms[skip:], repairs=(*opened.body.repairs, *read.repairs))


@dataclass(frozen=True, kw_only=True, eq=False)
class _Frames:
    frame_ms: FloatArray
    rows: list[int]
    repairs: tuple[Repair, ...]


def _frame_times(opened: _Opened, declared: Declared) -> _Frames | None:
    cells, lines = opened.body.cells[declared.name], opened.body.lines
    read = _checked(opened, declared, cells, lines)
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
    repairs = tuple(_column_repairs(shown(declared.name), read, lines))
    return _Frames(frame_ms=read.values[rows], rows=rows.tolist(), repairs=repairs)


def _frame_steps(opened: _Opened) -> _Frames | None:
    axis = _axis(opened)
    if axis is None:
        return None
    if axis.seconds.size <= 1:
        where = opened.layout.header_place
        opened.problems.error("no-frames", where, "one time makes no frame", "check that this is the frame file")
        return None
    repairs = tuple(r for r in axis.repairs if r.code != "gap")
    return _Frames(frame_ms=np.diff(axis.seconds) * 1000, rows=axis.rows[1:], repairs=repairs)
