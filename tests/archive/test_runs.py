"""Cuts, repeated runs and shared stretches of a log."""

from __future__ import annotations

import pytest

from tests.support.small_archive import Folder

BUNDLE = "bundles/slab-on-orrery/bundle.yaml"


@pytest.mark.parametrize(
    ("old", "new", "problem"),
    [
        pytest.param(
            "log: stock.csv",
            "log: stock.csv, from: 10, to: 10",
            "error[bad-value] bundles/slab-on-orrery/bundle.yaml:9:54: "
            '"to": expected a time after "from", 10 s, found 10 s',
            id="from equals to",
        ),
        pytest.param(
            "log: stock.csv",
            "log: stock.csv, from: 10, to: 9.5",
            "error[bad-value] bundles/slab-on-orrery/bundle.yaml:9:54: "
            '"to": expected a time after "from", 10 s, found 9.5 s',
            id="from after to",
        ),
        pytest.param(
            "log: stock.csv",
            "log: stock.csv, from: 2026-04-18 10:05, to: 2026-04-18 10:00",
            "error[bad-value] bundles/slab-on-orrery/bundle.yaml:9:68: "
            '"to": expected a time after "from", 2026-04-18 10:05:00, found 2026-04-18 10:00:00',
            id="timestamps in reverse",
        ),
        pytest.param(
            "log: stock.csv",
            "log: stock.csv, from: '2026-04-18T10:00:00Z', to: '2026-04-18T11:00:00+02:00'",
            "error[bad-value] bundles/slab-on-orrery/bundle.yaml:9:74: "
            '"to": expected a time after "from", 2026-04-18 10:00:00+00:00, found 2026-04-18 11:00:00+02:00',
            id="zones make it reverse",
        ),
        pytest.param(
            "log: stock.csv",
            "log: stock.csv, from: 10, to: 2026-04-18 10:00",
            "error[bad-value] bundles/slab-on-orrery/bundle.yaml:9:54: "
            '"to": expected the same kind of time as "from", found another\n'
            "hint: give both in seconds, or both as date and time, with a zone on both or on neither",
            id="seconds and timestamp",
        ),
        pytest.param(
            "log: stock.csv",
            "log: stock.csv, from: 2026-04-18T10:00Z, to: 2026-04-18T10:05",
            "error[bad-value] bundles/slab-on-orrery/bundle.yaml:9:69: "
            '"to": expected the same kind of time as "from", found another\n'
            "hint: give both in seconds, or both as date and time, with a zone on both or on neither",
            id="zone on one side",
        ),
        pytest.param(
            "log: stock.csv",
            "log: stock.csv, from: 6:40",
            "error[bad-date] bundles/slab-on-orrery/bundle.yaml:9:46: "
            '"from": expected seconds, or a date and time as 2026-04-18 14:05:00, found "6:40"\n'
            "hint: 6:40 is 400 seconds",
            id="clock time",
        ),
        pytest.param(
            "log: stock.csv",
            "log: stock.csv, from: 2026-02-30 10:00",
            "error[bad-date] bundles/slab-on-orrery/bundle.yaml:9:46: "
            '"from": expected seconds, or a date and time as 2026-04-18 14:05:00, found "2026-02-30 10:00"',
            id="day that does not exist",
        ),
        pytest.param(
            "log: stock.csv",
            "log: stock.csv, from: '5'",
            "error[bad-date] bundles/slab-on-orrery/bundle.yaml:9:46: "
            '"from": expected seconds, or a date and time as 2026-04-18 14:05:00, found "5"',
            id="seconds as text",
        ),
        pytest.param(
            "log: stock.csv",
            "log: stock.csv, from: true",
            "error[wrong-type] bundles/slab-on-orrery/bundle.yaml:9:46: "
            '"from": expected seconds, or a date and time as 2026-04-18 14:05:00, found true',
            id="switch",
        ),
        pytest.param(
            "log: stock.csv",
            "log: stock.csv, from: 2026-04-18",
            "error[bad-date] bundles/slab-on-orrery/bundle.yaml:9:46: "
            '"from": expected seconds, or a date and time as 2026-04-18 14:05:00, found "2026-04-18"',
            id="date without time",
        ),
        pytest.param(
            "log: stock.csv",
            "log: stock.csv, to: .inf",
            "error[bad-value] bundles/slab-on-orrery/bundle.yaml:9:44: expected a finite number, found .inf",
            id="infinite",
        ),
        pytest.param(
            "point: stock",
            "point: idle",
            "error[duplicate-run] bundles/slab-on-orrery/bundle.yaml:9:17: "
            "m1/idle is a run already, on line 8\n"
            "hint: a remount is a new entry below mounts",
            id="test point twice in a mount",
        ),
        pytest.param(
            "log: stock.csv}",
            "log: ./idle.csv}\n      - {point: power-70, log: stock.csv}",
            "error[overlapping-runs] bundles/slab-on-orrery/bundle.yaml:9:29: "
            '"./idle.csv" is used by m1/idle too, on line 8, for the same stretch of time\n'
            "hint: name another file, or cut the runs apart with from and to",
            id="log twice",
        ),
        pytest.param(
            "- {point: idle, log: idle.csv}\n      - {point: stock, log: stock.csv}",
            "- {point: idle, log: stock.csv, to: 700}\n"
            "      - {point: stock, log: stock.csv, from: 600, to: 1200}\n"
            "      - {point: power-70, log: idle.csv}",
            "error[overlapping-runs] bundles/slab-on-orrery/bundle.yaml:9:29: "
            '"stock.csv" is used by m1/idle too, on line 8, for the same stretch of time\n'
            "hint: name another file, or cut the runs apart with from and to",
            id="cuts that overlap",
        ),
        pytest.param(
            "- {point: idle, log: idle.csv}\n      - {point: stock, log: stock.csv}",
            "- {point: idle, log: stock.csv, to: 700}\n"
            "      - {point: stock, log: stock.csv}\n"
            "      - {point: power-70, log: idle.csv}",
            "error[overlapping-runs] bundles/slab-on-orrery/bundle.yaml:9:29: "
            '"stock.csv" is used by m1/idle too, on line 8, for the same stretch of time\n'
            "hint: name another file, or cut the runs apart with from and to",
            id="cut and uncut",
        ),
        pytest.param(
            "- {point: idle, log: idle.csv}\n      - {point: stock, log: stock.csv}",
            "- {point: idle, log: stock.csv, to: 2026-04-18 10:10}\n"
            "      - {point: stock, log: stock.csv, from: 2026-04-18 10:09}\n"
            "      - {point: power-70, log: idle.csv}",
            "error[overlapping-runs] bundles/slab-on-orrery/bundle.yaml:9:29: "
            '"stock.csv" is used by m1/idle too, on line 8, for the same stretch of time\n'
            "hint: name another file, or cut the runs apart with from and to",
            id="timestamps that overlap",
        ),
        pytest.param(
            "log: stock.csv}",
            "log: stock.csv}\n  - runs: [{point: stock, log: stock.csv}]",
            "error[overlapping-runs] bundles/slab-on-orrery/bundle.yaml:10:32: "
            '"stock.csv" is used by m1/stock too, on line 9, for the same stretch of time\n'
            "hint: name another file, or cut the runs apart with from and to",
            id="log in another mount",
        ),
    ],
)
def test_a_bad_run_is_reported_once(archive: Folder, old: str, new: str, problem: str) -> None:
    archive.edit(BUNDLE, old, new)
    assert archive.problems() == [problem]


TWO_RUNS = "- {point: idle, log: idle.csv}\n      - {point: stock, log: stock.csv}"


@pytest.mark.parametrize(
    "runs",
    [
        pytest.param(
            "- {point: idle, log: s.csv, to: 600}\n      - {point: stock, log: s.csv, from: 600}",
            id="seconds that meet",
        ),
        pytest.param(
            "- {point: stock, log: s.csv, from: 600}\n      - {point: idle, log: s.csv, from: 0, to: 600}",
            id="later part first",
        ),
        pytest.param(
            "- {point: idle, log: s.csv, to: 2026-04-18T10:00Z}\n"
            "      - {point: stock, log: s.csv, from: '2026-04-18T12:00+02:00'}",
            id="one instant in two zones",
        ),
        pytest.param(
            "- {point: idle, log: s.csv, to: 600}\n      - {point: stock, log: s.csv, from: 2026-04-18 10:00}",
            id="seconds and timestamps, not comparable before the log is read",
        ),
        pytest.param("- {point: idle, log: s.csv, frames: s.csv}", id="log that holds the frames too"),
    ],
)
def test_parts_of_one_log_that_do_not_overlap_are_fine(archive: Folder, runs: str) -> None:
    archive.edit(BUNDLE, TWO_RUNS, runs)
    archive.move("bundles/slab-on-orrery/stock.csv", "bundles/slab-on-orrery/s.csv")
    archive.remove("bundles/slab-on-orrery/idle.csv")
    archive.sound()


def test_frames_used_twice_overlap(archive: Folder) -> None:
    runs = "- {point: idle, log: idle.csv, frames: f.csv}\n      - {point: stock, log: stock.csv, frames: f.csv}"
    archive.edit(BUNDLE, TWO_RUNS, runs)
    archive.write("bundles/slab-on-orrery/f.csv", "")
    assert archive.problems() == [
        (
            'error[overlapping-runs] bundles/slab-on-orrery/bundle.yaml:9:48: "f.csv" is used by m1/idle too, on '
            "line 8, for the same stretch of time\nhint: name another file, or cut the runs apart with from and to"
        )
    ]


def test_a_remount_repeats_test_points(archive: Folder) -> None:
    archive.edit(BUNDLE, "log: stock.csv}", "log: stock.csv}\n  - runs: [{point: stock, log: m2-stock.csv}]")
    archive.write("bundles/slab-on-orrery/m2-stock.csv", "")
    archive.sound()


def test_a_bad_run_does_not_hide_what_is_wrong_with_the_others(archive: Folder) -> None:
    runs = "- {point: idle, log: idle.csv, ambient_c: warm}\n      - {point: stok, log: stok.csv, from: 9, to: 3}"
    archive.edit(BUNDLE, TWO_RUNS, runs)
    assert archive.problems() == [
        'error[wrong-type] bundles/slab-on-orrery/bundle.yaml:8:49: "ambient_c": expected a number, found "warm"',
        (
            'error[unknown-point] bundles/slab-on-orrery/bundle.yaml:9:17: protocol "soak" has no test point "stok"\n'
            'hint: did you mean "stock"?'
        ),
        (
            'error[missing-file] bundles/slab-on-orrery/bundle.yaml:9:28: "stok.csv" does not exist\n'
            'hint: did you mean "stock.csv"?'
        ),
        'error[bad-value] bundles/slab-on-orrery/bundle.yaml:9:51: "to": expected a time after "from", 9 s, found 3 s',
    ]


def test_a_thousand_cuts_of_one_log_do_not_overlap(archive: Folder) -> None:
    runs = [f"      - {{point: p{i}, log: stock.csv, from: {i}, to: {i + 1}}}" for i in range(1000)]
    archive.edit(BUNDLE, "      " + TWO_RUNS, "\n".join(runs))
    archive.remove("bundles/slab-on-orrery/idle.csv")
    problems = archive.problems()
    assert len(problems) == 1000
    assert all("unknown-point" in problem for problem in problems)
