"""Checks between the fields of one file."""

from __future__ import annotations

import pytest

from tests.support.small_archive import Folder

CARD = "cards/orrery-780.yaml"
BENCH = "benches/open-frame.yaml"
BUNDLE = "bundles/slab-on-orrery/bundle.yaml"


@pytest.mark.parametrize(
    ("file", "old", "new", "problem"),
    [
        pytest.param(
            CARD,
            "{min: 50, max: 110}",
            "{min: 110, max: 50}",
            'error[bad-value] cards/orrery-780.yaml:3:34: "max": expected at least the smallest setting, 110, found 50',
            id="power limits in reverse",
        ),
        pytest.param(
            BENCH,
            "name: Open frame",
            "name: Open frame\nsensors:\n  - quantity: board_power\n  - quantity: board_power",
            "error[duplicate-id] benches/open-frame.yaml:4:15: "
            'sensor for "board_power" is listed twice, first on line 3\n'
            "hint: keep one of them, or say with from: the day on which the later one took its place",
            id="sensor twice",
        ),
        pytest.param(
            BENCH,
            "  - id: plain",
            "  - {id: plain, match: [a], columns: {b: {quantity: board_power, unit: W}}}\n  - id: plain",
            'error[duplicate-id] benches/open-frame.yaml:4:9: reader "plain" is listed twice, first on line 3\n'
            "hint: keep one of them, or give one another name",
            id="reader twice",
        ),
        pytest.param(
            BENCH,
            "{column: Time}",
            "{column: Time, zone: Europe/Viena}",
            "error[bad-value] benches/open-frame.yaml:5:32: "
            '"zone": expected a time zone as Europe/Vienna, found "Europe/Viena"\n'
            'hint: did you mean "Europe/Vienna"?',
            id="misspelled zone",
        ),
        pytest.param(
            BENCH,
            "{column: Time}",
            "{column: Time, zone: ../x}",
            "error[bad-value] benches/open-frame.yaml:5:32: "
            '"zone": expected a time zone as Europe/Vienna, found "../x"',
            id="path as zone",
        ),
        pytest.param(
            BENCH,
            "{column: Time}",
            "{column: Time, format: '%Q'}",
            "error[bad-value] benches/open-frame.yaml:5:34: "
            '"format": expected a time format as %Y-%m-%d %H:%M:%S, found "%Q"',
            id="unknown directive",
        ),
        pytest.param(
            BENCH,
            "{column: Time}",
            "{column: Time, format: '%Y %Y'}",
            "error[bad-value] benches/open-frame.yaml:5:34: "
            '"format": expected a time format as %Y-%m-%d %H:%M:%S, found "%Y %Y"',
            id="repeated directive",
        ),
        pytest.param(
            BENCH,
            "{column: Time}",
            "{column: Time, format: 'HH:MM'}",
            "error[bad-value] benches/open-frame.yaml:5:34: "
            '"format": expected a time format as %Y-%m-%d %H:%M:%S, found "HH:MM"',
            id="no directive",
        ),
        pytest.param(
            BENCH,
            "{column: Time}",
            "{column: Time, format: '%H:%'}",
            "error[bad-value] benches/open-frame.yaml:5:34: "
            '"format": expected a time format as %Y-%m-%d %H:%M:%S, found "%H:%"',
            id="lone percent sign",
        ),
        pytest.param(
            BUNDLE,
            "tested: 2026-04-18",
            "tested: 2026-04-18\n"
            "episode: {title: x, length: '6:00', moments: [{at: '6:00', label: a}, {at: '6:01', label: b}]}",
            "error[bad-value] bundles/slab-on-orrery/bundle.yaml:6:76: "
            '"at": expected a moment within the video\'s length, 6:00, found 6:01',
            id="moment past the end",
        ),
        pytest.param(
            BUNDLE,
            "tested: 2026-04-18",
            "tested: 2026-04-18\nepisode: {title: x, length: '59:59', moments: [{at: '1:00:00', label: a}]}",
            "error[bad-value] bundles/slab-on-orrery/bundle.yaml:6:53: "
            '"at": expected a moment within the video\'s length, 59:59, found 1:00:00',
            id="moment past an hour",
        ),
    ],
)
def test_fields_that_disagree_are_reported(archive: Folder, file: str, old: str, new: str, problem: str) -> None:
    archive.edit(file, old, new)
    assert archive.problems() == [problem]


@pytest.mark.parametrize(
    ("file", "line", "problem"),
    [
        pytest.param(
            BENCH,
            "sensors: [{quantity: ambient_temperature, gain: 0}]",
            'error[bad-value] benches/open-frame.yaml:2:49: "gain": expected a number above 0, found 0\n'
            "hint: 1 leaves readings as they are; a sensor that reads 2 % too high has a gain of 0.98",
            id="gain of nothing",
        ),
        pytest.param(
            "cards/orrery-780.yaml",
            "sensors: [{quantity: ambient_temperature}]",
            "error[not-of-card] cards/orrery-780.yaml:2:22: a card reports no ambient_temperature\n"
            "hint: write this sensor in the bench's file",
            id="what no card reports",
        ),
        pytest.param(
            "cards/orrery-780.yaml",
            "sensors: As it reports them.",
            'error[wrong-type] cards/orrery-780.yaml:2:10: "sensors": expected a list, found "As it reports them."\n'
            "hint: sensors is a list of instruments; words on them are sensor_notes",
            id="words where instruments belong",
        ),
    ],
)
def test_what_cannot_be_an_instrument_is_reported(archive: Folder, file: str, line: str, problem: str) -> None:
    text = (archive.root / file).read_text(encoding="utf-8")
    first, rest = text.split("\n", 1)
    archive.write(file, f"{first}\n{line}\n{rest}")
    assert problem in archive.problems()


def test_a_sensor_may_take_anothers_place_on_a_day(archive: Folder) -> None:
    sensors = "sensors: [{quantity: board_power}, {quantity: board_power, from: 2026-02-01}]"
    archive.edit(BENCH, "name: Open frame\n", f"name: Open frame\n{sensors}\n")
    assert archive.problems() == []


def own_protocol(archive: Folder, old: str, new: str) -> None:
    text = (archive.content / "protocols" / "soak.yaml").read_text(encoding="utf-8")
    assert text.count(old) == 1
    archive.write("protocols/own.yaml", text.replace(old, new))


def test_a_test_point_listed_twice_is_reported_at_the_second(archive: Folder) -> None:
    own_protocol(archive, "id: power-70", "id: stock")
    assert archive.problems() == [
        (
            'error[duplicate-id] protocols/own.yaml:8:10: test point "stock" is listed twice, first on line 7\n'
            "hint: give one of them another id"
        )
    ]


@pytest.mark.parametrize(
    ("band", "problem"),
    [
        (
            "{min_c: 28, max_c: 18}",
            "error[bad-value] protocols/own.yaml:2:29: expected an ambient band from low to high, found 28 to 18 °C",
        ),
        (
            "{min_c: 30}",
            "error[bad-value] protocols/own.yaml:2:18: expected an ambient band from low to high, found 30 to 28 °C",
        ),
    ],
)
def test_an_ambient_band_in_reverse_is_reported(archive: Folder, band: str, problem: str) -> None:
    own_protocol(archive, "version: 1", f"ambient: {band}\nversion: 1")
    assert archive.problems() == [problem]


@pytest.mark.parametrize(
    "time",
    [
        "{column: Time, kind: timestamp, format: '%d.%m.%Y %H:%M:%S', zone: Europe/Vienna}",
        "{column: Time, kind: timestamp, format: '%H:%M:%S.%f'}",
        "{column: Time, kind: timestamp, format: '%Y-%m-%dT%H:%M:%S%z'}",
        "{column: Time, kind: timestamp, format: '%m/%d/%y %I:%M:%S %p', zone: UTC}",
    ],
)
def test_formats_and_zones_that_can_be_read_are_fine(archive: Folder, time: str) -> None:
    archive.edit(BENCH, "{column: Time}", time)
    archive.sound()


def test_a_moment_without_a_length_to_compare_with_is_fine(archive: Folder) -> None:
    archive.edit(
        BUNDLE, "tested: 2026-04-18", "tested: 2026-04-18\nepisode: {title: x, moments: [{at: '9:00:00', label: a}]}"
    )
    archive.sound()
