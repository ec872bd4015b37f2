"""Rows and times that are mended, and what is reported of them."""

from __future__ import annotations

import datetime as dt
import math

import pytest

from tests.support.logs import fixture, read, reader

STAMP = {"column": "stamp", "kind": "timestamp", "format": "%d.%m.%Y %H:%M:%S"}


def test_repeated_header_row_is_skipped_and_reported() -> None:
    found = read("t,core\n0,61\nt,core\n1,62\n", reader("core"))
    assert found.column("core_temperature") == [61, 62]
    assert [str(r) for r in found.log.repairs] == ["1 repeated header rows left out (line 3)"]


def test_lines_that_break_off_are_left_out_and_the_gap_is_reported() -> None:
    found = fixture("interrupted.csv", reader("core", "board"))
    assert found.log.time_s.tolist() == [0, 1, 3, 9, 10]
    assert found.column("board_power") == pytest.approx([285.0, 285.1, 285.3, 285.4, math.nan], nan_ok=True)
    assert {r.code: r.lines for r in found.log.repairs} == {
        "repeated-header": (5,),
        "short-row": (8,),
        "cut-line": (4, 9),
        "gap": (7,),
        "missing-value": (8,),
    }


@pytest.mark.parametrize("end", ["2,6", "2", "2,", "2,61,2"], ids=["short", "one", "empty", "digits-lost"])
def test_a_truncated_last_line_is_left_out(end: str) -> None:
    found = read(f"t,core,board\n0,61,285\n1,62,284\n{end}", reader("core", "board"))
    assert found.column("board_power") == [285, 284]
    assert found.codes == {"cut-line": 1}


def test_a_whole_last_line_without_line_end_is_kept() -> None:
    assert read("t,core\n0,61\n1,62\n2,63", reader("core")).column("core_temperature") == [61, 62, 63]


def test_an_end_inside_a_character_or_filled_with_zeros_is_cut() -> None:
    torn = "t,core,note\n0,61,a\n1,62,a\n2,63,°".encode()[:-1]
    assert read(torn, reader("core")).column("core_temperature") == [61, 62, 63]
    padded = b"t,core\n0,61\n1,62\n" + bytes(500)
    found = read(padded, reader("core"))
    assert found.column("core_temperature") == [61, 62]
    assert found.codes == {"cut-end": 1}


def test_rows_without_their_empty_end_are_read_as_missing() -> None:
    found = read("t,core,board\n0,61\n1,62\n2,63,285\n", reader("core", "board"))
    assert found.column("core_temperature") == [61, 62, 63]
    assert found.codes == {"short-row": 2, "missing-value": 2}


def test_a_row_without_a_time_is_left_out() -> None:
    found = read("t,core\n0,61\n,62\n2,63\n", reader("core"))
    assert found.column("core_temperature") == [61, 63]
    assert found.codes == {"missing-time": 1}


def test_elapsed_time_that_jumps_back_is_an_error() -> None:
    error = read("t,core\n0,61\n812,61\n3,62\n", reader("core")).error
    assert str(error) == (
        "error[negative-duration] bundles/x/m1-stock.csv:4:1: elapsed time goes from 812.0 s back to 3.0 s\n"
        "hint: split the file, or set time.restart: true in the reader"
    )


def test_a_new_count_is_joined_on_where_the_reader_allows_it() -> None:
    found = fixture("counted-again.csv", reader("core", time={"column": "t", "restart": True}))
    assert found.log.time_s.tolist() == [0, 2, 4, 6, 8, 9, 10]
    assert {r.code: r.lines for r in found.log.repairs} == {"time-restart": (5,), "repeated-time": (7,)}


def test_repeated_times_are_spread_up_to_the_next() -> None:
    found = read("t,core\n0,61\n0,62\n1,63\n1,64\n2,65\n2,66\n", reader("core"))
    assert found.log.time_s.tolist() == [0, 0.5, 1, 1.5, 2, 2.5]
    assert found.codes == {"repeated-time": 3}


def test_time_of_day_goes_on_over_midnight() -> None:
    when = {"column": "clock", "kind": "timestamp", "format": "%H:%M:%S.%f"}
    found = fixture("midnight.csv", reader("core", time=when))
    assert found.log.time_s.tolist() == [0, 1, 2, 3]
    assert found.log.start is None
    assert {r.code: r.lines for r in found.log.repairs} == {"midnight": (4,)}


def test_iso_time_of_day_needs_no_format() -> None:
    found = fixture("midnight.csv", reader("core", time={"column": "clock", "kind": "timestamp"}))
    assert found.log.time_s.tolist() == [0, 1, 2, 3]


@pytest.mark.parametrize(
    ("name", "start"), [("autumn.csv", "2026-10-25T00:59:58+00:00"), ("spring.csv", "2026-03-29T00:59:58+00:00")]
)
def test_elapsed_time_survives_a_clock_change_where_the_zone_is_known(name: str, start: str) -> None:
    # Central European Time changes at 01:00 UTC on both days: Directive 2000/84/EC, articles 2 and 3.
    found = fixture(name, reader("core", time=STAMP | {"zone": "Europe/Berlin"}))
    assert found.log.time_s.tolist() == [0, 1, 2, 3]
    assert found.log.start == dt.datetime.fromisoformat(start)
    assert {r.code: r.lines for r in found.log.repairs} == {"clock-change": (4,)}


def test_a_clock_change_without_a_zone_is_an_error_that_names_the_remedy() -> None:
    error = fixture("autumn.csv", reader("core", time=STAMP)).error
    assert error.code == "negative-duration"
    assert "time.zone" in error.hint


def test_a_log_that_begins_in_the_second_pass_of_an_hour_has_no_gap() -> None:
    text = "stamp;core\n25.10.2026 02:59:59;61\n25.10.2026 03:00:00;61\n"
    found = read(text, reader("core", time=STAMP | {"zone": "Europe/Berlin"}))
    assert found.log.time_s.tolist() == [0, 1]
    assert found.log.start == dt.datetime(2026, 10, 25, 1, 59, 59, tzinfo=dt.UTC)


def test_offsets_in_timestamps_give_utc() -> None:
    text = "stamp,core\n2026-04-18T10:00:00+02:00,61\n2026-04-18T08:00:01Z,62\n"
    found = read(text, reader("core", time={"column": "stamp", "kind": "timestamp"}))
    assert found.log.time_s.tolist() == [0, 1]
    assert found.log.start == dt.datetime(2026, 4, 18, 8, tzinfo=dt.UTC)


def test_a_timestamp_without_zone_gives_a_naive_start() -> None:
    text = "stamp,core\n2026-04-18 10:00:00,61\n2026-04-18 10:00:01.25,62\n"
    found = read(text, reader("core", time={"column": "stamp", "kind": "timestamp"}))
    assert found.log.start == dt.datetime(2026, 4, 18, 10)  # noqa: DTZ001 - the log has no zone
    assert found.log.time_s.tolist() == [0, 1.25]


def test_formats_with_words_are_parsed_too() -> None:
    when = {"column": "stamp", "kind": "timestamp", "format": "%m/%d/%Y %I:%M:%S %p"}
    found = read("stamp,core\n04/18/2026 11:59:59 AM,61\n04/18/2026 12:00:00 PM,62\n", reader("core", time=when))
    assert found.log.time_s.tolist() == [0, 1]


def test_elapsed_time_keeps_its_origin() -> None:
    found = read("t,core\n1795596269.5,61\n1795596270.5,62\n", reader("core"))
    assert found.log.time_s.tolist() == [0, 1]
    assert found.log.origin_s == 1795596269.5


def test_a_gap_is_reported_with_its_length() -> None:
    found = read("t,core\n0,61\n1,62\n2,61\n14.5,62\n15.5,61\n", reader("core"))
    assert [str(r) for r in found.log.repairs] == ["1 gap in the time, the longest 12.5 s (line 5)"]
