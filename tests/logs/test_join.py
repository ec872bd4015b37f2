"""Several logs of one run on the time of the card's log."""

from __future__ import annotations

import datetime as dt
import json

import numpy as np
import pytest

from builder.archive.bundle import LogSource
from builder.core.errors import Problems, Span
from builder.core.results import Quantity
from builder.logs import LogTable, PlacedLog, card_log, join_logs, placed
from tests.support.logs import read, reader

BUNDLE = "bundles/x/bundle.yaml"
STAMP = {"column": "stamp", "kind": "timestamp"}
VIENNA = STAMP | {"zone": "Europe/Vienna"}
AMBIENT, CORE, POWER = Quantity.AMBIENT_TEMPERATURE, Quantity.CORE_TEMPERATURE, Quantity.BOARD_POWER


def table(
    columns: dict[str, list[float | str]], *, start: str = "", step_s: float = 1.0, time: object = None
) -> LogTable:
    """A log with time in seconds, or in timestamps from `start` on."""
    rows = len(next(iter(columns.values())))
    if not start:
        head, times = "t", [str(i * step_s) for i in range(rows)]
    else:
        head = "stamp"
        begin = dt.datetime.fromisoformat(start)
        times = [(begin + dt.timedelta(seconds=i * step_s)).isoformat(sep=" ") for i in range(rows)]
    lines = [",".join([head, *columns])]
    lines += [",".join([times[i], *(str(values[i]) for values in columns.values())]) for i in range(rows)]
    when = time or (STAMP if start else None)
    return read("\n".join(lines) + "\n", reader(*columns, time=when)).log  # type: ignore[arg-type]


def log(name: str, held: LogTable, line: int = 1, **said: object) -> PlacedLog:
    problems = Problems()
    source = LogSource.model_validate_json(json.dumps({"file": name, **said}))
    found = placed(held, source, Span(file=BUNDLE, line=line), problems)
    assert not list(problems)
    return found


CARD = table({"core": [60, 61, 62, 63, 64, 65], "board": [300] * 6}, start="2026-04-18 14:05:00")


def joined(card: PlacedLog, *others: PlacedLog) -> LogTable:
    problems = Problems()
    found = join_logs(card, others, problems)
    assert found is not None, [str(p) for p in problems]
    return found


def refused(card: PlacedLog, *others: PlacedLog) -> str:
    problems = Problems()
    assert join_logs(card, others, problems) is None
    assert len(problems) == 1, [str(p) for p in problems]
    return str(next(iter(problems)))


def ambient(found: LogTable) -> list[float]:
    return [round(float(v), 6) for v in found.columns[AMBIENT].values]


def test_a_slower_log_is_interpolated_at_the_card_logs_times() -> None:
    room = table({"room": [20, 22, 24]}, start="2026-04-18 14:04:59", step_s=4)
    found = joined(log("m1.csv", CARD), log("room.csv", room))
    assert ambient(found) == [20.5, 21.0, 21.5, 22.0, 22.5, 23.0]
    assert found.columns[CORE].values.tolist() == [60, 61, 62, 63, 64, 65]
    assert found.time_s.tolist() == CARD.time_s.tolist()
    assert found.joined == (AMBIENT,)
    assert found.columns[AMBIENT].resolution == 2  # the step of its own readings, not of those between


def test_a_clock_ahead_is_set_back_by_its_offset() -> None:
    room = table({"room": [20, 22, 24]}, start="2026-04-18 14:41:59", step_s=4)
    found = joined(log("m1.csv", CARD), log("room.csv", room, clock_offset_s=2220))
    assert ambient(found) == [20.5, 21.0, 21.5, 22.0, 22.5, 23.0]
    assert [r.message for r in found.repairs] == ["ambient temperature from another log, whose clock was 2220 s ahead"]


def test_nothing_is_known_outside_its_own_span_and_inside_its_gaps() -> None:
    gap = read("t,room\n1,20\n1.5,20.5\n2,21\n4,23\n", reader("room")).log
    card = log("m1.csv", table({"core": [60] * 6}), starts="2026-04-18 14:00:00")
    found = joined(card, log("room.csv", gap, starts="2026-04-18 14:00:01"))
    assert [None if np.isnan(v) else v for v in found.columns[AMBIENT].values] == [None, 20, 21, None, 23, None]


def test_logs_with_elapsed_time_are_joined_by_the_moments_of_their_first_rows() -> None:
    card = log("m1.csv", table({"core": [60] * 6}), starts="2026-04-18 14:05:10")
    room = log("room.csv", table({"room": [20, 30]}, step_s=10), starts="2026-04-18T12:05:10Z")
    dated = log("m1.csv", table({"core": [60] * 6}, start="2026-04-18 14:05:10", time=VIENNA))
    assert ambient(joined(dated, room)) == [20, 21, 22, 23, 24, 25]
    typed = log("room.csv", table({"room": [20, 30]}, step_s=10), starts="2026-04-18 14:05:09")
    assert ambient(joined(card, typed)) == [21, 22, 23, 24, 25, 26]
    assert ambient(joined(dated, typed)) == [21, 22, 23, 24, 25, 26]  # typed on the clock of the card log's zone


def test_times_of_day_are_joined_over_midnight() -> None:
    stamp = STAMP | {"format": "%H:%M:%S"}
    card = read("stamp,core\n23:59:58,60\n23:59:59,61\n00:00:00,62\n", reader("core", time=stamp)).log
    room = read("stamp,room\n00:00:00,20\n00:00:04,24\n", reader("room", time=stamp)).log
    found = joined(log("m1.csv", card), log("room.csv", room))
    assert [None if np.isnan(v) else v for v in found.columns[AMBIENT].values] == [None, None, 20]


def test_seconds_since_1970_are_a_date() -> None:
    begin = dt.datetime(2026, 4, 18, 12, 5, tzinfo=dt.UTC).timestamp()
    lines = "".join(f"{begin + 10 * i:.0f},{20 + 10 * i}\n" for i in range(2))
    room = read(f"t,room\n{lines}", reader("room")).log
    dated = log("m1.csv", table({"core": [60] * 6}, start="2026-04-18 14:05:00", time=VIENNA))
    assert ambient(joined(dated, log("room.csv", room))) == [20, 21, 22, 23, 24, 25]


def test_counted_seconds_need_an_offset_that_is_said() -> None:
    card, room = log("a.csv", table({"core": [60] * 6})), table({"room": [20, 30]}, step_s=10)
    assert ambient(joined(card, log("b.csv", room, clock_offset_s=3))) == [23, 24, 25, 26, 27, 28]
    assert refused(card, log("b.csv", room, line=7)) == (
        f"error[log-without-date] {BUNDLE}:7: b.csv holds elapsed time alone, and a.csv holds elapsed time alone too\n"
        "hint: give the moment of its first row of each: {file: b.csv, starts: 2026-04-18 14:05:10}"
    )


def test_the_card_log_is_the_first_with_a_reading_of_the_card() -> None:
    room = log("room.csv", table({"room": [20, 22]}))
    card = log("m1.csv", CARD)
    assert (card_log([room, card]), card_log([card, room]), card_log([room])) == (1, 0, 0)


def test_a_quantity_of_two_logs_is_an_error_that_names_both() -> None:
    card = log("m1.csv", table({"core": [60] * 6, "room": [21] * 6}, start="2026-04-18 14:05:00"))
    room = table({"room": [20] * 3}, start="2026-04-18 14:04:59", step_s=4)
    assert refused(card, log("room.csv", room, line=9)) == (
        f"error[quantity-in-two-logs] {BUNDLE}:9: ambient_temperature is given by m1.csv and by room.csv\n"
        "hint: name the log to take it from: {file: room.csv, only: [ambient_temperature]}"
    )
    found = joined(card, log("room.csv", room, only=["ambient_temperature"]))
    assert ambient(found) == [20] * 6
    assert CORE in found.columns


def test_a_log_gives_only_what_it_is_said_to_give() -> None:
    both = table({"room": [20] * 3, "board": [600] * 3}, start="2026-04-18 14:04:59", step_s=4)
    found = joined(log("m1.csv", CARD), log("room.csv", both, only=["ambient_temperature"]))
    assert found.columns[POWER].values.tolist() == [300] * 6
    chosen = log("m1.csv", CARD, only=["core_temperature"])
    assert joined(chosen, log("room.csv", both)).columns[POWER].values.tolist() == [600] * 6


@pytest.mark.parametrize(
    ("start", "said", "problem"),
    [
        pytest.param(
            "2026-04-19 09:00:00",
            {},
            "room.csv and m1.csv share no time: 2026-04-19 09:00:00 to 2026-04-19 09:00:08, "
            "and 2026-04-18 14:05:00 to 2026-04-18 14:05:05\n"
            "hint: name the log of this run, or say how its clock goes: soakbook inspect m1.csv room.csv",
            id="no time in common",
        ),
        pytest.param(
            "2026-04-18 16:04:59",
            {},
            "room.csv and m1.csv share no time: 2026-04-18 16:04:59 to 2026-04-18 16:05:07, "
            "and 2026-04-18 14:05:00 to 2026-04-18 14:05:05\n"
            "hint: they would share it if its clock were 2 hours off, as in another time zone: set time.zone in the "
            "readers, or clock_offset_s: 7200",
            id="an offset of hours",
        ),
        pytest.param(
            "2026-04-18 13:06:39",
            {"clock_offset_s": 100},
            "room.csv and m1.csv share no time: 2026-04-18 13:06:39 to 2026-04-18 13:06:47, "
            "and 2026-04-18 14:05:00 to 2026-04-18 14:05:05\n"
            "hint: they would share it if its clock were 1 hour off, as in another time zone: set time.zone in the "
            "readers, or clock_offset_s: -3500",
            id="an hour beside an offset",
        ),
    ],
)
def test_logs_that_share_no_time_are_an_error(start: str, said: dict[str, object], problem: str) -> None:
    room = log("room.csv", table({"room": [20] * 3}, start=start, step_s=4), 5, **said)
    assert refused(log("m1.csv", CARD), room) == f"error[logs-apart] {BUNDLE}:5: {problem}"


def test_a_log_that_covers_a_part_and_a_clock_hours_off_are_warned_of() -> None:
    room = table({"room": [20] * 3}, start="2026-04-18 16:05:02", step_s=1)
    problems = Problems()
    assert join_logs(log("m1.csv", CARD), [log("room.csv", room, 4, clock_offset_s=7200)], problems)
    assert "\n".join(str(p) for p in problems) == (
        f"warning[clock-hours] {BUNDLE}:4: the clock of room.csv is said to be 2 hours off that of m1.csv\n"
        "hint: where they are in two time zones, set time.zone in the readers, and take clock_offset_s out\n"
        f"warning[log-covers-part] {BUNDLE}:4: room.csv covers 50% of the run: from 2026-04-18 16:05:02 to "
        "2026-04-18 16:05:04\n"
        "hint: the run goes from 2026-04-18 14:05:00 to 2026-04-18 14:05:05 in m1.csv: see whether both clocks agree"
    )


def test_a_log_without_a_date_beside_one_with_says_how_to_give_it() -> None:
    room = log("room.csv", table({"room": [20] * 3}, step_s=4), 6)
    assert refused(log("m1.csv", CARD), room) == (
        f"error[log-without-date] {BUNDLE}:6: room.csv holds elapsed time alone, and m1.csv has a date\n"
        "hint: give the moment of its first row: {file: room.csv, starts: 2026-04-18 14:05:10}"
    )
    stamp = STAMP | {"format": "%H:%M:%S"}
    of_day = read("stamp,room\n9:04:59,20\n9:05:09,24\n", reader("room", time=stamp)).log
    assert refused(log("m1.csv", CARD), log("room.csv", of_day, 6)) == (
        f"error[log-without-date] {BUNDLE}:6: room.csv holds times of day and no date, and m1.csv has a date\n"
        "hint: give the moment of its first row: {file: room.csv, starts: 2026-04-18 09:04:59}"
    )


def test_a_log_with_a_zone_beside_one_without_names_the_reader() -> None:
    zoned = table({"room": [20] * 3}, start="2026-04-18 14:04:59", step_s=4, time=VIENNA)
    assert refused(log("m1.csv", CARD), log("room.csv", zoned, 6)) == (
        f"error[log-without-zone] {BUNDLE}:6: the times of room.csv are in a zone, and those of m1.csv are in none\n"
        'hint: set time.zone in the reader "bench", as zone: Europe/Vienna'
    )


def test_what_is_said_of_a_log_is_held_against_it() -> None:
    problems = Problems()
    source = LogSource.model_validate_json('{"file": "m1.csv", "starts": "2026-04-18 14:00:00", "only": ["flow_rate"]}')
    placed(CARD, source, Span(file=BUNDLE, line=3), problems)
    assert "\n".join(str(p) for p in problems) == (
        f"error[only-missing] {BUNDLE}:3: only: names flow_rate, which m1.csv does not hold\n"
        "hint: it holds board_power, core_temperature\n"
        f"error[starts-beside-dates] {BUNDLE}:3: m1.csv has dates of its own, and starts: gives it another\n"
        "hint: take starts out, or say clock_offset_s instead"
    )
