"""Delimiters, decimal marks, encodings, units and missing values."""

from __future__ import annotations

import json
import math

import numpy as np
import pytest

from builder.archive.bench import Reader
from builder.core.results import Quantity
from tests.support.logs import fixture, read, reader

PLAIN = "t,core,board\n0,61.5,285\n1,61.75,284.5\n"


@pytest.mark.parametrize("delimiter", [",", ";", "\t"], ids=["comma", "semicolon", "tab"])
def test_the_delimiter_is_found(delimiter: str) -> None:
    found = read(PLAIN.replace(",", delimiter), reader("core", "board"))
    assert found.column("core_temperature") == [61.5, 61.75]
    assert found.column("board_power") == [285.0, 284.5]
    assert found.log.repairs == ()


@pytest.mark.parametrize("delimiter", [";", "\t"], ids=["semicolon", "tab"])
def test_a_decimal_comma_is_found(delimiter: str) -> None:
    found = read(PLAIN.replace(",", delimiter).replace(".", ","), reader("core", "board"))
    assert found.column("core_temperature") == [61.5, 61.75]
    assert found.log.columns[Quantity.CORE_TEMPERATURE].spelled_decimals == 2


def test_a_decimal_comma_in_quotes_goes_with_a_comma_as_delimiter() -> None:
    assert read('t,core\n0,"61,5"\n1,"61,7"\n', reader("core")).column("core_temperature") == [61.5, 61.7]


@pytest.mark.parametrize("encoding", ["utf-8", "utf-8-sig", "utf-16", "utf-16-le", "utf-16-be", "cp1252"])
def test_the_encoding_is_found(encoding: str) -> None:
    text = "t;core °C;µ\n0;61,5;1\n1;61,75;2\n"
    named = reader("core").model_dump(mode="json") | {
        "match": ["core °C", "µ"],
        "columns": {"core °C": {"quantity": "core_temperature", "unit": "°C"}},
    }
    found = read(text.encode(encoding), Reader.model_validate_json(json.dumps(named)))
    assert found.column("core_temperature") == [61.5, 61.75]


def test_utf_16_with_a_mark_of_the_other_byte_order_is_read() -> None:
    data = "\N{ZERO WIDTH NO-BREAK SPACE}t,core\n0,61\n1,62\n".encode("utf-16-be")
    assert read(data, reader("core")).column("core_temperature") == [61.0, 62.0]


@pytest.mark.parametrize("end", ["\n", "\r\n", "\r"], ids=["lf", "crlf", "cr"])
def test_every_kind_of_line_end_is_read_with_the_same_line_numbers(end: str) -> None:
    found = read(PLAIN.replace("\n", end), reader("core"))
    assert found.log.lines == (2, 3)


def test_preamble_units_row_duplicated_unnamed_and_unused_columns_are_read() -> None:
    found = fixture("preamble-and-units.csv", reader("core", "board", "fan", "fan#2", "room"))
    assert found.column("core_temperature") == [61.5, 61.75, 62.0, 62.25]
    assert found.column("board_power") == [284.75, 285.5, 1284.25, 285.0]
    assert found.column("fan_speed")[:3] == [1450, 1452, 1455]
    assert found.column("fan_duty") == [42, 42, 42, 43]
    assert np.isnan(found.column("fan_speed")[3])
    assert np.isnan(found.column("ambient_temperature")[2])
    assert found.log.lines == (7, 8, 9, 11)
    assert found.codes == {"units-row": 1, "multi-line-cell": 1, "thousands": 1, "missing-value": 1}
    assert [r.lines for r in found.log.repairs if r.code == "missing-value"] == [(11,), (9,)]


def test_a_units_row_in_another_unit_is_converted() -> None:
    found = read("t,board\nms,[mW]\n0,285000\n1000,284000\n", reader("board"))
    assert found.column("board_power") == [285.0, 284.0]
    assert found.log.time_s.tolist() == [0.0, 1.0]


def test_a_units_row_that_does_not_fit_is_an_error() -> None:
    error = read("t,board\ns,°C\n0,285\n1,284\n", reader("board")).error
    assert str(error) == (
        'error[unit-mismatch] bundles/x/m1-stock.csv:2:3: column "board": the row of units says degC, '
        "which does not fit board_power\nhint: check which quantity the reader gives this column"
    )


def test_units_inside_cells_are_checked_and_converted() -> None:
    when = {"column": "time", "kind": "timestamp"}
    found = fixture("cells-with-units.csv", reader("core", "board", "clock", time=when))
    assert found.column("core_temperature") == pytest.approx([61, 62, 62, 63])
    assert found.column("board_power") == pytest.approx([284.75, 285.5, math.nan, 286.0], nan_ok=True)
    assert found.column("core_clock") == pytest.approx([2610, 2610, math.nan, 2595], nan_ok=True)
    assert [r.message for r in found.log.repairs if r.code == "cell-unit"] == [
        'column "core": cells in °F converted',
        'column "board": cells in kW, mW converted',
        'column "clock": cells in GHz converted',
    ]


def test_a_declared_unit_is_converted() -> None:
    found = read(
        "t,core,board\n0,140,285000\n1,141.8,1000\n", reader("core", "board", units={"core": "°F", "board": "mW"})
    )
    assert found.column("core_temperature") == pytest.approx([60, 61])
    assert found.column("board_power") == pytest.approx([285, 1])
    assert found.log.columns[Quantity.CORE_TEMPERATURE].resolution == pytest.approx(1)


@pytest.mark.parametrize(
    "spelling",
    ["", " ", "N/A", "[N/A]", "n/a", "NA", "-", "--", "nan", "NaN", "null", "None", "[Not Supported]", "N/A W", "ERR"],
    ids=repr,
)
def test_a_missing_value_is_nan_and_reported(spelling: str) -> None:
    found = read(f"t,board,core\n0,285,61\n1,{spelling},61\n2,286,61\n", reader("board", missing=["ERR"]))
    assert found.column("board_power") == pytest.approx([285, math.nan, 286], nan_ok=True)
    assert [str(r) for r in found.log.repairs] == ['column "board": 1 values missing (line 3)']


def test_a_declared_sentinel_is_missing_in_columns_and_a_time_in_the_time_column() -> None:
    found = read("t,board\n0,285\n1,0\n2,284\n", reader("board", missing=["0"]))
    assert found.log.time_s.tolist() == [0, 1, 2]
    assert found.column("board_power") == pytest.approx([285, math.nan, 284], nan_ok=True)


def test_spaces_after_delimiters_and_before_quotes_are_ignored() -> None:
    assert read('t, core\n0,  61.5\n1, "62.5"\n', reader("core")).column("core_temperature") == [61.5, 62.5]


def test_a_number_that_is_no_ascii_is_refused_and_a_true_minus_is_read() -> None:
    assert read("t,room\n0,\N{MINUS SIGN}4.5\n1,-4\n", reader("room")).column("ambient_temperature") == [-4.5, -4]
    assert read("t,room\n0,\u0663\n1,4\n", reader("room")).error.code == "not-a-number"


def test_resolution_is_the_smallest_step_seen() -> None:
    found = read("t,core,board\n0,61.5,285\n1,61.7,285\n2,62.0,285\n", reader("core", "board"))
    assert found.log.columns[Quantity.CORE_TEMPERATURE].resolution == pytest.approx(0.2)
    assert found.log.columns[Quantity.BOARD_POWER].resolution == 0


def test_a_header_with_another_unit_than_its_reader_is_a_warning() -> None:
    raw = reader("board").model_dump_json().replace('"board"', '"board [mW]"')
    found = read("t,board [mW]\n0,285\n1,284\n", Reader.model_validate_json(raw))
    assert "\n".join(map(str, found.problems)) == (
        'warning[unit-differs] bundles/x/m1-stock.csv:1:3: column "board [mW]": the header says mW, '
        "the reader takes W\nhint: check the reader's unit"
    )


def test_an_empty_column_is_left_out_with_a_warning() -> None:
    found = read("t,core,board\n0,61,N/A\n1,62,N/A\n", reader("core", "board"))
    assert list(found.log.columns) == [Quantity.CORE_TEMPERATURE]
    assert [p.code for p in found.problems] == ["empty-column"]


def test_the_longest_header_match_wins_over_a_mention_in_the_preamble() -> None:
    found = read("core\nt,core\n0,61\n1,62\n", reader("core"))
    assert found.column("core_temperature") == [61, 62]
