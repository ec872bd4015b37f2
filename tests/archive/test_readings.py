"""Readings by hand as they stand in a bundle: digits as written, and every way of writing them wrongly."""

from __future__ import annotations

from decimal import Decimal

import pytest

from builder.core.results import Quantity
from tests.support.small_archive import Folder

BUNDLE = "bundles/slab-on-orrery/bundle.yaml"
ROOM = "ambient_temperature: 22"


def with_run(archive: Folder, fields: str) -> list[str]:
    archive.edit(BUNDLE, "log: stock.csv", fields)
    if "stock.csv" not in fields:
        archive.remove("bundles/slab-on-orrery/stock.csv")
    return archive.problems()


def test_readings_keep_the_digits_that_were_written(archive: Folder) -> None:
    assert with_run(archive, f"readings: {{core_temperature: 61.50, {ROOM}}}") == []
    run = archive.sound().catalogue.bundles["slab-on-orrery"].mounts[0].runs[1]
    assert run.by_hand
    assert run.readings is not None
    assert {q: str(reading) for q, reading in run.readings.items()} == {
        Quantity.CORE_TEMPERATURE: "61.50",
        Quantity.AMBIENT_TEMPERATURE: "22",
    }
    assert all(isinstance(reading, Decimal) for reading in run.readings.values())


@pytest.mark.parametrize(
    ("fields", "problem"),
    [
        pytest.param(
            f"readings: {{core_temperature: 610, {ROOM}}}",
            f"error[impossible-value] {BUNDLE}:9:53: "
            "m1/stock: 610 °C is no possible core_temperature (-90 to 300 °C)\n"
            "hint: check the digits; readings are in °C",
            id="outside what is possible",
        ),
        pytest.param(
            "readings: {core_temperature: 61}",
            f"warning[readings-without-ambient] {BUNDLE}:9:34: "
            "m1/stock: readings without the room's temperature give no rise over ambient\n"
            "hint: add ambient_temperature to the readings; without it the run compares with nothing",
            id="without ambient",
        ),
        pytest.param(
            f"readings: {{core_temp: 61, {ROOM}}}",
            f'error[bad-choice] {BUNDLE}:9:35: "readings": expected one of {len(Quantity)} words, found "core_temp"\n'
            'hint: did you mean "core_temperature"?',
            id="misspelt quantity",
        ),
        pytest.param(
            f'readings: {{core_temperature: "61,5", {ROOM}}}',
            f'error[wrong-type] {BUNDLE}:9:53: "core_temperature": expected a number, found "61,5"\n'
            "hint: use a decimal point: 61.5",
            id="decimal comma",
        ),
        pytest.param(
            f"readings: {{core_temperature: true, {ROOM}}}",
            f'error[wrong-type] {BUNDLE}:9:53: "core_temperature": expected a number, found true',
            id="switch",
        ),
        pytest.param(
            f"readings: {{core_temperature: , {ROOM}}}",
            f'error[wrong-type] {BUNDLE}:9:52: "core_temperature": expected a number, found nothing\n'
            "hint: give a value, or remove the line",
            id="no reading",
        ),
        pytest.param(
            "readings: {}",
            f'error[bad-value] {BUNDLE}:9:34: "readings": expected at least 1 item, found none',
            id="no readings",
        ),
        pytest.param(
            f"readings: {{frame_time: 11, {ROOM}}}",
            f"error[bad-value] {BUNDLE}:9:47: a single frame time says nothing of a run\nhint: write frame_rate",
            id="a frame time",
        ),
        pytest.param(
            f"log: stock.csv, readings: {{core_temperature: 61, {ROOM}}}",
            f'error[log-and-readings] {BUNDLE}:9:24: "log" stands beside readings: '
            "a run has a log, or what was read by hand\n"
            "hint: remove one of them",
            id="a log too",
        ),
        pytest.param(
            "ambient_c: 22, readings: {core_temperature: 61, ambient_temperature: 22}",
            f'error[log-and-readings] {BUNDLE}:9:24: "ambient_c" stands beside readings: '
            "a run has a log, or what was read by hand\n"
            "hint: write ambient_temperature below readings",
            id="ambient twice",
        ),
        pytest.param(
            "note: nothing at all",
            f'error[missing-field] {BUNDLE}:9:9: field "log" of m1/stock is missing\n'
            "hint: log: file name of the log, in the bundle's folder; or readings: what was read by hand",
            id="neither log nor readings",
        ),
    ],
)
def test_a_slip_gives_one_problem_with_its_place_and_cure(archive: Folder, fields: str, problem: str) -> None:
    assert with_run(archive, fields) == [problem]


def test_the_allowance_of_a_protocol_is_above_zero(archive: Folder) -> None:
    archive.write(
        "protocols/own.yaml",
        """\
        name: Own
        version: 1
        by_hand_allowance_k: 0
        air: {tau_s: 150, window_s: 300, soak_s: 600}
        liquid: {tau_s: 600, window_s: 600, soak_s: 1200}
        points: [{id: stock, name: Stock, role: stock}]
        """,
    )
    assert archive.problems() == [
        'error[bad-value] protocols/own.yaml:3:22: "by_hand_allowance_k": expected a number above 0, found 0'
    ]


def test_a_bench_where_everything_was_read_by_hand_needs_no_reader(archive: Folder) -> None:
    archive.write("benches/by-eye.yaml", "name: By eye\nreaders: []\n")
    assert archive.problems() == []
