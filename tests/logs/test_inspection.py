"""A first look at an unknown log, and the reader that it proposes."""

from __future__ import annotations

import json

import pytest
import yaml

from builder.archive.bench import Reader
from builder.core.errors import SoakbookError
from builder.core.results import Quantity
from builder.logs import Inspection, InspectionRow, inspect_log, inspection_rows
from builder.logs.guesses import Column, guess
from tests.support.logs import FIXTURES, REAL, Read, frames, read


def pasted(found: Inspection) -> Reader:
    """Return the reader as a bench file that holds the block gives it."""
    bench = yaml.safe_load("name: Open frame\nreaders:\n" + found.reader_block())
    return Reader.model_validate_json(json.dumps(bench["readers"][0]))


def read_back(data: bytes, file: str) -> Read:
    return read(data, pasted(inspect_log(data, file)))


def guessed(found: Inspection) -> dict[str, str]:
    return {c.name: f"{c.quantity} {c.unit}" for c in found.columns if c.used}


def test_a_real_log_is_read_by_the_reader_that_inspection_proposes() -> None:
    data = (REAL / "sensors.csv").read_bytes()
    found = inspect_log(data, "sensors.csv")
    assert (found.encoding, found.delimiter, found.decimal, found.header_line, found.rows) == (
        "utf-8", "comma", "point", 1, 1060,
    )  # fmt: skip
    assert found.time is not None
    assert (found.time.column, found.time.format) == ("timestamp", "%Y/%m/%d %H:%M:%S.%f")
    assert guessed(found) == {
        "temperature.gpu": "core_temperature degC",
        "temperature.memory": "memory_temperature degC",
        "power.draw.average [W]": "board_power W",
        "enforced.power.limit [W]": "power_limit W",
        "clocks.current.sm [MHz]": "core_clock MHz",
        "clocks.current.memory [MHz]": "memory_clock MHz",
        "utilization.gpu [%]": "utilization percent",
    }
    again = read(data, pasted(found))
    assert again.problems == ()
    assert again.log.time_s.size == 1060
    assert "# power.draw.instant [W] may also be board_power in W" in found.reader_block()


def test_a_real_frame_file_is_read_by_the_reader_that_inspection_proposes() -> None:
    data = (REAL / "frames_half.csv").read_bytes()
    found = inspect_log(data, "frames_half.csv")
    again = frames(data, [pasted(found)])
    assert again.table is not None
    assert again.table.frame_ms.size == found.rows == 6552
    assert pasted(found).id == "frames-half"


@pytest.mark.parametrize(
    ("name", "quantities"),
    [
        ("preamble-and-units.csv", {"core_temperature", "board_power", "fan_speed", "fan_duty", "ambient_temperature"}),
        ("cells-with-units.csv", {"core_temperature", "board_power", "core_clock"}),
    ],
)
def test_a_pasted_block_reads_the_same_file(name: str, quantities: set[str]) -> None:
    found = read_back((FIXTURES / name).read_bytes(), name)
    assert {str(q) for q in found.log.columns} == quantities
    assert found.log.time_s.size == 4


def test_columns_are_listed_with_count_range_and_guess() -> None:
    data = b"t,core temp,note,board power [W]\n0,61.5,a,285\n1,62.5,b,N/A\n2,60,c,284\n"
    assert inspection_rows(inspect_log(data, "x.csv")) == (
        InspectionRow(column="t", readings="3", missing="0", low="0", high="2", guess="time", unit="s"),
        InspectionRow(column="core temp", readings="3", missing="0", low="60", high="62.5", guess="core_temperature",
                      unit="degC"),
        InspectionRow(column="note", readings="3", missing="0", low="", high="", guess="", unit=""),
        InspectionRow(column="board power [W]", readings="2", missing="1", low="284", high="285", guess="board_power",
                      unit="W"),
    )  # fmt: skip


@pytest.mark.parametrize(
    ("name", "low", "high", "expected"),
    [
        ("Core Temp", 30, 70, "core_temperature degC"),
        ("hotspotTemperature_c", 30, 90, "hotspot_temperature degC"),
        ("memory temp [°F]", 90, 180, "memory_temperature degF"),
        ("room_c", 21, 23, "ambient_temperature degC"),
        ("coolant out (°C)", 28, 33, "coolant_out_temperature degC"),
        ("water temp in", 28, 33, "coolant_in_temperature degC"),
        ("board_power_mw", 20_000, 300_000, "board_power mW"),
        ("power", 20_000, 300_000, "board_power mW"),
        ("power limit [W]", 285, 285, "power_limit W"),
        ("clock", 210, 2700, "core_clock MHz"),
        ("mem clock", 405, 9500, "memory_clock MHz"),
        ("core voltage", 700, 1050, "core_voltage mV"),
        ("fan", 0, 55, "fan_duty percent"),
        ("fan", 0, 1800, "fan_speed rpm"),
        ("pump [r/min]", 2400, 2500, "pump_speed rpm"),
        ("flow (L/h)", 55, 62, "flow_rate L/h"),
        ("frame time", 0.008, 0.02, "frame_time s"),
        ("FPS", 50, 120, "frame_rate 1/s"),
        ("sound [dB(A)]", 31, 38, "sound_level dBA"),
        ("gpu load", 0, 100, "utilization percent"),
        ("cpu temp", 40, 60, None),
        ("memory load", 0, 100, None),
        ("remark", 0, 1, None),
    ],
)
def test_words_units_and_range_give_the_guess(name: str, low: float, high: float, expected: str | None) -> None:
    found = guess(Column(name=name, unit="", low=low, high=high))
    assert (f"{found.quantity} {found.unit}" if found else None) == expected


@pytest.mark.parametrize(
    "stamp",
    [
        "%Y-%m-%dT%H:%M:%S",
        "%d.%m.%Y %H:%M:%S",
        "%m/%d/%Y %I:%M:%S %p",
        "%Y%m%d_%H%M%S",
        "%H:%M:%S",
        "%Y-%m-%d, %H:%M:%S",
    ],
)
def test_common_timestamps_are_recognised(stamp: str) -> None:
    import datetime as dt

    moments = [dt.datetime(2026, 4, 18, 10, 59, s, tzinfo=dt.UTC).strftime(stamp) for s in (57, 58, 59)]
    data = "when;core temp\n" + "".join(f"{m};{61 + i}\n" for i, m in enumerate(moments))
    found = read_back(data.encode(), "x.csv")
    assert found.log.time_s.tolist() == [0, 1, 2]


def test_a_day_that_may_be_a_month_is_noted() -> None:
    data = b"when;core temp\n03/04/2026 10:00:00;61\n03/04/2026 10:00:01;61\n"
    assert "# time: could also be %m/%d/%Y %H:%M:%S" in inspect_log(data, "x.csv").reader_block()


def test_milliseconds_are_recognised_by_their_steps_and_noted() -> None:
    found = inspect_log(b"t,core temp\n0,61\n500,61\n1000,62\n", "x.csv")
    assert found.time is not None
    assert (found.time.unit, found.time.note) == ("ms", "its unit is a guess")


def test_odd_texts_in_a_column_of_numbers_become_spellings_of_missing() -> None:
    data = b"t,core temp\n0,61\n1,off line\n2,62\n"
    assert pasted(inspect_log(data, "x.csv")).missing == ("off line",)
    assert read_back(data, "x.csv").log.time_s.size == 3


def test_hostile_headers_stay_valid_yaml() -> None:
    data = "t,\"core temp: {x} # 'q' \u202e\",!!python/object fan\n0,61,900\n1,62,901\n".encode()
    found = read_back(data, "a b/../C:x.csv")
    assert set(found.log.columns) == {Quantity.CORE_TEMPERATURE, Quantity.FAN_SPEED}


def test_without_a_guess_the_block_says_so() -> None:
    found = inspect_log(b"a,b\n1,2\n1,2\n", "x.csv")
    assert found.reader_block() == "  # No column could be guessed: write the reader by hand.\n"


@pytest.mark.parametrize(
    ("data", "code"),
    [
        (b"", "log-empty"),
        (b"\x89PNG\r\n\x1a\n" + bytes(500), "binary-file"),
        (b"t,core\n", "no-samples"),
        (b"1,2\n3,4\n", "no-header"),
        (b"x" * 2_000_000, "no-header"),
        (b't,core\n0,61\n1,"62' + b"\n2,63" * 60_000, "bad-quoting"),
        (b"t,core\n0,61\n1,62,63\n", "too-many-cells"),
    ],
    ids=["empty", "binary", "header only", "no header", "one long line", "open quote", "wide row"],
)
def test_what_is_no_log_is_refused(data: bytes, code: str) -> None:
    with pytest.raises(SoakbookError) as refused:
        inspect_log(data, "x.csv")
    assert [p.code for p in refused.value.problems] == [code]
