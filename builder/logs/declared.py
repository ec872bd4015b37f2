"""What a reader declares of a log's columns, checked against the header and a row of units."""

from __future__ import annotations

import re
from dataclasses import dataclass

from builder.errors import Problems, listing, nearest
from builder.figures import STANDARD_UNITS, Quantity
from builder.logs.body import Body
from builder.logs.cells import MISSING, shown
from builder.logs.header import Layout
from builder.logs.results import Repair
from builder.logs.units import converts, unit_id

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
        found.append(_declared(layout, reader.time.column, None, unit, problems))
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
    standard = "s" if quantity is None else STANDARD_UNITS[quantity]
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
        changed.append(Declared(name=column.name, quantity=column.quantity, unit=unit, standard=column.standard))
    return changed if len(problems) == before else None
