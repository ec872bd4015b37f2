"""Tables written in any spelling come back equal."""

from __future__ import annotations

import csv
import io
import math
from dataclasses import dataclass

import pytest
from hypothesis import given
from hypothesis import strategies as st

from builder.logs.table import place, rows
from tests.support.logs import read, reader

NAMES = ("core", "board", "fan")


@dataclass(frozen=True, kw_only=True)
class Spelling:
    delimiter: str
    mark: str
    encoding: str
    end: str
    missing: str
    quoting: int


SPELLINGS = st.builds(
    Spelling,
    delimiter=st.sampled_from([",", ";", "\t"]),
    mark=st.sampled_from([".", ","]),
    encoding=st.sampled_from(["utf-8", "utf-8-sig", "utf-16", "utf-16-le", "utf-16-be", "cp1252"]),
    end=st.sampled_from(["\n", "\r\n"]),
    missing=st.sampled_from(["", "N/A", "--", "nan"]),
    quoting=st.sampled_from([csv.QUOTE_MINIMAL, csv.QUOTE_ALL]),
)
CELLS = st.one_of(st.none(), st.decimals(min_value=0, max_value=250, places=2))
TABLES = st.lists(st.tuples(CELLS, CELLS, CELLS), min_size=2, max_size=30)


def spelled(table: list[tuple[object, ...]], spelling: Spelling) -> bytes:
    out = io.StringIO(newline="")
    writer = csv.writer(out, delimiter=spelling.delimiter, lineterminator=spelling.end, quoting=spelling.quoting)  # type: ignore[arg-type]
    writer.writerow(["t", *NAMES, "größe"])
    for second, row in enumerate(table):
        cells = [spelling.missing if cell is None else str(cell).replace(".", spelling.mark) for cell in row]
        writer.writerow([f"{second}.5".replace(".", spelling.mark), *cells, "µ"])
    return out.getvalue().encode(spelling.encoding)


@given(TABLES, SPELLINGS)
def test_a_table_comes_back_equal(table: list[tuple[object, ...]], spelling: Spelling) -> None:
    found = read(spelled(table, spelling), reader(*NAMES))
    assert found.log.time_s.tolist() == list(range(len(table)))
    by_header = {column.header: column.values.tolist() for column in found.log.columns.values()}
    for at, name in enumerate(NAMES):
        expected = [math.nan if row[at] is None else float(str(row[at])) for row in table]
        if all(map(math.isnan, expected)):
            assert name not in by_header
        else:
            assert by_header[name] == pytest.approx(expected, abs=0, rel=0, nan_ok=True)


TEXTS = st.text(alphabet=st.characters(blacklist_categories=["Cs"], blacklist_characters="\0"), max_size=12)


@given(st.lists(st.lists(TEXTS, min_size=2, max_size=4), min_size=1, max_size=8), st.sampled_from(",;\t"))
def test_any_cells_survive_the_delimited_text_layer(table: list[list[str]], delimiter: str) -> None:
    out = io.StringIO(newline="")
    csv.writer(out, delimiter=delimiter).writerows(table)
    found = list(rows(out.getvalue(), delimiter))
    assert [row.cells for row in found] == table


PLAIN = st.text(alphabet='ab";,\n ', max_size=6)


@given(st.lists(st.lists(PLAIN, min_size=2, max_size=4), min_size=1, max_size=5), st.sampled_from(",;"))
def test_the_place_of_a_cell_is_where_its_text_begins(table: list[list[str]], delimiter: str) -> None:
    out = io.StringIO(newline="")
    csv.writer(out, delimiter=delimiter, quoting=csv.QUOTE_ALL, lineterminator="\n").writerows(table)
    text = out.getvalue()
    lines = text.split("\n")
    for row in rows(text, delimiter):
        for index, cell in enumerate(row.cells):
            at = place(text, "f", delimiter, row.line, index)
            rest = "\n".join([lines[at.line - 1][at.column - 1 :], *lines[at.line :]])
            assert rest.startswith('"' + cell.replace('"', '""') + '"')
