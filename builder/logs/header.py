"""Which reader describes a log, and where its header and columns stand."""

from __future__ import annotations

import re
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field

from builder.archive.bench import Reader
from builder.core.errors import Problems, Span, nearest
from builder.core.words import listing
from builder.logs.cells import looks_numeric
from builder.logs.decode import Decoded, decode, unpacked
from builder.logs.table import DELIMITERS, Row, TableError, cells_at, head, names_of, place, rows, sniff

_HEAD_ROWS = 200
_REPEAT = re.compile(r"#\d+$")


@dataclass(frozen=True, kw_only=True, eq=False)
class Layout:
    """A log's text with the reader that describes it, its delimiter, header row and column names."""

    file: str
    reader: Reader
    decoded: Decoded
    delimiter: str
    header: Row
    header_number: int  # of records, from 0
    names: tuple[str, ...]

    @property
    def text(self) -> str:
        """Return the log's text."""
        return self.decoded.text

    def place(self, line: int, index: int) -> Span:
        """Return where a cell stands: `index` is its number in the record that starts at `line`, from 0."""
        return place(self.text, self.file, self.delimiter, line, index)

    @property
    def header_place(self) -> Span:
        """Return where the header stands."""
        return Span(file=self.file, line=self.header.line)

    def header_again(self, cells: Sequence[str]) -> bool:
        """Return whether a row is a header of the same kind, perhaps of other columns."""
        return set(self.reader.match) <= set(names_of(list(cells)))

    def cells_at(self, line: int) -> list[str]:
        """Return the cells of the record that starts at a line."""
        return cells_at(self.text, self.delimiter, line)

    def place_of(self, line: int, name: str) -> Span:
        """Return where the cell of a named column stands."""
        return self.place(line, self.names.index(name))


def find_layout(data: bytes, file: str, readers: Sequence[Reader], problems: Problems) -> Layout | None:
    """Return how the log is laid out under the one reader that matches it; None after reporting why there is none."""
    plain = unpacked(data, Span(file=file), problems)
    if plain is None:
        return None
    texts = _Texts(data=plain, file=file)
    matching = [layout for reader in readers for layout in _best_layout(texts.under(reader.encoding), file, reader)]
    if len(matching) == 1:
        return matching[0]
    if matching:
        ids = listing(f'"{layout.reader.id}"' for layout in matching)
        hint = "add to match: a header that only one of these logs has"
        problems.error(
            "readers-overlap", matching[0].header_place, f"more than one reader matches this log: {ids}", hint
        )
        return None
    if not texts.failures:
        _report_none(texts.under("auto"), file, readers, problems)
    problems.extend(texts.failures)
    return None


@dataclass(frozen=True, kw_only=True, eq=False)
class _Texts:
    """The log's text under each encoding that readers declare; a failure matters only where no reader matches."""

    data: bytes
    file: str
    found: dict[str, Decoded | None] = field(default_factory=dict)
    failures: Problems = field(default_factory=Problems)

    def under(self, encoding: str) -> Decoded | None:
        if encoding not in self.found:
            self.found[encoding] = decode(self.data, encoding, Span(file=self.file), self.failures)
        return self.found[encoding]


def time_columns(reader: Reader) -> tuple[str, ...]:
    """Return the columns that a reader's time is in: one, or two where the date has its own; none for frames alone."""
    if reader.time is None:
        return ()
    return (reader.time.column, *([reader.time.date] if reader.time.date else []))


def _best_layout(decoded: Decoded | None, file: str, reader: Reader) -> list[Layout]:
    """Return the layout under the delimiter that shows most of the reader's columns, if any shows its match."""
    if decoded is None:
        return []
    wanted = {*reader.columns, *time_columns(reader)}
    layouts: list[Layout] = []
    delimiters = DELIMITERS.values() if reader.delimiter == "auto" else [DELIMITERS[reader.delimiter]]
    for delimiter in delimiters:
        for found in _layouts(decoded, file, reader, delimiter):
            if wanted <= set(found.names):
                return [found]
            layouts.append(found)
    layouts.sort(key=lambda found: (len(wanted & set(found.names)), -found.header_number, len(found.names)))
    return layouts[-1:]


def _layouts(decoded: Decoded, file: str, reader: Reader, delimiter: str) -> Iterator[Layout]:
    bases = {name: _REPEAT.sub("", name) for name in reader.match}
    for number, row in enumerate(head(decoded.text, delimiter, _HEAD_ROWS)):
        cells = {cell.strip() for cell in row.cells}
        if not all(name in cells or base in cells for name, base in bases.items()):
            continue
        names = names_of(_without_empty_end(row.cells))
        if set(reader.match) <= set(names):
            yield Layout(
                file=file,
                reader=reader,
                decoded=decoded,
                delimiter=delimiter,
                header=row,
                header_number=number,
                names=names,
            )


def _without_empty_end(cells: list[str]) -> list[str]:
    kept = list(cells)
    while kept and not kept[-1].strip():
        kept.pop()
    return kept


@dataclass(frozen=True, kw_only=True)
class HeaderGuess:
    """A row that looks like a header, its number among the records from 0, and its cells less an empty end."""

    row: Row
    number: int
    cells: list[str]


def guess_header(text: str, delimiter: str) -> HeaderGuess | None:
    """Return the widest row of words that has a row of numbers and of its width close below; None without one."""
    found = list(head(text, delimiter, _HEAD_ROWS))
    guesses = [
        HeaderGuess(row=row, number=number, cells=_without_empty_end(row.cells))
        for number, row in enumerate(found)
        if _heads(row, found[number + 1 : number + 4])
    ]
    return max(guesses, key=lambda guess: (len(guess.cells), -guess.number), default=None)


def _heads(row: Row, below: Sequence[Row]) -> bool:
    cells = _without_empty_end(row.cells)
    if not cells or any(looks_numeric(cell) for cell in cells):
        return False
    return any(len(other.cells) >= len(cells) and any(map(looks_numeric, other.cells)) for other in below) or not below


def _report_none(decoded: Decoded | None, file: str, readers: Sequence[Reader], problems: Problems) -> None:
    if decoded is None:
        return
    if not readers:
        problems.error("no-reader", Span(file=file), "the bench has no reader", "add one: soakbook inspect prints it")
        return
    delimiter = sniff(decoded.text)
    try:
        next(rows(decoded.text, delimiter, skip_spaces=True), None)
    except TableError as problem:
        problems.error(problem.code, Span(file=file, line=problem.line), str(problem), "check that this is the log")
        return
    header = guess_header(decoded.text, delimiter)
    names = [name[:60] for name in names_of(header.cells)] if header else []
    where = Span(file=file, line=header.row.line if header else 0)
    message = f"no reader matches this log; headers found: {listing(names)}"
    problems.error("no-reader-matches", where, message, _nearest_reader(names, readers))


def _nearest_reader(names: Sequence[str], readers: Sequence[Reader]) -> str:
    def lacking(reader: Reader) -> list[str]:
        return [name for name in reader.match if name not in names]

    closest = min(readers, key=lambda reader: len(lacking(reader)) / len(reader.match))
    lacks = lacking(closest)
    guess = nearest(lacks[0], names)
    hint = f'the nearest reader "{closest.id}" also needs {listing(f"{name!r}" for name in lacks)}'
    return f"{hint}; {guess}" if guess else f"{hint}; soakbook inspect prints a reader for this log"
