"""A first look at an unknown log: what its columns hold, and a reader for it."""

from __future__ import annotations

import math
import re
from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property
from itertools import chain
from pathlib import PurePosixPath

import numpy as np
import yaml

from builder.archive.bench import Reader
from builder.core.errors import Problems, SoakbookError, Span
from builder.core.quantity import FloatArray, convert
from builder.core.results import Quantity
from builder.logs.cells import Spelling, inspect_cells, marks
from builder.logs.columns import UnitsRow, take_units_row
from builder.logs.decode import decode, unpacked
from builder.logs.guesses import Column, Guess, TimeGuess, guess, guess_elapsed, guess_timestamps, guess_two_columns
from builder.logs.header import Layout, guess_header
from builder.logs.read import slow_start_said
from builder.logs.rows import Body, read_body
from builder.logs.table import DELIMITERS, names_of, sniff
from builder.logs.types import Repair

_NUMERIC_SHARE = 0.9
_LONGEST_NAME = 120  # as the model of a reader has it
_MOST_SPELLINGS = 5
_NOT_THE_LOG = "check that this is the log"


@dataclass(frozen=True, kw_only=True)
class InspectedColumn:
    """One column: how many readings and missing values, their range, and what it may hold.

    `low` and `high` are None for a column of text; `unit` is "" where none is known; `used` tells whether the
    reader block takes it; `texts` are cells that are no numbers in a column that otherwise is.
    """

    name: str
    count: int
    missing: int
    low: float | None
    high: float | None
    quantity: Quantity | None
    unit: str
    used: bool
    texts: tuple[str, ...] = ()


@dataclass(frozen=True, kw_only=True)
class Inspection:
    """What a log looks like; `time` is None where no column could be time."""

    file: str
    encoding: str
    delimiter: str
    decimal: str
    header_line: int
    rows: int
    time: TimeGuess | None
    columns: tuple[InspectedColumn, ...]
    repairs: tuple[Repair, ...]
    remarks: tuple[str, ...] = ()

    def reader_block(self) -> str:
        """Return YAML of one item under `readers:` of a bench file, indented by two spaces."""
        used = [column for column in self.columns if column.used]
        if not used:
            return "  # No column could be guessed: write the reader by hand.\n"
        text = yaml.safe_dump(
            [self._reader(used)], sort_keys=False, allow_unicode=True, width=10_000, default_flow_style=None
        )
        lines = [f"  {line}" for line in text.splitlines()]
        return "\n".join([*lines, *self._remarks()]) + "\n"

    def _reader(self, used: Sequence[InspectedColumn]) -> dict[str, object]:
        time = _time_block(self.time) if self.time else None
        stamps = [self.time.column, *([self.time.date] if self.time.date else [])] if self.time else []
        names = [*stamps, *(column.name for column in used)]
        texts = sorted({text for column in used for text in column.texts})
        return {
            "id": re.sub(r"[^a-z0-9]+", "-", PurePosixPath(self.file.removesuffix(".gz")).stem.lower())[:60].strip("-")
            or "log",
            "match": names,
            "delimiter": self.delimiter,
            **({"decimal": self.decimal} if self.decimal == "comma" else {}),
            **({"time": time} if time else {}),
            "columns": {c.name: {"quantity": str(c.quantity), "unit": c.unit} for c in used},
            **({"missing": texts} if texts else {}),
        }

    def _remarks(self) -> list[str]:
        others = [c for c in self.columns if c.quantity and not c.used]
        remarks = [f"    # {_printable(c.name)} may also be {c.quantity} in {c.unit}" for c in others]
        if self.time and self.time.note:
            remarks.append(f"    # time: {self.time.note}")
        return remarks


def inspect_log(data: bytes, file: str) -> Inspection:
    """Return what a log looks like. Raises SoakbookError where it is no delimited text with a header and readings."""
    problems = Problems()
    layout = _layout(data, file, problems)
    body = read_body(layout, layout.names, problems) if layout else None
    if layout is None or body is None:
        raise SoakbookError(problems)
    units = take_units_row(body)
    if not body.lines:
        problems.error("no-samples", layout.header_place, "the log has a header and no readings", _NOT_THE_LOG)
        raise SoakbookError(problems)
    mark = _mark(body)
    looked = [_look(name, body, mark, units) for name in layout.names]
    time = _time(looked)
    chosen = _chosen(looked, time)
    return Inspection(
        file=file,
        encoding=layout.decoded.encoding,
        delimiter=next(name for name, mark in DELIMITERS.items() if mark == layout.delimiter),
        decimal="comma" if mark == "," else "point",
        header_line=layout.header.line,
        rows=len(body.lines),
        time=time,
        columns=tuple(_inspected(one, one.name in chosen) for one in looked),
        repairs=body.repairs,
        remarks=tuple(_slow_start(one) for one in looked if one.name in chosen and _slow_start(one)),
    )


def _slow_start(one: _Looked) -> str:
    """Return what is to be said of the first frames of a column of frame times; empty for every other column."""
    if one.guess is None or one.guess.quantity is not Quantity.FRAME_TIME:
        return ""
    finite = one.values[np.isfinite(one.values)]
    return slow_start_said(convert(finite, one.guess.unit, "ms"))


def _layout(data: bytes, file: str, problems: Problems) -> Layout | None:
    plain = unpacked(data, Span(file=file), problems)
    decoded = None if plain is None else decode(plain, "auto", Span(file=file), problems)
    if decoded is None:
        return None
    delimiter = sniff(decoded.text)
    found = guess_header(decoded.text, delimiter)
    if found is None:
        problems.error("no-header", Span(file=file), "no header row was found", _NOT_THE_LOG)
        return None
    names = names_of(found.cells)
    reader = Reader.model_construct(id="inspect", match=names, columns={}, missing=(), time=None)
    return Layout(
        file=file,
        reader=reader,
        decoded=decoded,
        delimiter=delimiter,
        header=found.row,
        header_number=found.number,
        names=names,
    )


@dataclass(frozen=True, kw_only=True, eq=False)
class _Looked:
    """A column with its cells read as numbers where they are: `values` has NaN for missing and for text."""

    column: Column
    cells: Sequence[str]
    values: FloatArray
    missing: int
    texts: tuple[str, ...]

    @property
    def name(self) -> str:
        return self.column.name

    @property
    def nameable(self) -> bool:
        return 0 < len(self.name) <= _LONGEST_NAME

    @property
    def numeric(self) -> bool:
        return bool(np.isfinite(self.values).any()) and len(self.texts) <= _MOST_SPELLINGS

    @cached_property
    def guess(self) -> Guess | None:
        return guess(self.column) if self.nameable and self.numeric else None


def _mark(body: Body) -> str:
    """Return the decimal mark that the numeric columns show, a point where they show none."""
    columns = [sorted(set(cells)) for cells in body.cells.values()]
    numeric = (
        texts
        for texts in columns
        if max(inspect_cells(texts, Spelling(mark=mark)).share for mark in ".,") > _NUMERIC_SHARE
    )
    said = marks(chain.from_iterable(numeric))
    return "," if said.comma and not said.point else "."


def _look(name: str, body: Body, mark: str, units: UnitsRow | None) -> _Looked:
    cells = body.cells[name]
    found = inspect_cells(cells, Spelling(mark=mark))
    finite = found.values[np.isfinite(found.values)]
    low, high = (float(finite.min()), float(finite.max())) if finite.size else (math.nan, math.nan)
    unit = (units.units.get(name, "") if units else "") or found.unit
    return _Looked(
        column=Column(name=name, unit=unit, low=low, high=high),
        cells=cells,
        values=found.values,
        missing=found.missing,
        texts=found.texts,
    )


def _time(looked: Sequence[_Looked]) -> TimeGuess | None:
    """Return the best guess of the time; of times of day, with the column of dates that stands beside them."""
    times = [found for n, one in enumerate(looked) if (found := _time_of(one, first=n == 0)) is not None]
    time = max(times, key=lambda found: found.rank, default=None)
    if time is None or time.kind != "timestamp" or time.dated:
        return time
    beside = {one.name: one.cells for one in looked if one.name != time.column and one.nameable}
    cells = next(one.cells for one in looked if one.name == time.column)
    return guess_two_columns(time.column, cells, beside) or time


def _time_of(one: _Looked, *, first: bool) -> TimeGuess | None:
    if not one.nameable:
        return None
    if one.numeric and not one.texts:
        return guess_elapsed(one.column, one.values[np.isfinite(one.values)], first=first)
    return guess_timestamps(one.name, [cell for cell in one.cells if cell.strip()])


def _chosen(looked: Sequence[_Looked], time: TimeGuess | None) -> set[str]:
    """Return the columns that the reader uses: the best of each quantity, the first of equals."""
    best: dict[Quantity, _Looked] = {}
    for one in looked:
        if one.guess is None or (time is not None and one.name in (time.column, time.date)):
            continue
        held = best.get(one.guess.quantity)
        if held is None or held.guess is None or one.guess.rank > held.guess.rank:
            best[one.guess.quantity] = one
    return {one.name for one in best.values()}


def _inspected(one: _Looked, used: bool) -> InspectedColumn:
    column, numeric = one.column, one.numeric
    texts = Counter(cell.strip() for cell in one.cells if cell.strip())
    return InspectedColumn(
        name=one.name,
        count=int(np.isfinite(one.values).sum()) if numeric else sum(texts.values()),
        missing=one.missing,
        low=column.low if numeric else None,
        high=column.high if numeric else None,
        quantity=one.guess.quantity if one.guess else None,
        unit=one.guess.unit if one.guess else column.unit,
        used=used,
        texts=one.texts if numeric else (),
    )


# --- What was seen, as YAML and as a table


def _printable(name: str) -> str:
    return "".join(c if c.isprintable() else "?" for c in name)[:_LONGEST_NAME]


def _time_block(time: TimeGuess) -> dict[str, str]:
    block = {"column": time.column, **({"date": time.date} if time.date else {}), "kind": str(time.kind)}
    if time.kind == "elapsed":
        block["unit"] = time.unit
    elif time.format:
        block["format"] = time.format
    return block


@dataclass(frozen=True, kw_only=True)
class InspectionRow:
    """A column of the log as texts for a table."""

    column: str
    readings: str
    missing: str
    low: str
    high: str
    guess: str
    unit: str


def inspection_rows(inspection: Inspection) -> tuple[InspectionRow, ...]:
    """Return one row per column of the log, in the file's order; what is unknown is empty."""
    return tuple(_row(column, inspection.time) for column in inspection.columns)


def _row(column: InspectedColumn, time: TimeGuess | None) -> InspectionRow:
    is_time = time is not None and column.name in (time.column, time.date)
    what = "time" if is_time else str(column.quantity or "")
    return InspectionRow(
        column=_printable(column.name),
        readings=str(column.count),
        missing=str(column.missing),
        low="" if column.low is None else f"{column.low:g}",
        high="" if column.high is None else f"{column.high:g}",
        guess=what if column.used or is_time or not what else f"({what})",
        unit=(time.format or time.unit) if time and is_time else column.unit,
    )
