"""Cutting one run out of a longer log."""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable

import pytest
import yaml

from builder.core.errors import Problem, Problems, Span
from builder.core.results import Quantity
from builder.logs import LogTable, cut_log, inspect_log
from tests.support.logs import REAL, read, reader

ELAPSED = "t,core\n" + "".join(f"{100 + i},{60 + i}\n" for i in range(10))
STAMPED = "stamp,core\n" + "".join(f"2026-04-18 10:00:{i:02},{60 + i}\n" for i in range(10))
WHEN = {"column": "stamp", "kind": "timestamp"}
WHERE = Span(file="bundles/x/bundle.yaml", line=12)


def elapsed() -> LogTable:
    return read(ELAPSED, reader("core")).log


def stamped(zone: str | None = None) -> LogTable:
    return read(STAMPED, reader("core", time=WHEN | ({"zone": zone} if zone else {}))).log


def refused(table: LogTable, from_: float | dt.datetime | None, to: float | dt.datetime | None) -> Problem:
    problems = Problems()
    assert cut_log(table, from_, to, where=WHERE, problems=problems) is None
    assert len(problems) == 1
    return next(iter(problems))


def test_a_cut_holds_its_start_and_not_its_end_and_counts_from_its_start() -> None:
    part = elapsed().cut(102.5, 106)
    assert part.time_s.tolist() == [0.5, 1.5, 2.5]
    assert part.columns[Quantity.CORE_TEMPERATURE].values.tolist() == [63, 64, 65]
    assert (part.origin_s, part.lines) == (102.5, (5, 6, 7))


def test_a_cut_of_a_cut_still_counts_as_the_log_does() -> None:
    assert elapsed().cut(102, None).cut(104, 106).columns[Quantity.CORE_TEMPERATURE].values.tolist() == [64, 65]


def test_a_naive_timestamp_is_in_the_zone_of_the_log() -> None:
    moment = dt.datetime(2026, 4, 18, 10, 0, 4)  # noqa: DTZ001 - as a tester writes it
    for table in (stamped(), stamped("Europe/Berlin")):
        assert table.cut(moment, None).columns[Quantity.CORE_TEMPERATURE].values[0] == 64
    assert stamped("Europe/Berlin").cut(moment, None).start == dt.datetime(2026, 4, 18, 8, 0, 4, tzinfo=dt.UTC)


def test_without_bounds_the_log_stays_as_it_is() -> None:
    table = elapsed()
    assert cut_log(table, None, None, where=WHERE, problems=Problems()) is table


def test_a_cut_outside_the_log_is_an_error_that_says_what_the_log_holds() -> None:
    assert str(refused(elapsed(), 0, 105)) == (
        "error[cut-outside] bundles/x/bundle.yaml:12: the cut at 0 is outside the log\n"
        "hint: the log bundles/x/m1-stock.csv goes from 100.0 s to 109.0 s"
    )
    assert refused(elapsed(), 105, 500).message == "the cut at 500 is outside the log"
    assert refused(stamped("Europe/Berlin"), 0, 100).hint.endswith("to 9.0 s (2026-04-18 10:00:09+02:00)")


@pytest.mark.parametrize(
    ("from_", "to", "code"),
    [
        (106, 104, "cut-order"),
        (102.1, 102.9, "cut-empty"),
        (dt.datetime(2026, 4, 18, 10, tzinfo=dt.UTC), None, "cut-zone"),
        (float("nan"), None, "cut-outside"),
        (None, float("inf"), "cut-outside"),
        (1e300, None, "cut-outside"),
    ],
)
def test_a_cut_that_makes_no_sense_is_an_error(from_: float | dt.datetime | None, to: float | None, code: str) -> None:
    assert refused(elapsed(), from_, to).code == code


def test_a_zoned_cut_of_a_log_without_zone_is_an_error() -> None:
    assert refused(stamped(), dt.datetime(2026, 4, 18, 10, tzinfo=dt.UTC), None).code == "cut-zone"


def test_the_phases_of_a_real_log_have_the_known_means() -> None:
    # A log measured for this project; its phases stand in events.csv, the means were taken from it by hand.
    when = {"column": "timestamp", "kind": "timestamp", "format": "%Y/%m/%d %H:%M:%S.%f", "zone": "UTC"}
    named = {
        "temperature.gpu": (Quantity.CORE_TEMPERATURE, "degC"),
        "temperature.memory": (Quantity.MEMORY_TEMPERATURE, "degC"),
        "power.draw.instant [W]": (Quantity.BOARD_POWER, "W"),
    }
    base = reader("core", time=when, match=["temperature.gpu"])
    described = base.model_dump() | {"columns": {n: {"quantity": q, "unit": u} for n, (q, u) in named.items()}}
    table = read((REAL / "sensors.csv").read_bytes(), type(base).model_validate(described)).log
    end = dt.datetime.fromtimestamp(1795596529.547, dt.UTC)
    part = table.cut(end - dt.timedelta(seconds=120), end)
    means = [float(part.columns[q].values.mean()) for q in part.columns]
    assert part.time_s.size == 240
    assert means == pytest.approx([70.1167, 65.4250, 697.6320], abs=5e-5)


# --- moments with a zone, and seconds since 1970


def test_a_moment_with_z_cuts_a_log_whose_zone_is_known() -> None:
    moment = dt.datetime(2026, 4, 18, 8, 0, 4, tzinfo=dt.UTC)
    assert stamped("Europe/Berlin").cut(moment, None).columns[Quantity.CORE_TEMPERATURE].values[0] == 64


def test_seconds_since_1970_cut_a_log_whose_zone_is_known() -> None:
    seconds = dt.datetime(2026, 4, 18, 8, 0, 4, tzinfo=dt.UTC).timestamp()
    part = stamped("Europe/Berlin").cut(seconds, seconds + 3)
    assert part.columns[Quantity.CORE_TEMPERATURE].values.tolist() == [64, 65, 66]


def since_1970() -> LogTable:
    start = int(dt.datetime(2026, 4, 18, 8, tzinfo=dt.UTC).timestamp())
    return read("t,core\n" + "".join(f"{start + i},{60 + i}\n" for i in range(10)), reader("core")).log


def test_a_log_that_counts_from_1970_is_cut_at_a_moment_with_z_and_at_its_own_seconds() -> None:
    moment = dt.datetime(2026, 4, 18, 8, 0, 4, tzinfo=dt.UTC)
    for start in (moment, moment.timestamp()):
        assert since_1970().cut(start, None).columns[Quantity.CORE_TEMPERATURE].values[0] == 64


HOW = {
    "zone in the cut alone": (
        stamped,
        dt.datetime(2026, 4, 18, 10, 0, 4, tzinfo=dt.UTC),
        (
            "the timestamp has a zone and the log has none: write it as the log's clock shows it, without Z or +02:00, "
            "or set time.zone in the reader"
        ),
    ),
    "seconds since 1970 and no zone": (
        stamped,
        1776506404,
        (
            "1776506404 counts from 1970 and the log has no zone: write it as the log's clock shows it, without Z or "
            "+02:00, or set time.zone in the reader"
        ),
    ),
    "no date": (
        elapsed,
        dt.datetime(2026, 4, 18, 10, tzinfo=dt.UTC),
        "the log holds no date, so it cannot be cut at a timestamp: give seconds as it counts",
    ),
    "seconds since 1970 in the log alone": (
        since_1970,
        dt.datetime(2026, 4, 18, 10),  # noqa: DTZ001 - as a tester writes it
        "the log counts seconds since 1970: end the timestamp with its zone, as Z or +02:00",
    ),
}


@pytest.mark.parametrize(("table", "start", "message"), HOW.values(), ids=HOW.keys())
def test_a_cut_on_another_clock_says_how_to_write_it(
    table: Callable[[], LogTable], start: float | dt.datetime, message: str
) -> None:
    found = refused(table(), start, None)
    assert (found.code, found.message) == ("cut-zone", message)


# --- a date in a column of its own

TWO = "Date,Time,core\n" + "".join(f"18.04.2026,23:59:{56 + i},{60 + i}\n" for i in range(4))
TWO += "".join(f"19.04.2026,00:00:{i:02},{64 + i}\n" for i in range(4))
APART = {"column": "Time", "date": "Date", "kind": "timestamp", "format": "%d.%m.%Y %H:%M:%S"}


def test_date_and_time_in_two_columns_are_one_timestamp_that_a_cut_can_name() -> None:
    table = read(TWO, reader("core", time=APART)).log
    assert table.start == dt.datetime(2026, 4, 18, 23, 59, 56)  # noqa: DTZ001 - the log has no zone
    assert table.time_s.tolist() == list(range(8))
    part = table.cut(dt.datetime(2026, 4, 18, 23, 59, 58), dt.datetime(2026, 4, 19, 0, 0, 1))  # noqa: DTZ001 - the same
    assert part.columns[Quantity.CORE_TEMPERATURE].values.tolist() == [62, 63, 64]
    iso = TWO.replace("18.04.2026", "2026-04-18").replace("19.04.2026", "2026-04-19")
    when = {key: value for key, value in APART.items() if key != "format"}
    assert read(iso, reader("core", time=when)).log.start == table.start


def test_a_row_without_a_date_is_left_out_and_a_missing_date_column_is_named() -> None:
    table = read(TWO.replace("18.04.2026,23:59:57", ",23:59:57"), reader("core", time=APART)).log
    assert table.time_s.tolist() == [0, 2, 3, 4, 5, 6, 7]
    error = read(TWO.replace("Date,", "Day,"), reader("core", time=APART)).error
    assert str(error).startswith(
        'error[time-column-missing] bundles/x/m1-stock.csv:1: the reader "bench" needs the time column "Date"'
    )


def test_inspect_proposes_a_date_in_a_column_of_its_own() -> None:
    block = yaml.safe_load(inspect_log(TWO.replace("core", "core temp C").encode(), "m1.csv").reader_block())
    assert block[0]["time"] == APART
    assert block[0]["match"] == ["Time", "Date", "core temp C"]
    assert (
        "date"
        not in yaml.safe_load(inspect_log(STAMPED.replace("core", "core temp C").encode(), "m1.csv").reader_block())[0][
            "time"
        ]
    )
