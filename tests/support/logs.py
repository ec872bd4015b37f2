"""Readers and reading for the tests of logs."""

from __future__ import annotations

import json
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path

from builder.archive.bench import Reader
from builder.core.errors import Problem, Problems
from builder.logs import FrameTable, LogTable, read_frames, read_log

ROOT = Path(__file__).resolve().parent.parent
FIXTURES = ROOT / "logs" / "fixtures"
REAL = ROOT / "archives" / "accelerator" / "bundles" / "accelerator-1-as-delivered"
QUANTITIES = {
    "core": ("core_temperature", "degC"),
    "memory": ("memory_temperature", "degC"),
    "room": ("ambient_temperature", "degC"),
    "board": ("board_power", "W"),
    "clock": ("core_clock", "MHz"),
    "fan": ("fan_speed", "rpm"),
    "fan#2": ("fan_duty", "percent"),
    "frame": ("frame_time", "ms"),
}
FILE = "bundles/x/m1-stock.csv"


def reader(
    *columns: str, time: Mapping[str, object] | None = None, units: Mapping[str, str] | None = None, **rest: object
) -> Reader:
    """Return a reader of the named columns, elapsed time in `t` unless told; `time={}` for none."""
    meanings = {
        name: {"quantity": QUANTITIES[name][0], "unit": (units or {}).get(name, QUANTITIES[name][1])}
        for name in columns
    }
    raw = {"id": "bench", "match": list(columns), "columns": meanings, **rest}
    if time is None:
        raw["time"] = {"column": "t"}
    elif time:
        raw["time"] = dict(time)
    return Reader.model_validate_json(json.dumps(raw))


@dataclass(frozen=True, kw_only=True)
class Read:
    """What reading gave: the table or None, and the problems."""

    table: LogTable | None
    problems: tuple[Problem, ...]

    @property
    def log(self) -> LogTable:
        """Return the table; fails with the problems where there is none."""
        assert self.table is not None, [str(p) for p in self.problems]
        return self.table

    @property
    def error(self) -> Problem:
        """Return the one error; fails where there is none or more than one."""
        assert self.table is None
        assert len(self.problems) == 1, [str(p) for p in self.problems]
        return self.problems[0]

    @property
    def codes(self) -> dict[str, int]:
        """Return the repairs as code -> count."""
        return {repair.code: repair.count for repair in self.log.repairs}

    def column(self, quantity: str) -> list[float]:
        """Return the values of a quantity."""
        values: list[float] = next(c.values.tolist() for q, c in self.log.columns.items() if q == quantity)
        return values


def read(data: bytes | str, *readers: Reader) -> Read:
    """Return what reading a log gives."""
    problems = Problems()
    raw = data.encode() if isinstance(data, str) else data
    table = read_log(raw, file=FILE, readers=readers, problems=problems)
    return Read(table=table, problems=tuple(problems))


def fixture(name: str, *readers: Reader) -> Read:
    """Return what reading a fixture gives."""
    return read((FIXTURES / name).read_bytes(), *readers)


@dataclass(frozen=True, kw_only=True)
class ReadFrames:
    """What reading frames gave."""

    table: FrameTable | None
    problems: tuple[Problem, ...]


def frames(data: bytes | str, readers: Sequence[Reader], skip: int = 0) -> ReadFrames:
    """Return what reading a frame file gives."""
    problems = Problems()
    raw = data.encode() if isinstance(data, str) else data
    table = read_frames(raw, file=FILE, readers=readers, problems=problems, skip=skip)
    return ReadFrames(table=table, problems=tuple(problems))
