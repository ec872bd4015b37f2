"""The rows under a log's header -> the used columns as text, with line numbers and repairs of rows."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, field
from itertools import islice
from operator import itemgetter

from builder.core.errors import Problems, Span
from builder.logs.cells import BadCell, shown
from builder.logs.header import Layout
from builder.logs.table import Row, TableError, rows
from builder.logs.types import Repair, repair

MAX_ROWS = 2_000_000
_COMPARED_ROWS = 20


@dataclass(frozen=True, kw_only=True, eq=False)
class Body:
    """The used columns as text by name, all of one length, and the line of each row."""

    cells: dict[str, list[str]]
    lines: list[int]
    repairs: tuple[Repair, ...]


class _WideRow(ValueError):  # noqa: N818 - caught where it is raised
    """A row with more cells than the header; carries the row."""

    def __init__(self, row: Row) -> None:
        self.row = row
        super().__init__(row.line)


@dataclass(kw_only=True, eq=False)
class _Rows:
    """What is gathered while going through the rows."""

    kept: list[Sequence[str]] = field(default_factory=list)
    lines: list[int] = field(default_factory=list)
    repeated: list[int] = field(default_factory=list)  # lines
    repeated_at: set[int] = field(default_factory=set)  # numbers of the rows that follow
    short: list[int] = field(default_factory=list)  # numbers of rows
    multiline: list[int] = field(default_factory=list)  # lines

    def repeat(self, line: int) -> None:
        self.repeated.append(line)
        self.repeated_at.add(len(self.kept))

    def fitted(self, row: Row, width: int) -> list[str]:
        """Return the cells of a row at the header's width; none for a row of nothing."""
        cells = row.cells
        if not any(cell.strip() for cell in cells):
            return []
        if any(cell.strip() for cell in cells[width:]):
            raise _WideRow(row)
        if len(cells) < width:
            self.short.append(len(self.kept))
        return cells[:width] + [""] * (width - len(cells))


def read_body(layout: Layout, used: Sequence[str], problems: Problems) -> Body | None:
    """Return the cells of the used columns; None after reporting a row that cannot be understood."""
    try:
        gathered = _gather(layout, used)
    except TableError as problem:
        where = Span(file=layout.file, line=problem.line)
        problems.error(problem.code, where, str(problem), "check the quotes and line ends of the log there")
        return None
    except _WideRow as problem:
        _report_wide(layout, problem.row, problems)
        return None
    repairs = _mend(layout, used, gathered)
    columns = zip(*gathered.kept, strict=True) if gathered.kept else ((),) * len(used)
    cells = {name: list(column) for name, column in zip(used, columns, strict=True)}
    return Body(cells=cells, lines=gathered.lines, repairs=tuple(repairs))


def _picker(indices: Sequence[int]) -> Callable[[Sequence[str]], Sequence[str]]:
    if len(indices) == 1:
        only = indices[0]
        return lambda cells: (cells[only],)
    return itemgetter(*indices)


def _gather(layout: Layout, used: Sequence[str]) -> _Rows:
    out, width, header = _Rows(), len(layout.names), layout.header.cells
    pick = _picker([layout.names.index(name) for name in used])
    body = rows(layout.text, layout.delimiter, skip_spaces=True)
    for row in islice(body, layout.header_number + 1, None):
        if row.cells == header:
            out.repeat(row.line)
            continue
        cells = row.cells if len(row.cells) == width else out.fitted(row, width)
        if not cells:
            continue
        if row.end != row.line:
            out.multiline.append(row.line)
        out.kept.append(pick(cells))
        out.lines.append(row.line)
        if len(out.kept) > MAX_ROWS:
            raise TableError(row.line, "log-too-large", f"the log has more than {MAX_ROWS} rows")
    return out


def _report_wide(layout: Layout, row: Row, problems: Problems) -> None:
    width = len(layout.names)
    where = layout.place(row.line, width)
    if layout.header_again(row.cells):
        report_changed(layout, row.line, problems)
        return
    message = f"the row has {len(row.cells)} cells, the header has {width}"
    comma = layout.delimiter == "," and len(row.cells) > width
    hint = "a decimal comma needs another delimiter, or quotes" if comma else "check the delimiters of this row"
    problems.error("too-many-cells", where, message, hint)


def report_changed(layout: Layout, line: int, problems: Problems) -> None:
    """Report that the log changes its columns at a line."""
    message = f"the header changes here, it was read at line {layout.header.line}"
    problems.error("header-changed", Span(file=layout.file, line=line), message, "split the log at this line")


def report_cell(layout: Layout, name: str, line: int, bad: BadCell, problems: Problems) -> None:
    """Report a cell that cannot be used, or the new header that it belongs to."""
    if layout.header_again(layout.cells_at(line)):
        report_changed(layout, line, problems)
        return
    more = f" (and {bad.more} more in this column)" if bad.more else ""
    problems.error(bad.code, layout.place_of(line, name), f"column {shown(name)}: {bad.message}{more}", bad.hint)


def _mend(layout: Layout, used: Sequence[str], out: _Rows) -> list[Repair]:
    cut = [n for n in out.short if n == len(out.kept) - 1 or n + 1 in out.repeated_at]
    if _ends_inside_cell(layout, used, out):
        cut.append(len(out.kept) - 1)
    cut_lines = [out.lines[n] for n in cut]
    padded = [out.lines[n] for n in out.short if n not in set(cut)]
    for number in reversed(cut):
        del out.kept[number], out.lines[number]
    return list(_row_repairs(out, cut_lines, padded, layout.decoded.tail))


def _row_repairs(out: _Rows, cut: list[int], padded: list[int], tail: int) -> list[Repair]:
    found = [
        (out.repeated, "repeated-header", "repeated header rows left out"),
        (cut, "cut-line", "lines that break off left out"),
        (padded, "short-row", "rows with fewer cells than the header, the rest taken as missing"),
        (out.multiline, "multi-line-cell", "rows with a line break inside a quoted cell"),
    ]
    repairs = [repair(code, lines, f"{len(lines)} {words}") for lines, code, words in found if lines]
    if tail and not cut:
        repairs.append(Repair(code="cut-end", count=1, lines=(), message="the file breaks off inside a character"))
    return repairs


def _ends_inside_cell(layout: Layout, used: Sequence[str], out: _Rows) -> bool:
    """Whether the last row lacks a line end and its last cell is shorter than all of the rows above it.

    A file may lack its last line end and be whole; a number that lost digits would be a wrong reading.
    """
    if not out.kept or out.short[-1:] == [len(out.kept) - 1] or layout.names[-1] not in used:
        return False
    if layout.text.endswith(("\n", "\r")):
        return False
    at = list(used).index(layout.names[-1])
    lengths = [len(cells[at].strip()) for cells in out.kept[-_COMPARED_ROWS - 1 :]]
    return len(lengths) > 1 and lengths[-1] < min(lengths[:-1])
