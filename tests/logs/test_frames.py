"""Frame files: a column of frame times, or the steps between times."""

from __future__ import annotations

import numpy as np
import pytest

from builder.core.results import Quantity
from builder.logs import slow_start_said
from tests.support.logs import REAL, frames, read, reader

PLAIN = reader("frame", time={})


def test_frame_times_are_read_in_order() -> None:
    found = frames("frame\n10\n12.5\n20\n", [PLAIN])
    assert found.table is not None
    assert found.table.frame_ms.tolist() == [10, 12.5, 20]
    assert found.table.total_s == pytest.approx(0.0425)


def test_warm_up_frames_are_skipped() -> None:
    found = frames("frame\n170\n12.5\n20\n", [PLAIN], skip=1)
    assert found.table is not None
    assert found.table.frame_ms.tolist() == [12.5, 20]


def test_repeated_times_lose_no_frame() -> None:
    found = frames("t,frame\n0.1,10\n0.1,11\n0.0,12\n", [reader("frame")])
    assert found.table is not None
    assert found.table.frame_ms.tolist() == [10, 11, 12]


def test_without_frame_times_the_steps_of_the_time_are_taken() -> None:
    found = frames("t,clock\n0.5,2610\n0.51,2610\n0.53,2610\n", [reader("clock"), PLAIN])
    assert found.table is not None
    assert found.table.frame_ms.tolist() == pytest.approx([10, 20])


def test_frames_in_seconds_are_converted() -> None:
    found = frames("frame\n0.01\n0.0125\n", [reader("frame", time={}, units={"frame": "s"})])
    assert found.table is not None
    assert found.table.frame_ms.tolist() == pytest.approx([10, 12.5])


@pytest.mark.parametrize(
    ("text", "skip", "message"),
    [
        ("frame\n10\n-3\n", 0, 'error[impossible-value] bundles/x/m1-stock.csv:3:1: column "frame": "-3" in ms is no'),
        (
            "frame\n10\n0\n0\n",
            0,
            'error[frame-time] bundles/x/m1-stock.csv:3:1: column "frame": "0" is no frame time:',
        ),
        ("frame\n10\n11\n", 2, "error[no-frames] bundles/x/m1-stock.csv:1: the log has 2 frames, of which 2 are to be"),
        ("frame\nN/A\nN/A\n", 0, "error[no-frames] bundles/x/m1-stock.csv:1: the log has no frame times"),
        ("frame\n10\nslow\n", 0, 'error[not-a-number] bundles/x/m1-stock.csv:3:1: column "frame": "slow" stands where'),
        ("frame\n", 0, "error[no-samples] bundles/x/m1-stock.csv:1: the log has a header and no readings"),
    ],
    ids=["negative", "zero", "all skipped", "all missing", "text", "only a header"],
)
def test_bad_frames_are_one_error(text: str, skip: int, message: str) -> None:
    found = frames(text, [PLAIN], skip)
    assert found.table is None
    assert [str(p).startswith(message) for p in found.problems] == [True], found.problems


def test_one_time_makes_no_frame() -> None:
    found = frames("t,clock\n0.5,2610\n", [reader("clock")])
    assert [p.code for p in found.problems] == ["no-frames"]


def test_a_log_without_time_column_counts_its_frame_times() -> None:
    found = read("frame,core\n10,61\n20,62\n30,63\n", reader("frame", "core", time={}))
    assert found.log.time_s.tolist() == pytest.approx([0, 0.01, 0.03])
    assert found.log.columns[Quantity.CORE_TEMPERATURE].values.tolist() == [61, 62, 63]


def test_a_real_frame_file_has_the_known_rate() -> None:
    # A log measured for this project: 15,961 frames, the first of 167.4 ms is warm-up; 76.0842 per second without it.
    named = PLAIN.model_dump_json().replace('"frame"', '"frame_time_ms"')
    found = frames((REAL / "frames_full.csv").read_bytes(), [type(PLAIN).model_validate_json(named)], skip=1)
    assert found.table is not None
    assert found.table.frame_ms.size == 15_960
    assert found.table.frame_ms.size / found.table.total_s == pytest.approx(76.0842, abs=5e-5)


# --- the first frames


@pytest.mark.parametrize(
    ("first", "skipped", "said"),
    [
        ([167.4], 0, ("the first frame took 167.4 ms, 13 times the median of 13.1 ms: if it is part of loading, "
         "set skip_frames: 1")),
        ([167.4, 90.0], 2, ("frame 3 took 167.4 ms, 13 times the median of 13.1 ms: if it is part of loading, "
         "set skip_frames: 4")),
        ([26.0], 0, ""),
        ([90.0] * 21, 0, ""),
    ],
    ids=["one", "two more", "ordinary", "too many to be a start"],
)  # fmt: skip
def test_a_first_frame_of_many_times_the_median_is_remarked_on(first: list[float], skipped: int, said: str) -> None:
    assert slow_start_said(np.array([*first, *[13.1] * 400]), skipped) == said


def test_a_capture_without_frames_has_no_first_one() -> None:
    assert slow_start_said(np.array([])) == ""
