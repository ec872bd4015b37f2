"""A real log, from its bytes to its page.

Source: measured for this project on 2026-11-25; the numbers were worked out from the files once, by another program.
"""

from __future__ import annotations

import csv
import datetime as dt
import re
import shutil
from pathlib import Path

import numpy as np
import pytest

from builder.archive import Loaded, load_archive
from builder.archive.bench import Bench, ColumnMeaning
from builder.commands.reduce_archive import LogReader, named_runs
from builder.core.errors import Problems
from builder.core.results import BundleResult, Quantity, Verdict
from builder.logs import FrameTable, LogTable, read_frames, read_log
from builder.reduction import reduce_bundle
from builder.reduction.frame_times import mean_rate
from tests.support.command import must, soakbook

ARCHIVE = Path(__file__).parent / "archives" / "accelerator"
BUNDLE = "accelerator-1-as-delivered"
FILES = ARCHIVE / "bundles" / BUNDLE
INSTANT = "power.draw.instant [W]"
AVERAGED = "power.draw.average [W]"


@pytest.fixture(scope="module")
def problems() -> Problems:
    return Problems()


@pytest.fixture(scope="module")
def loaded(problems: Problems) -> Loaded:
    found = load_archive(ARCHIVE, problems)
    assert found is not None
    return found


@pytest.fixture(scope="module")
def bench(loaded: Loaded) -> Bench:
    return loaded.catalogue.benches["machine-room"]


@pytest.fixture(scope="module")
def phases() -> dict[str, dt.datetime]:
    with (FILES / "events.csv").open(encoding="utf-8", newline="") as file:
        return {row["phase"]: dt.datetime.fromtimestamp(float(row["epoch"]), dt.UTC) for row in csv.DictReader(file)}


def read(bench: Bench) -> LogTable:
    problems = Problems()
    table = read_log((FILES / "sensors.csv").read_bytes(), file="sensors.csv", readers=bench.readers, problems=problems)
    assert table is not None
    assert list(problems) == []
    return table


@pytest.fixture(scope="module")
def table(bench: Bench) -> LogTable:
    return read(bench)


@pytest.fixture(scope="module")
def instant(bench: Bench) -> LogTable:
    """The log with the instant power reading in place of the averaged one."""
    sensors, *others = bench.readers
    columns: dict[str, ColumnMeaning] = {k: v for k, v in sensors.columns.items() if k != AVERAGED}
    columns[INSTANT] = sensors.columns[AVERAGED]
    swapped = sensors.model_copy(update={"columns": columns})
    return read(bench.model_copy(update={"readers": (swapped, *others)}))


@pytest.fixture(scope="module")
def result(loaded: Loaded) -> BundleResult:
    inputs = LogReader(root=ARCHIVE, loaded=loaded).runs(BUNDLE, named_runs(loaded, BUNDLE), Problems())
    return reduce_bundle(loaded.catalogue.setup(BUNDLE), inputs)


def mean(table: LogTable, quantity: Quantity, end: dt.datetime, length_s: float) -> float:
    part = table.cut(end - dt.timedelta(seconds=length_s), end)
    return float(part.columns[quantity].values.mean())


def frames_of(name: str, bench: Bench, skip: int) -> FrameTable:
    problems = Problems()
    data = (FILES / name).read_bytes()
    frames = read_frames(data, file=name, readers=bench.readers, problems=problems, skip=skip)
    assert frames is not None
    assert list(problems) == []
    return frames


# --- the log -------------------------------------------------------------------------------------------------------


def test_the_archive_has_no_problem_since_its_notes_name_the_file_of_events(loaded: Loaded, problems: Problems) -> None:
    assert loaded.catalogue.bundles[BUNDLE].card == "accelerator-1"
    assert [str(problem) for problem in problems] == []


def test_every_sample_is_read_in_utc_with_units_from_headers_and_cells(table: LogTable) -> None:
    assert table.time_s.size == 1060
    assert table.start == dt.datetime(2026, 11, 25, 8, 44, 29, 553000, tzinfo=dt.UTC)
    assert table.duration_s == pytest.approx(529.742, abs=1e-6)
    assert set(table.columns) == {
        Quantity.CORE_TEMPERATURE,
        Quantity.MEMORY_TEMPERATURE,
        Quantity.BOARD_POWER,
        Quantity.POWER_LIMIT,
        Quantity.CORE_CLOCK,
        Quantity.MEMORY_CLOCK,
        Quantity.UTILIZATION,
    }
    assert all(np.isfinite(column.values).all() for column in table.columns.values())
    first = {quantity: float(column.values[0]) for quantity, column in table.columns.items()}
    assert first[Quantity.CORE_TEMPERATURE] == 37
    assert first[Quantity.MEMORY_TEMPERATURE] == 39
    assert first[Quantity.BOARD_POWER] == 81.06
    assert first[Quantity.POWER_LIMIT] == 700
    assert first[Quantity.CORE_CLOCK] == 1980
    assert first[Quantity.UTILIZATION] == 3


def test_nothing_of_the_log_needed_mending(table: LogTable) -> None:
    assert [str(repair) for repair in table.repairs] == []


def test_two_columns_that_share_words_are_kept_apart(table: LogTable, instant: LogTable) -> None:
    assert table.columns[Quantity.BOARD_POWER].header == AVERAGED
    assert instant.columns[Quantity.BOARD_POWER].header == INSTANT
    assert float(instant.columns[Quantity.BOARD_POWER].values[0]) == 121.94


def test_temperatures_are_known_to_come_in_whole_degrees(table: LogTable) -> None:
    assert table.columns[Quantity.CORE_TEMPERATURE].resolution == 1
    assert table.columns[Quantity.CORE_TEMPERATURE].spelled_decimals == 0


def test_the_last_120_seconds_of_full_load_have_the_published_means(
    table: LogTable, instant: LogTable, phases: dict[str, dt.datetime]
) -> None:
    end = phases["rest"]
    assert table.cut(end - dt.timedelta(seconds=120), end).time_s.size == 240
    assert mean(table, Quantity.CORE_TEMPERATURE, end, 120) == pytest.approx(70.1167, abs=5e-5)
    assert mean(table, Quantity.MEMORY_TEMPERATURE, end, 120) == pytest.approx(65.4250, abs=5e-5)
    assert mean(instant, Quantity.BOARD_POWER, end, 120) == pytest.approx(697.6320, abs=5e-5)
    assert mean(table, Quantity.BOARD_POWER, end, 120) == pytest.approx(697.0329, abs=5e-5)


def test_the_last_60_seconds_of_half_load_have_the_published_means(
    table: LogTable, instant: LogTable, phases: dict[str, dt.datetime]
) -> None:
    end = phases["cool"]
    assert mean(table, Quantity.CORE_TEMPERATURE, end, 60) == pytest.approx(64.3167, abs=5e-5)
    assert mean(instant, Quantity.BOARD_POWER, end, 60) == pytest.approx(548.3984, abs=5e-5)


def test_idle_still_moves_over_its_last_30_seconds(table: LogTable, phases: dict[str, dt.datetime]) -> None:
    end = phases["full"]
    part = table.cut(end - dt.timedelta(seconds=30), end)
    slope = np.polyfit(part.time_s, part.columns[Quantity.CORE_TEMPERATURE].values, 1)[0]
    assert 60 * slope == pytest.approx(0.57, abs=0.005)


def test_a_cut_in_elapsed_seconds_holds_the_samples_of_the_cut_by_time(
    table: LogTable, phases: dict[str, dt.datetime]
) -> None:
    assert table.start is not None
    start, end = ((phases[name] - table.start).total_seconds() for name in ("full", "rest"))
    assert table.cut(start, end).lines == table.cut(phases["full"], phases["rest"]).lines


def test_the_runs_are_cut_where_the_events_say(loaded: Loaded, phases: dict[str, dt.datetime]) -> None:
    cuts = {run.point: (run.from_, run.to) for run in loaded.catalogue.bundles[BUNDLE].mounts[0].runs}
    assert cuts == {
        "idle": (None, phases["full"]),
        "full": (phases["full"], phases["rest"]),
        "half": (phases["half"], phases["cool"]),
    }


# --- frames --------------------------------------------------------------------------------------------------------


def test_the_warm_up_frame_is_left_out_of_the_rate(bench: Bench) -> None:
    everything = frames_of("frames_full.csv", bench, 0)
    assert everything.frame_ms.size == 15_961
    assert everything.frame_ms[0] == pytest.approx(167.4, abs=0.05)
    warm = frames_of("frames_full.csv", bench, 1)
    assert warm.frame_ms.size == 15_960
    assert mean_rate(warm.frame_ms) == pytest.approx(76.0842, abs=5e-5)


def test_the_rate_at_half_load_counts_every_frame(bench: Bench) -> None:
    frames = frames_of("frames_half.csv", bench, 0)
    assert frames.frame_ms.size == 6552
    assert mean_rate(frames.frame_ms) == pytest.approx(43.6925, abs=5e-5)


# --- what is said of it --------------------------------------------------------------------------------------------


def test_every_run_is_too_short_and_says_how_short(result: BundleResult) -> None:
    said = {run.id: run.settlement.message for point in result.points for run in point.runs}
    assert [point.verdict for point in result.points] == [Verdict.TOO_SHORT] * 3
    assert said == {
        "m1/idle": "Too short: 50 s of 600 s.",
        "m1/full": "Too short: 210 s of 600 s.",
        "m1/half": "Too short: 150 s of 600 s.",
    }


def test_without_an_ambient_sensor_there_is_no_rise_and_that_is_said(result: BundleResult) -> None:
    for point in result.points:
        assert not [kind for kind in point.figures if kind.endswith(("_rise", "_psi"))]
        for run in point.runs:
            assert any("no rise over ambient" in warning for warning in run.warnings)
    assert result.lines == {}


def test_the_published_frame_rate_is_that_of_the_files(result: BundleResult) -> None:
    rates = {p.point: p.figures["frame_rate"].estimate.value for p in result.points if "frame_rate" in p.figures}
    assert rates == pytest.approx({"full": 76.0842, "half": 43.6925}, abs=5e-5)


def test_no_uncertainty_vanishes(result: BundleResult) -> None:
    certain = [f"{p.point}/{kind}" for p in result.points for kind, f in p.figures.items() if f.estimate.u == 0]
    assert certain == []


def test_check_and_reduce_accept_the_archive() -> None:
    must("check", ARCHIVE)
    told = must("reduce", ARCHIVE, BUNDLE)
    assert re.search(r"full +too short +70\.\d+\s±\s\d\S* +700\s±\s40 +76\.08\s±\s\d", told)
    assert "No ambient temperature" in told


def test_the_archive_publishes_and_its_page_says_what_is_missing(tmp_path: Path) -> None:
    shutil.copytree(ARCHIVE, tmp_path / "archive")
    done = soakbook("publish", tmp_path / "archive", "--out", tmp_path / "site")
    assert done.returncode == 0, done.stderr
    page = (tmp_path / "site" / "results" / f"{BUNDLE}.html").read_text(encoding="utf-8")
    words = " ".join(re.sub(r"<[^>]+>", " ", page).split())
    assert "no rise over ambient" in words
    assert "too short" in words.casefold()
    assert not re.search(r"\b(nan|None|inf)\b", words)
