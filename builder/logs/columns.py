"""What a reader declares of a log's columns, checked against the header and a row of units."""

from __future__ import annotations

import re
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from itertools import chain

import numpy as np

from builder.archive.bench import Reader
from builder.core.errors import Problems, nearest
from builder.core.quantity import POSSIBLE
from builder.core.results import Quantity
from builder.core.words import listing
from builder.logs.cells import MISSING, BadCell, Numbers, Spelling, converts, marks, numbers, shown, unit_id
from builder.logs.header import Layout, find_layout, time_columns
from builder.logs.rows import Body, read_body, report_cell
from builder.logs.types import Repair, repair

_BRACKETS = " []()"
_HEADER_UNIT = re.compile(r"[\[(]([^\[\]()]*(?:\([A-Za-z]\))?)[\])]\s*(?:#\d+)?$")


@dataclass(frozen=True, kw_only=True)
class Declared:
    """A used column: its name, quantity (None for time), unit id in the file and standard unit."""

    name: str
    quantity: Quantity | None
    unit: str
    standard: str


def declared_columns(layout: Layout, problems: Problems, *, for_frames: bool) -> list[Declared] | None:
    """Return the used columns, time first; None after reporting every column that is missing or makes no sense."""
    reader, found, before = layout.reader, [], len(problems)
    timed = any(meaning.quantity is Quantity.FRAME_TIME for meaning in reader.columns.values())
    if reader.time and not (for_frames and timed):
        unit = reader.time.unit if reader.time.kind == "elapsed" else "s"
        found += [_declared(layout, name, None, unit, problems) for name in time_columns(reader)]
    for name, meaning in reader.columns.items():
        if meaning.optional and name not in layout.names:
            continue
        found.append(_declared(layout, name, meaning.quantity, meaning.unit, problems))
    _report_twice(layout, problems)
    columns = [column for column in found if column is not None]
    return columns if len(columns) == len(found) and len(problems) == before else None


def _declared(layout: Layout, name: str, quantity: Quantity | None, unit: str, problems: Problems) -> Declared | None:
    what, reader = ("time" if quantity is None else str(quantity)), f'the reader "{layout.reader.id}"'
    if name not in layout.names:
        hint = nearest(name, layout.names) or f"the header has: {listing(layout.names)}"
        code = "time-column-missing" if quantity is None else "missing-column"
        role = "the time column " if quantity is None else "a column "
        problems.error(code, layout.header_place, f"{reader} needs {role}{shown(name)}", hint)
        return None
    standard = "s" if quantity is None else quantity.unit
    known = unit_id(unit)
    if known is None:
        message = f"{reader} gives {shown(name)} the unknown unit {shown(unit)}"
        problems.error("unknown-unit", layout.header_place, message, f"{what} is in {standard}, or what converts to it")
        return None
    if not converts(known, standard):
        message = f"{reader} gives {shown(name)} the unit {shown(unit)}, which does not fit {what}"
        problems.error("unit-mismatch", layout.header_place, message, f"{what} is in {standard}")
        return None
    return Declared(name=name, quantity=quantity, unit=known, standard=standard)


def _report_twice(layout: Layout, problems: Problems) -> None:
    columns = layout.reader.columns
    by_quantity: dict[Quantity, str] = {}
    for name, meaning in columns.items():
        first = by_quantity.setdefault(meaning.quantity, name)
        if first != name:
            message = (
                f'the reader "{layout.reader.id}" has two columns of {meaning.quantity}: {shown(first)}, {shown(name)}'
            )
            problems.error("quantity-twice", layout.header_place, message, "keep the one that is to be used")


def header_unit(name: str) -> str | None:
    """Return the unit id at the end of a header, in brackets, or None.

    >>> header_unit("power [mW]"), header_unit("sound (dB(A))"), header_unit("power")
    ('mW', 'dBA', None)
    """
    match = _HEADER_UNIT.search(name)
    return unit_id(match[1]) if match and match[1].strip() else None


def warn_header_units(layout: Layout, columns: list[Declared], problems: Problems) -> None:
    """Warn of a header that names another unit than its reader; the reader's is taken."""
    for column in columns:
        seen = header_unit(column.name)
        if seen is not None and seen != column.unit and converts(seen, column.standard):
            message = f"the header says {seen}, the reader takes {column.unit}"
            where = layout.place_of(layout.header.line, column.name)
            problems.warning(
                "unit-differs", where, f"column {shown(column.name)}: {message}", "check the reader's unit"
            )


@dataclass(frozen=True, kw_only=True)
class UnitsRow:
    """A row of units under the header, taken out of the body: the units it names by column, and its line."""

    units: dict[str, str]
    line: int

    @property
    def repair(self) -> Repair:
        """Return what to report."""
        return Repair(code="units-row", count=1, lines=(self.line,), message="row of units read")


def take_units_row(body: Body) -> UnitsRow | None:
    """Remove a row of units from the top of the body and return it, or None where the first row holds readings."""
    if not body.lines:
        return None
    first = {name: cells[0].strip().strip(_BRACKETS) for name, cells in body.cells.items()}
    named = {name: cell for name, cell in first.items() if cell.casefold() not in MISSING}  # N/A is also a unit
    units = {name: unit for name, cell in named.items() if (unit := unit_id(cell)) is not None}
    rest = [cell for name, cell in named.items() if name not in units]
    if not units or any(re.match(r"[+-]?[.,]?\d", cell) for cell in rest):
        return None
    row = UnitsRow(units=units, line=body.lines[0])
    for cells in body.cells.values():
        del cells[0]
    del body.lines[0]
    return row


def with_row_units(
    layout: Layout, columns: list[Declared], row: UnitsRow | None, problems: Problems
) -> list[Declared] | None:
    """Return the columns with the units that the log itself names; None after reporting one that does not convert."""
    if row is None:
        return columns
    changed, before = [], len(problems)
    for column in columns:
        unit = row.units.get(column.name, column.unit)
        if not converts(unit, column.standard):
            what = column.quantity or "time"
            message = f"column {shown(column.name)}: the row of units says {unit}, which does not fit {what}"
            where = layout.place_of(row.line, column.name)
            problems.error("unit-mismatch", where, message, "check which quantity the reader gives this column")
            continue
        changed.append(replace(column, unit=unit))
    return changed if len(problems) == before else None


# --- A log opened: its layout, used columns and rows known, its cells not yet numbers


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
    bounds = POSSIBLE[declared.standard]
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
