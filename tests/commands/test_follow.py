"""A log that grows while it is watched: a second process writes it at many times its pace, time stands in the log."""

from __future__ import annotations

import datetime as dt
import os
import shutil
import signal
import subprocess
import sys
import threading
import time
from collections.abc import Iterator
from dataclasses import dataclass, field
from itertools import pairwise
from pathlib import Path

import pytest

from builder.commands.follow import Report, State, Target, Watch, find_target, follow, time_left, whole_lines
from builder.core.errors import SoakbookError
from builder.core.quantity import Estimate
from builder.core.results import Quantity, Settlement, Verdict
from builder.settling import SettleRule
from tests.support.command import DEMO, ROOT, START, soakbook

BUNDLE = "gritstone-twin-on-orrery-780"
RUN = "m1/stock"
LOG = f"bundles/{BUNDLE}/m1-stock.csv"
HEAD = 3  # lines before its first sample

# Writes the lines of one file into another, each line in two halves, so that a reader sees broken lines too.
WRITER = """
import sys, time
lines = open(sys.argv[1], "rb").read().splitlines(keepends=True)
with open(sys.argv[2], "ab", buffering=0) as out:
    for number, line in enumerate(lines[: int(sys.argv[3])]):
        out.write(line[: len(line) // 2])
        if number % 50 == 0:
            time.sleep(0.05)
        out.write(line[len(line) // 2 :])
"""


@pytest.fixture
def archive(tmp_path: Path) -> Path:
    """The demo with one bundle, whose stock log is kept aside as `whole.csv`."""
    root = tmp_path / "archive"
    shutil.copytree(DEMO, root, ignore=shutil.ignore_patterns("bundles", "public", "ledger.json", ".*", "simulator"))
    shutil.copytree(DEMO / "bundles" / BUNDLE, root / "bundles" / BUNDLE)
    (root / LOG).rename(tmp_path / "whole.csv")
    return root


@dataclass
class Clock:
    """Seconds that only pass where a test says so."""

    now: float = 0.0
    script: list[tuple[float, str, bytes]] = field(default_factory=list)
    path: Path = Path()

    def __call__(self) -> float:
        return self.now

    def pause(self, seconds: float) -> None:
        self.now += seconds
        while self.script and self.script[0][0] <= self.now:
            _, mode, data = self.script.pop(0)
            if mode == "remove":
                self.path.unlink()
            else:
                with self.path.open(mode) as file:
                    file.write(data)


def lines_of(archive: Path) -> list[bytes]:
    return (archive.parent / "whole.csv").read_bytes().splitlines(keepends=True)


def watched(archive: Path, script: list[tuple[float, str, bytes]], patience_s: float = 30.0) -> list[Report]:
    clock = Clock(script=script, path=archive / LOG)
    target = find_target(archive, BUNDLE, RUN)
    return list(follow(target, clock=clock, pause=clock.pause, patience_s=patience_s))


def states(reports: list[Report]) -> list[str]:
    seen: list[str] = []
    for report in reports:
        if not seen or seen[-1] != report.state:
            seen.append(report.state)
    return seen


@dataclass(kw_only=True)
class Running:
    """The command in the background, with what it said line by line."""

    process: subprocess.Popen[str]
    told: list[str] = field(default_factory=list)

    def wait_for(self, words: str, timeout: float = 120.0) -> None:
        ends = time.monotonic() + timeout
        while not any(words in line for line in self.told):
            assert time.monotonic() < ends, f"never said {words!r}: {self.told}"
            assert self.process.poll() is None or any(words in line for line in self.told), self.told
            time.sleep(0.05)


@pytest.fixture
def running(archive: Path) -> Iterator[Running]:
    command = [sys.executable, "-c", START, "reduce", str(archive), BUNDLE, "--follow", RUN, "--patience", "4"]
    process = subprocess.Popen(
        command,
        env={**os.environ, "PYTHONPATH": str(ROOT)},
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
        encoding="utf-8",
    )
    found = Running(process=process)
    assert process.stderr
    reader = threading.Thread(target=found.told.extend, args=[process.stderr], daemon=True)
    reader.start()
    yield found
    process.kill()
    process.communicate()
    reader.join()


def write(archive: Path, lines: int) -> None:
    subprocess.run(
        [sys.executable, "-c", WRITER, archive.parent / "whole.csv", archive / LOG, str(lines)], check=True, timeout=120
    )


# --- the command ---------------------------------------------------------------------------------------------------


def test_a_run_that_settles_while_it_is_written_ends_the_watch_with_its_figures(
    archive: Path, running: Running
) -> None:
    running.wait_for("waiting for")
    write(archive, 1_000_000)
    output = running.process.stdout.read() if running.process.stdout else ""
    assert running.process.wait(timeout=120) == 0, running.told
    assert "Settled: remaining approach" in output
    assert "Core over ambient" in output


def test_a_log_that_stops_growing_ends_the_watch_as_a_problem(archive: Path, running: Running) -> None:
    running.wait_for("waiting for")
    write(archive, 200)
    assert running.process.wait(timeout=120) == 1
    assert running.process.stdout
    assert "too short" in running.process.stdout.read().lower()
    assert any(line.startswith("error[log-stalled]") and "has not grown for" in line for line in running.told)


def test_an_interrupt_prints_the_last_verdict(archive: Path, running: Running) -> None:
    running.wait_for("waiting for")
    write(archive, 200)
    running.wait_for("Too short")
    running.process.send_signal(signal.SIGINT)
    assert running.process.wait(timeout=60) == 130
    assert running.process.stdout
    assert "Too short" in running.process.stdout.read()


def test_an_interrupt_before_the_log_exists_says_that_there_is_no_verdict(running: Running) -> None:
    running.wait_for("waiting for")
    running.process.send_signal(signal.SIGINT)
    assert running.process.wait(timeout=60) == 130
    assert running.process.stdout
    assert running.process.stdout.read() == ""
    assert "stopped before there was a verdict\n" in running.told


def test_an_unknown_run_is_named_with_the_nearest(archive: Path) -> None:
    done = soakbook("reduce", archive, BUNDLE, "--follow", "m1/stok")
    assert done.returncode == 1
    assert 'hint: did you mean "m1/stock"?' in done.stderr


def test_a_run_is_either_followed_or_shown(archive: Path) -> None:
    assert soakbook("reduce", archive, BUNDLE, "--follow", RUN, "--run", RUN).returncode == 2


# --- the watch, on a clock of its own ------------------------------------------------------------------------------


def test_it_waits_for_the_log_and_says_so_once(archive: Path) -> None:
    reports = watched(archive, [(20.0, "wb", b"".join(lines_of(archive)))])
    assert [r.message for r in reports if r.state is State.WAITING] == [f"No log yet: waiting for {LOG}."]
    assert states(reports) == ["waiting", "settled"]


def test_a_report_names_the_figure_that_it_gives(archive: Path) -> None:
    lines = lines_of(archive)
    reports = watched(archive, [(2.0, "wb", b"".join(lines[: len(lines) // 3]))])
    said = [r.message for r in reports if r.state is State.WATCHING]
    assert said
    assert all("Core temperature now " in m or "Core over ambient now " in m for m in said)


def test_reports_are_at_least_two_seconds_apart(archive: Path) -> None:
    lines = lines_of(archive)
    clock = Clock(script=[(n * 0.5, "ab", b"".join(lines[n * 4 : n * 4 + 4])) for n in range(60)], path=archive / LOG)
    reports = follow(find_target(archive, BUNDLE, RUN), clock=clock, pause=clock.pause)
    times = [clock.now for report in reports if report.state is State.WATCHING]
    assert len(times) > 5
    assert min(b - a for a, b in pairwise(times)) >= 2.0


def test_a_log_that_is_replaced_is_said_and_watched_from_its_start(archive: Path) -> None:
    lines = lines_of(archive)
    rotated = lines[:HEAD] + lines[400:500]
    reports = watched(archive, [(1.0, "wb", b"".join(lines[:300])), (5.0, "wb", b"".join(rotated))])
    assert states(reports) == ["waiting", "watching", "restarted", "watching", "stalled"]
    first, *_, last = (r for r in reports if r.run)
    assert last.length_s < first.length_s
    assert [r.message for r in reports if r.restarted] == ["The log was replaced or cut short. Watching starts again."]


def test_a_log_that_is_truncated_or_removed_is_said(archive: Path) -> None:
    data = b"".join(lines_of(archive)[:300])
    reports = watched(archive, [(1.0, "wb", data), (5.0, "wb", b""), (9.0, "wb", data), (12.0, "remove", b""),
                                (15.0, "wb", data)])  # fmt: skip
    said = [r.message for r in reports if r.restarted]
    assert said == ["The log was replaced or cut short. Watching starts again.",
                    "The log is gone. Waiting for a new one."]  # fmt: skip


def test_a_half_written_last_line_is_no_error(archive: Path) -> None:
    data = b"".join(lines_of(archive)[:300])
    for cut in range(1, 40, 3):
        (archive / LOG).unlink(missing_ok=True)
        reports = watched(archive, [(1.0, "wb", data[:-cut])])
        assert states(reports) == ["waiting", "watching", "stalled"]
        assert reports[-1].problems == ()


def test_a_log_counts_as_stalled_after_ten_of_its_steps_where_those_are_longer(archive: Path) -> None:
    lines = lines_of(archive)
    sparse = b"".join(lines[:HEAD] + lines[HEAD::10])
    clock = Clock(script=[(0.0, "wb", sparse[: len(sparse) // 2])], path=archive / LOG)
    clock.pause(0.0)
    watch = Watch(target=find_target(archive, BUNDLE, RUN), clock=clock)
    while True:
        report = watch.look()
        if report and report.state.final:
            break
        clock.pause(0.5)
    (log,) = watch.logs
    assert log.step_s == 20.0
    assert clock.now == pytest.approx(10 * log.step_s, abs=1.1)


def test_a_log_that_no_reader_knows_ends_the_watch_with_the_reason(archive: Path) -> None:
    reports = watched(archive, [(n * 1.0, "ab", b"a,b\n1,2\n3,4\n5,6\n") for n in range(1, 50)])
    assert reports[-1].state is State.UNREADABLE
    assert [p.code for p in reports[-1].problems] == ["no-reader-matches"]


def test_a_log_outside_its_folder_is_refused(archive: Path) -> None:
    file = archive / "bundles" / BUNDLE / "bundle.yaml"
    file.write_text(file.read_text(encoding="utf-8").replace("m1-stock.csv", "../../../whole.csv"), encoding="utf-8")
    with pytest.raises(SoakbookError) as refused:
        watched(archive, [])
    assert [p.code for p in refused.value.problems] == ["path-outside"]


def test_a_planned_bundle_has_no_run_to_watch(archive: Path) -> None:
    done = soakbook(
        "sheet",
        archive,
        "--card",
        "orrery-740",
        "--cooler",
        "gritstone-fold",
        "--protocol",
        "brief-5",
        "--bench",
        "back-room",
    )
    assert done.returncode == 0, done.stderr
    with pytest.raises(SoakbookError) as refused:
        find_target(archive, "gritstone-fold-on-orrery-740", RUN)
    assert [(p.code, p.message) for p in refused.value.problems] == [("no-run-yet", "the bundle has no run yet")]


def test_a_target_knows_its_rule(archive: Path) -> None:
    target: Target = find_target(archive, BUNDLE, "m1/idle")
    assert (target.rule.soak_s, target.rule.window_s) == (240.0, 300.0)


# --- two logs that grow --------------------------------------------------------------------------------------------

ROOM_READER = """
  - id: room
    match: [when, room_C]
    time: {column: when, kind: timestamp}
    columns:
      room_C: {quantity: ambient_temperature, unit: degC}
"""
BEGIN = dt.datetime(2026, 4, 18, 14, 0, 0)  # noqa: DTZ001 - as a tester writes it


@pytest.fixture
def two_logs(archive: Path) -> Path:
    """The same run with a log of the room beside the card's, on a clock that is a minute ahead."""
    bench = archive / "benches/back-room.yaml"
    bench.write_text(
        bench.read_text(encoding="utf-8").replace("readers:\n", f"readers:{ROOM_READER}", 1), encoding="utf-8"
    )
    file = archive / f"bundles/{BUNDLE}/bundle.yaml"
    logs = f"logs: [{{file: m1-stock.csv, starts: {BEGIN}}}, {{file: room.csv, clock_offset_s: 60}}]"
    old = "log: m1-stock.csv, ambient_c: 22.0"
    text = file.read_text(encoding="utf-8")
    assert old in text
    file.write_text(text.replace(old, logs), encoding="utf-8")
    return archive


def room(first: int, last: int) -> bytes:
    """Readings of the room every 30 s, from one minute of the run to another."""
    moments = (BEGIN + dt.timedelta(seconds=60 + 30 * n) for n in range(2 * first, 2 * last))
    return "".join(f"{moment.isoformat(sep=' ')},22.{moment.minute % 3}\n" for moment in moments).encode()


def followed(archive: Path, script: list[tuple[float, str, bytes]], rooms: list[tuple[float, bytes]]) -> list[Report]:
    clock = Clock(script=script, path=archive / LOG)
    told, path = list(rooms), archive / f"bundles/{BUNDLE}/room.csv"

    def pause(seconds: float) -> None:
        clock.pause(seconds)
        while told and told[0][0] <= clock.now:
            with path.open("ab") as out:
                out.write(told.pop(0)[1])

    return list(follow(find_target(archive, BUNDLE, RUN), clock=clock, pause=pause))


def test_a_run_with_two_logs_is_judged_as_far_as_both_have_come(two_logs: Path) -> None:
    lines = lines_of(two_logs)
    rooms = [(3.0, b"when,room_C\n" + room(0, 10)), (20.0, room(10, 26))]
    reports = followed(two_logs, [(1.0, "wb", b"".join(lines))], rooms)
    assert states(reports) == ["waiting", "watching", "settled"]
    assert reports[0].message == f"No log yet: waiting for {LOG} and bundles/{BUNDLE}/room.csv."
    judged = [report for report in reports if report.run]
    assert 560 <= judged[0].length_s <= 580  # the room's log ends there, the card's goes on
    assert judged[-1].length_s > 1400
    assert judged[-1].run
    assert Quantity.AMBIENT_TEMPERATURE in judged[-1].run.joined


def test_a_second_log_that_stalls_is_named(two_logs: Path) -> None:
    lines = lines_of(two_logs)
    growing = [(1.0, "wb", b"".join(lines[:300]))]
    growing += [(n * 8.0, "ab", b"".join(lines[290 + 10 * n : 300 + 10 * n])) for n in range(2, 45)]
    reports = followed(two_logs, growing, [(1.0, b"when,room_C\n" + room(0, 5))])
    assert reports[-1].state is State.STALLED
    assert reports[-1].message.startswith("room.csv has not grown for 30")


def test_a_second_log_that_has_not_reached_the_run_is_waited_for(two_logs: Path) -> None:
    lines = lines_of(two_logs)
    early = (BEGIN - dt.timedelta(minutes=5)).isoformat(sep=" ")
    reports = followed(
        two_logs,
        [(1.0, "wb", b"".join(lines))],
        [(1.0, f"when,room_C\n{early},22.0\n".encode()), (9.0, room(0, 26))],
    )
    assert "The logs have no time in common yet." in [report.message for report in reports]
    assert reports[-1].state is State.SETTLED


# --- how long it still needs ---------------------------------------------------------------------------------------

RULE = SettleRule(tau_s=150.0, window_s=300.0, soak_s=600.0)


def settlement(verdict: Verdict, remaining: float | None, half_width: float | None) -> Settlement:
    estimate = None if remaining is None else Estimate(value=remaining, u=0.05, unit="K")
    return Settlement(verdict=verdict, message="", tau_s=150.0, limit_k=0.5, remaining=estimate, half_width=half_width)


def test_before_soak_and_window_are_over_the_rest_of_them_is_needed() -> None:
    assert time_left(settlement(Verdict.TOO_SHORT, None, None), RULE, 250.0) == 650.0


def test_a_drifting_run_needs_as_long_as_its_exponential() -> None:
    # What remains, 2 e^(-t/150), is 0.4 K after 150 ln 5 = 241.4 s; the interval is 0.1 K wide on each side.
    assert time_left(settlement(Verdict.DRIFTING, -2.0, 0.1), RULE, 900.0) == pytest.approx(241.4, abs=0.1)


def test_nothing_is_promised_where_the_uncertainty_alone_decides() -> None:
    assert time_left(settlement(Verdict.UNDECIDED, 0.05, 0.6), RULE, 900.0) is None
    assert time_left(settlement(Verdict.UNDECIDED, None, None), RULE, 900.0) is None


def test_a_settled_run_needs_nothing() -> None:
    assert time_left(settlement(Verdict.SETTLED, 0.1, 0.1), RULE, 900.0) == 0.0


# --- whole lines ---------------------------------------------------------------------------------------------------


@pytest.mark.parametrize("encoding", ["utf-8", "utf-16", "utf-16-be", "cp1252"])
def test_whole_lines_end_at_a_line_end_in_every_encoding(encoding: str) -> None:
    mark = b"\xfe\xff" if encoding == "utf-16-be" else b""
    whole = mark + "a;Ċ\n1;2\n".encode(encoding, errors="replace")
    rest = "3;Ċ".encode(encoding.replace("utf-16", "utf-16-le") if encoding == "utf-16" else encoding, errors="replace")
    for cut in range(len(rest)):
        assert whole_lines(whole + rest[:cut]) == whole


def test_text_without_a_line_end_has_no_whole_line() -> None:
    assert whole_lines(b"a,b") == b""
