"""A log opened: its layout, used columns and rows known, its cells not yet numbers."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from itertools import chain

import numpy as np

from builder.errors import Problems
from builder.logs.body import Body, read_body
from builder.logs.bounds import BOUNDS
from builder.logs.cells import BadCell, Numbers, Spelling, numbers, shown
from builder.logs.decimals import marks
from builder.logs.declared import Declared, declared_columns, take_units_row, warn_header_units, with_row_units
from builder.logs.header import Layout, find_layout
from builder.logs.results import Repair, repair
from builder.logs.timeaxis import report_cell
from builder.model import Reader


@dataclass(frozen=True, kw_only=True, eq=False)
class Opened:
    """A log whose layout, used columns, rows and spelling of numbers are known."""

    layout: Layout
    columns: list[Declared]
    body: Body
    spelling: Spelling
    problems: Problems

    @property
    def quantities(self) -> list[Declared]:
        """Return the used columns without time."""
        return [column for column in self.columns if column.quantity is not None]

    @property
    def time_unit(self) -> str:
        """Return the unit of elapsed time."""
        return next(column.unit for column in self.columns if column.quantity is None)


def open_log(
    data: bytes, file: str, readers: Sequence[Reader], problems: Problems, *, for_frames: bool = False
) -> Opened | None:
    """Return the log opened, or None after reporting why not; `for_frames` needs no time beside frame times."""
    layout = find_layout(data, file, readers, problems)
    columns = declared_columns(layout, problems, for_frames=for_frames) if layout else None
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
    return Opened(layout=layout, columns=fitted, body=body, spelling=spelling, problems=problems)


def _spelling(layout: Layout, columns: list[Declared], body: Body, problems: Problems) -> Spelling | None:
    missing = frozenset(text.strip() for text in layout.reader.missing)
    if layout.reader.decimal != "auto":
        return Spelling(mark="," if layout.reader.decimal == "comma" else ".", missing=missing)
    stamped = layout.reader.time is not None and layout.reader.time.kind == "timestamp"
    names = [column.name for column in columns if column.quantity is not None or not stamped]
    if not any("," in "".join(body.cells[name]) for name in names):
        return Spelling(mark=".", missing=missing)
    said = marks(chain.from_iterable(sorted(set(body.cells[name])) for name in names))
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


def checked(opened: Opened, declared: Declared, cells: Sequence[str], lines: Sequence[int]) -> Numbers | None:
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


def column_repairs(name: str, read: Numbers, lines: Sequence[int]) -> Iterator[Repair]:
    """Yield what was mended in a column's cells."""
    if read.missing:
        rows = [lines[i] for i in np.flatnonzero(np.isnan(read.values)).tolist()]
        yield repair("missing-value", rows, f"column {name}: {read.missing} values missing")
    if read.grouped:
        rows = [lines[i] for i in read.grouped]
        yield repair("thousands", rows, f"column {name}: thousands separators read in {len(rows)} cells")
    if read.converted:
        units = ", ".join(read.converted)
        yield Repair(code="cell-unit", count=1, lines=(), message=f"column {name}: cells in {units} converted")
