"""Bad input: each kind is one error with its own code, and never an exception."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from builder.logs import decode, table
from tests.support.logs import read, reader

STAMP = {"column": "stamp", "kind": "timestamp", "format": "%Y/%m/%d %H:%M:%S.%f"}
CASES = {
    "empty": (
        "",
        "error[log-empty] bundles/x/m1-stock.csv: the log is empty",
    ),
    "only a byte order mark": (
        "\N{ZERO WIDTH NO-BREAK SPACE} \n",
        "error[log-empty] bundles/x/m1-stock.csv: the log is empty",
    ),
    "only a header": (
        "t,core,board\n",
        "error[no-samples] bundles/x/m1-stock.csv:1: the log has a header and no readings",
    ),
    "header and units only": (
        "t,core,board\ns,°C,W\n",
        "error[no-samples] bundles/x/m1-stock.csv:1: the log has a header and no readings",
    ),
    "text for a number": (
        "t,core,board\n0,61,285\n1,hot\x07,285\n2,hot\x07,285\n",
        (
            'error[not-a-number] bundles/x/m1-stock.csv:3:3: column "core": "hot\\x07" stands where a number belongs'
            " (and 1 more in this column)"
        ),
    ),
    "long text for a number": (
        "t,core,board\n0,61,285\n1," + "x" * 500 + ",285\n",
        f'error[not-a-number] bundles/x/m1-stock.csv:3:3: column "core": "{"x" * 40}…" stands where a number belongs',
    ),
    "infinite": (
        "t,core,board\n0,61,285\n1,61,inf\n",
        'error[not-finite] bundles/x/m1-stock.csv:3:6: column "board": "inf" is no finite number',
    ),
    "overflow": (
        "t,core,board\n0,61,285\n1,61,1e999\n",
        'error[not-finite] bundles/x/m1-stock.csv:3:6: column "board": "1e999" is no finite number',
    ),
    "1e308": (
        "t,core,board\n0,61,285\n1,61,1e308\n",
        'error[impossible-value] bundles/x/m1-stock.csv:3:6: column "board": "1e308" is too large for any reading',
    ),
    "wrong by a thousand": (
        "t,core,board\n0,61,285\n1,61,285000\n",
        (
            'error[impossible-value] bundles/x/m1-stock.csv:3:6: column "board": "285000" in W is no possible '
            "board_power (-100 to 10 000 W)"
        ),
    ),
    "unit of another quantity": (
        "t,core,board\n0,61 °C,285 W\n1,61 °C,61 °C\n",
        (
            'error[unit-mismatch] bundles/x/m1-stock.csv:3:9: column "board": "61 °C" is in °C, which does not '
            "convert to W"
        ),
    ),
    "text for a time": (
        "t,core,board\n0,61,285\nlater,61,285\n",
        'error[not-a-number] bundles/x/m1-stock.csv:3:1: column "t": "later" stands where a number belongs',
    ),
    "no time": (
        "t,core,board\n,61,285\n-,61,285\n",
        'error[no-time] bundles/x/m1-stock.csv:1: the time column "t" is empty',
    ),
    "time stands still": (
        "t,core,board\n1,61,285\n1,61,285\n",
        "error[time-stands-still] bundles/x/m1-stock.csv:3:1: the time is the same in every row",
    ),
    "too many cells": (
        "t,core,board\n0,61,5,285\n",
        "error[too-many-cells] bundles/x/m1-stock.csv:2:8: the row has 4 cells, the header has 3",
    ),
    "another header": (
        "t,core,board\n0,61,285\nt,board,core\n1,285,61\n",
        "error[header-changed] bundles/x/m1-stock.csv:3: the header changes here, it was read at line 1",
    ),
    "a wider header": (
        "t,core,board\n0,61,285\nt,core,board,fan\n1,61,285,900\n",
        "error[header-changed] bundles/x/m1-stock.csv:3: the header changes here, it was read at line 1",
    ),
    "two decimal marks": (
        "t;core;board\n0;61,5;285\n1;61.5;285\n",
        (
            'error[decimal-mark] bundles/x/m1-stock.csv:2:3: "61,5" has a decimal comma and other cells have a decimal '
            "point"
        ),
    ),
    "undecided decimal mark": (
        "t;core;board\n0;61;1,285\n1;61;1,286\n",
        (
            'error[decimal-mark] bundles/x/m1-stock.csv:2:6: "1,285" may be a decimal comma or thousands, '
            "and no other cell decides it"
        ),
    ),
    "a quote that is never closed": (
        't,core,board\n0,61,"285\n' + "1,61,285\n" * 20_000,
        "error[bad-quoting] bundles/x/m1-stock.csv:2: a quoted cell is never closed",
    ),
    "no reader matches": (
        "t,cor,board\n0,61,285\n",
        "error[no-reader-matches] bundles/x/m1-stock.csv:1: no reader matches this log; headers found: board, cor, t",
    ),
    "a line without end": (
        "x" * 1_500_000,
        "error[line-too-long] bundles/x/m1-stock.csv:1: the line has 1500000 characters, the limit is 1000000",
    ),
    "a line of nothing but delimiters": (
        "," * 500_000,
        "error[line-too-long] bundles/x/m1-stock.csv:1: the line has 500001 cells, the limit is 2000",
    ),
}


@pytest.mark.parametrize("name", CASES)
def test_bad_input_is_one_error(name: str) -> None:
    text, message = CASES[name]
    error = read(text, reader("core", "board")).error
    assert str(error).split("\nhint: ")[0] == message
    assert error.hint


def test_a_picture_named_csv_is_a_binary_file() -> None:
    data = b"\x89PNG\r\n\x1a\n" + bytes(range(256)) * 40
    assert str(read(data, reader("core")).error).startswith(
        "error[binary-file] bundles/x/m1-stock.csv: this is no text"
    )


def test_a_log_above_the_limit_is_refused_unread(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(decode, "MAX_BYTES", 1000)
    assert read(b"t,core\n" + b"0,61\n" * 1000, reader("core")).error.code == "log-too-large"


def test_a_header_with_a_slip_names_the_nearest() -> None:
    error = read("t,cor,board\n0,61,285\n", reader("core", "board")).error
    assert error.hint == 'the nearest reader "bench" also needs \'core\'; did you mean "cor"?'


def test_a_bench_without_reader_is_an_error() -> None:
    assert read("t,core\n0,61\n").error.code == "no-reader"


def test_two_readers_that_match_are_an_error_with_both_named() -> None:
    error = read("t,core\n0,61\n", reader("core"), reader("core", id="other")).error
    assert str(error) == (
        'error[readers-overlap] bundles/x/m1-stock.csv:1: more than one reader matches this log: "bench", "other"\n'
        "hint: add to match: a header that only one of these logs has"
    )


def test_a_declared_column_that_is_missing_names_the_nearest() -> None:
    error = read("t,core,boards\n0,61,285\n", reader("core", "board", match=["core"])).error
    assert str(error) == (
        'error[missing-column] bundles/x/m1-stock.csv:1: the reader "bench" needs a column "board"\n'
        'hint: did you mean "boards"?'
    )


def test_a_missing_time_column_has_its_own_error() -> None:
    error = read("time,core\n0,61\n", reader("core")).error
    assert str(error) == (
        'error[time-column-missing] bundles/x/m1-stock.csv:1: the reader "bench" needs the time column "t"\n'
        "hint: the header has: core, time"
    )


def test_a_reader_without_time_column_is_an_error() -> None:
    assert read("t,core\n0,61\n", reader("core", time={})).error.code == "no-time"


@pytest.mark.parametrize("unit", ["parsnip", "2**9**9**9", "W" * 200, "__import__('os')"])
def test_an_unknown_unit_is_an_error(unit: str) -> None:
    error = read("t,core\n0,61\n", reader("core", units={"core": unit[:120]})).error
    assert error.code == "unknown-unit"


def test_a_unit_that_does_not_fit_its_quantity_is_an_error() -> None:
    assert read("t,core\n0,61\n", reader("core", units={"core": "W"})).error.code == "unit-mismatch"
    assert read("t,fan\n0,61\n", reader("fan", units={"fan": "Hz"})).error.code == "unit-mismatch"
    assert read("t,core\n0,61\n", reader("core", time={"column": "t", "unit": "W"})).error.code == "unit-mismatch"


def test_a_timestamp_that_does_not_fit_shows_what_was_expected_and_found() -> None:
    error = read("stamp,core\n2026/04/18 10:00:00.5,61\n18.04.2026 10:00:01,61\n", reader("core", time=STAMP)).error
    assert str(error) == (
        'error[timestamp] bundles/x/m1-stock.csv:3:1: column "stamp": expected a timestamp like '
        '%Y/%m/%d %H:%M:%S.%f, found "18.04.2026 10:00:01"\nhint: set time.format in the reader to what the log has'
    )


@pytest.mark.parametrize("text", ["%Q", "hours", "%Y %Y", "%"])
def test_a_format_that_is_none_is_an_error(text: str) -> None:
    assert read("stamp,core\n2026,61\n", reader("core", time=STAMP | {"format": text})).error.code == "time-format"


@pytest.mark.parametrize("zone", ["Europe/Berlim", "../../etc/passwd", "Europe"])
def test_an_unknown_zone_is_an_error(zone: str) -> None:
    text = "stamp,core\n2026/04/18 10:00:00.5,61\n"
    assert read(text, reader("core", time=STAMP | {"zone": zone})).error.code == "unknown-zone"


def test_mixed_zones_are_an_error() -> None:
    text = "stamp,core\n2026-04-18T10:00:00Z,61\n2026-04-18T10:00:01,61\n"
    assert read(text, reader("core", time={"column": "stamp", "kind": "timestamp"})).error.code == "timestamp"


def test_two_columns_of_one_quantity_are_an_error() -> None:
    raw = reader("core", "memory").model_dump_json().replace("memory_temperature", "core_temperature")
    error = read("t,core,memory\n0,61,62\n", type(reader("core")).model_validate_json(raw)).error
    assert error.code == "quantity-twice"


def test_a_declared_encoding_that_does_not_fit_is_an_error_with_the_line() -> None:
    data = "t,core\n0,61\n1,6°\n".encode("cp1252")
    error = read(data, reader("core", encoding="utf-8")).error
    assert (error.code, str(error.where)) == ("wrong-encoding", "bundles/x/m1-stock.csv:3")


def test_more_rows_than_the_limit_are_refused(monkeypatch: pytest.MonkeyPatch) -> None:
    from builder.logs import rows as body

    monkeypatch.setattr(body, "MAX_ROWS", 5)
    assert read("t,core\n" + "".join(f"{i},61\n" for i in range(9)), reader("core")).error.code == "log-too-large"


def test_line_and_column_are_right_after_a_quoted_cell_with_line_breaks() -> None:
    text = 't,note,core\n0,"a\nb",61\n1,"c, ""d""\ne", hot\n'
    error = read(text, reader("core")).error
    assert str(error.where) == "bundles/x/m1-stock.csv:5:5"
    assert table.place(text, "f", ",", 4, 1).column == 3


@given(st.binary(max_size=300))
def test_no_bytes_raise(data: bytes) -> None:
    found = read(data, reader("core", "board"))
    assert found.table is not None or found.problems


@given(st.text(alphabet='t,core;board\n\r\t"0123456789.-eE\x00 °[]', max_size=200))
def test_no_text_under_a_good_header_raises(text: str) -> None:
    found = read("t,core,board\n0,61,285\n" + text, reader("core", "board"))
    assert found.table is not None or any(p.severity == "error" for p in found.problems)
