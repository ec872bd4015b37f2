"""A run with several logs, from the bundle's file to the published log."""

from __future__ import annotations

import datetime as dt
from pathlib import Path

import pytest

from builder.commands.cache import open_cache
from builder.commands.check import check_archive
from builder.commands.reduce_archive import Figures, reduce_archive
from builder.commands.start import start_archive
from builder.core.results import Quantity, RunResult
from builder.site import SiteRenderer

BUNDLE = "bundles/example-tower-on-example-card"
STARTS = dt.datetime(2026, 1, 10, 14, 5, 10)  # noqa: DTZ001 - as a tester writes it
ROOM_STEP = 5  # rows of the card's log to one of the room's
ROOM_READER = """
  - id: room
    match: [when, room_C]
    time: {column: when, kind: timestamp}
    columns:
      room_C: {quantity: ambient_temperature, unit: degC}
"""


def split(root: Path, *, step: int = ROOM_STEP, clock_s: float = 2220) -> None:
    """Take the ambient temperature out of the stock log, into a slower log of its own on a clock that is ahead."""
    log = root / BUNDLE / "m1-stock.csv"
    head, *rows = [line.split(",") for line in log.read_text(encoding="utf-8").splitlines()]
    at = head.index("ambient_C")
    log.write_text("".join(",".join((*row[:at], *row[at + 1 :])) + "\n" for row in (head, *rows)), encoding="utf-8")
    moments = (STARTS + dt.timedelta(seconds=float(row[0]) + clock_s) for row in rows)
    room = [f"{m.isoformat(sep=' ')},{row[at]}\n" for m, row in zip(moments, rows, strict=True)]
    (root / BUNDLE / "room.csv").write_text("".join(("when,room_C\n", *room[:-1:step], room[-1])), encoding="utf-8")
    bench = root / "benches/my-bench.yaml"
    text = bench.read_text(encoding="utf-8").replace(
        "ambient_temperature, unit: degC}", "ambient_temperature, unit: degC, optional: true}"
    )
    bench.write_text(f"{text}{ROOM_READER}", encoding="utf-8")


def rename(root: Path, logs: str) -> None:
    file = root / BUNDLE / "bundle.yaml"
    text = file.read_text(encoding="utf-8")
    assert "log: m1-stock.csv" in text
    file.write_text(text.replace("log: m1-stock.csv", logs), encoding="utf-8")


def stock(figures: Figures) -> RunResult:
    (result,) = figures.results.values()
    return next(run for point in result.points for run in point.runs if run.point == "stock")


@pytest.fixture(scope="module")
def whole(tmp_path_factory: pytest.TempPathFactory) -> RunResult:
    """The stock run with all its columns in one log."""
    root = tmp_path_factory.mktemp("whole") / "archive"
    start_archive(root)
    return stock(reduce_archive(root))


@pytest.fixture
def root(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """The starter's archive with a log of the room, which no bundle names yet."""
    monkeypatch.setenv("XDG_STATE_HOME", str(tmp_path / "state"))
    start_archive(tmp_path / "archive")
    split(tmp_path / "archive")
    return tmp_path / "archive"


CARD = f"{{file: m1-stock.csv, starts: {STARTS}}}"
ROOM = "{file: room.csv, clock_offset_s: 2220}"


def test_a_room_log_on_another_clock_gives_the_figures_of_one_log(tmp_path: Path, whole: RunResult) -> None:
    root = tmp_path / "archive"
    start_archive(root)
    split(root, step=1)
    rename(root, f"logs: [{CARD}, {ROOM}]")
    figures = reduce_archive(root)
    assert list(figures.problems) == []
    run = stock(figures)
    assert (run.log, run.joined) == ("m1-stock.csv", (Quantity.AMBIENT_TEMPERATURE,))
    assert run.figures == whole.figures
    assert run.settlement == whole.settlement
    assert "ambient temperature from another log, whose clock was 2220 s ahead" in run.repairs


def test_a_slow_log_of_the_session_gives_nearly_the_same_from_fewer_readings(root: Path, whole: RunResult) -> None:
    file = root / BUNDLE / "bundle.yaml"
    lines = file.read_text(encoding="utf-8").splitlines(keepends=True)
    at = next(i for i, line in enumerate(lines) if "point: stock" in line)
    # The other runs keep an ambient temperature of their own, so the session's log stands in a mount of stock's.
    line = lines.pop(at)
    file.write_text(f"{''.join(lines)}  - logs: [{ROOM}]\n    runs:\n{line}", encoding="utf-8")
    rename(root, f"logs: [{CARD}]")
    figures = reduce_archive(root)
    assert list(figures.problems) == []
    run = stock(figures)
    rise, before = run.figures["core_rise"].estimate, whole.figures["core_rise"].estimate
    assert abs(rise.value - before.value) < 0.1  # the step of the room's readings
    assert 0.9 * before.u < rise.u < 1.2 * before.u
    own = whole.figures["ambient_temperature"].samples / ROOM_STEP
    assert abs(run.figures["ambient_temperature"].samples - own) <= 2


def test_the_published_log_holds_both_and_says_so(root: Path) -> None:
    rename(root, f"logs: [{CARD}, {ROOM}]")
    figures = reduce_archive(root)
    site = SiteRenderer(root=root, loaded=figures.loaded, results=figures.results, keep=open_cache(root))
    files = dict(site.files())
    log = files["data/logs/example-tower-on-example-card/m1-stock.csv"].decode().splitlines()
    assert log[0].split(",")[:5] == [
        *("time_s", "core_temperature", "hotspot_temperature", "memory_temperature", "ambient_temperature")
    ]
    assert all(line.split(",")[4] for line in log[1:])
    said = "ambient temperature from another log, interpolated at the times of the card's."
    assert said in files["data/datapackage.json"].decode()


def test_check_names_two_logs_that_give_one_quantity(root: Path) -> None:
    rename(root, f"logs: [{CARD}, {ROOM}, {{file: again.csv}}]")
    (root / BUNDLE / "again.csv").write_bytes((root / BUNDLE / "room.csv").read_bytes())
    found = [str(p) for p in check_archive(root).problems if p.code == "quantity-in-two-logs"]
    assert len(found) == 1
    assert found[0].split(": ", 1)[1] == (
        "ambient_temperature is given by room.csv and by again.csv\n"
        "hint: name the log to take it from: {file: again.csv, only: [ambient_temperature]}"
    )


def test_a_log_of_the_session_that_changes_is_read_again(root: Path) -> None:
    rename(root, f"logs: [{CARD}, {ROOM}]")
    reduce_archive(root, cache=open_cache(root))
    room = root / BUNDLE / "room.csv"
    room.write_text(room.read_text(encoding="utf-8").replace(",22.", ",23."), encoding="utf-8")
    cache = open_cache(root)
    reduce_archive(root, cache=cache)
    assert cache.made["run"] == 1


def test_a_log_that_a_bundle_joins_is_no_stray_file_and_must_exist(root: Path) -> None:
    rename(root, f"logs: [{CARD}, {{file: rom.csv, clock_offset_s: 2220}}]")
    problems = [str(p) for p in check_archive(root).problems]
    assert len(problems) == 1
    assert problems[0].endswith('"rom.csv" does not exist\nhint: did you mean "room.csv"?')


def test_a_run_without_a_log_is_an_error_at_the_run(root: Path) -> None:
    rename(root, "note: No log")
    found = next(str(p) for p in check_archive(root).problems if p.code == "missing-field")
    assert found == (
        f'error[missing-field] {BUNDLE}/bundle.yaml:15:9: field "log" of m1/stock is missing\n'
        "hint: log: file name of the log, in the bundle's folder; or readings: what was read by hand"
    )
