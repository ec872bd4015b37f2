"""Delimited text (RFC 4180, with other delimiters) -> rows of cells with their line numbers."""

from __future__ import annotations

import contextlib
import csv
import io
import re
from collections import Counter
from collections.abc import Iterator
from itertools import count, islice
from typing import NamedTuple

from builder.core.errors import Span

DELIMITERS = {"comma": ",", "semicolon": ";", "tab": "\t"}
MAX_LINE = 1_000_000
MAX_CELLS = 2_000
_HEAD_ROWS = 60


class Row(NamedTuple):
    """A record: the lines it starts and ends at, from 1, and its cells."""

    line: int
    end: int
    cells: list[str]


class TableError(ValueError):
    """Text that cannot be split into rows; carries the line."""

    def __init__(self, line: int, code: str, message: str) -> None:
        self.line, self.code = line, code
        super().__init__(message)


def _blocks(text: str) -> Iterator[str]:
    """Yield the text in pieces of about a million characters that end with a line, so that no second copy is held."""
    start = 0
    while start < len(text):
        end = text.rfind("\n", start, start + MAX_LINE) + 1 or text.find("\n", start) + 1 or len(text)
        yield text[start:end]
        start = end


def _lines(text: str) -> Iterator[str]:
    number = 0
    for block in _blocks(text):
        for number, line in enumerate(io.StringIO(block, newline=""), number + 1):  # noqa: B020 - counts on
            if len(line) > MAX_LINE:
                message = f"the line has {len(line)} characters, the limit is {MAX_LINE}"
                raise TableError(number, "line-too-long", message)
            yield line


def rows(text: str, delimiter: str, *, skip_spaces: bool = False) -> Iterator[Row]:
    """Yield every record that is no blank line; `skip_spaces` ignores spaces after a delimiter.

    Raises TableError for a line or cell too long to be part of a log, and for a quote that is never closed.
    """
    reader = csv.reader(_lines(text), delimiter=delimiter, skipinitialspace=skip_spaces)
    before = 0
    try:
        for cells in reader:
            end = reader.line_num
            if len(cells) > MAX_CELLS:
                raise TableError(
                    before + 1, "line-too-long", f"the line has {len(cells)} cells, the limit is {MAX_CELLS}"
                )
            if cells:
                yield Row(before + 1, end, cells)
            before = end
    except csv.Error as problem:
        message = "a quoted cell is never closed" if reader.line_num > before + 1 else "a cell is too long"
        raise TableError(before + 1, "bad-quoting", message) from problem


def head(text: str, delimiter: str, limit: int, *, skip_spaces: bool = True) -> Iterator[Row]:
    """Yield the first records, as many as can be split."""
    with contextlib.suppress(TableError):
        yield from islice(rows(text, delimiter, skip_spaces=skip_spaces), limit)


def sniff(text: str) -> str:
    """Return the delimiter under which the first rows agree best on how many cells they have; a comma by default."""

    def agreement(delimiter: str) -> tuple[float, int]:
        found = list(head(text, delimiter, _HEAD_ROWS))
        widths = Counter(len(row.cells) for row in found if len(row.cells) > 1)
        cells, agreeing = widths.most_common(1)[0] if widths else (0, 0)
        return round(agreeing / max(len(found), 1), 1), cells

    return max(DELIMITERS.values(), key=agreement)


def names_of(cells: list[str]) -> tuple[str, ...]:
    """Return column names: stripped, a repeated name as `name#2`, an unnamed column as `#` and its number.

    >>> names_of([" t", "fan", "", "fan"])
    ('t', 'fan', '#3', 'fan#2')
    """
    names: dict[str, None] = {}
    for number, cell in enumerate(cells, 1):
        base = cell.strip() or f"#{number}"
        free = (f"{base}#{again}" for again in count(2))
        names[base if base not in names else next(name for name in free if name not in names)] = None
    return tuple(names)


def place(text: str, file: str, delimiter: str, line: int, index: int) -> Span:
    """Return where a cell starts: the record's first line and the cell's number in it, from 0, as line and column."""
    start = _offset(text, line)
    begin = _cell_start(text, delimiter, start, index)
    while begin < len(text) and text[begin] == " ":
        begin += 1
    before = text[start:begin]
    breaks = list(re.finditer(r"\r\n?|\n", before))
    column = len(before) - (breaks[-1].end() if breaks else 0) + 1
    return Span(file=file, line=line + len(breaks), column=column)


def _cell_start(text: str, delimiter: str, start: int, index: int) -> int:
    """Return where a cell of a record begins; that of its last cell where it has fewer."""
    # A cell is quoted, to the next single quote mark, or else plain; both end before a delimiter or the line's end.
    cell = re.compile(rf'[ ]*"(?:[^"]|"")*"[^{delimiter}\r\n]*|[^{delimiter}\r\n]*')
    begin = start
    for _ in range(index):
        end = match.end() if (match := cell.match(text, begin)) else begin
        if text[end : end + 1] != delimiter:
            break
        begin = end + 1
    return begin


def cells_at(text: str, delimiter: str, line: int) -> list[str]:
    """Return the cells of the record that starts at a line; none where there is no such line."""
    found = next(rows(text[_offset(text, line) :], delimiter, skip_spaces=True), None)
    return found.cells if found else []


def _offset(text: str, line: int) -> int:
    return sum(map(len, islice(_lines(text), line - 1)))
