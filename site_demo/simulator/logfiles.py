"""Readings as text in the shapes that the two benches write; the bench files describe these shapes to the readers."""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass

import numpy as np
from network import Floats


@dataclass(frozen=True, kw_only=True)
class Column:
    """One column of a log: sensor, header, decimals, unit written in each cell, factor on the reading."""

    sensor: str
    header: str
    decimals: int = 0
    unit: str = ""
    factor: float = 1.0


@dataclass(frozen=True, kw_only=True)
class Shape:
    """One shape of log: its columns and how text is written."""

    time_header: str
    columns: tuple[Column, ...]
    delimiter: str = ","
    decimal: str = "."
    stamps: bool = False
    mark: bool = False  # byte order mark
    before: tuple[str, ...] = ()


def _c(sensor: str, header: str, decimals: int = 0, unit: str = "", factor: float = 1.0) -> Column:
    return Column(sensor=sensor, header=header, decimals=decimals, unit=unit, factor=factor)


_FIRST_1 = (
    _c("core", "Core [degC]"),
    _c("hotspot", "Hotspot [degC]"),
    _c("memory", "Memory [degC]"),
    _c("power", "Board power [W]", 1),
    _c("clock", "Core clock [MHz]"),
)
_RATE_1 = _c("rate", "Frames [1/s]", 1)
_FIRST_2 = (
    _c("core", "core °C", 1),
    _c("hotspot", "hotspot °C", 1),
    _c("memory", "memory °C", 1),
    _c("power", "board power", 1, "W"),
    _c("clock", "core clock", 0, "MHz"),
    _c("volts", "core voltage", 3, "V"),
)
_RATE_2 = _c("rate", "frames/s", 1)
_ROOM_1, _ROOM_2 = _c("room", "Room [degC]", 1), _c("room", "room °C", 2)
_SOUND_1, _SOUND_2 = _c("sound", "Sound [dBA]", 1), _c("sound", "sound", 1, "dBA")
_FAN_1, _FAN_2 = _c("fan", "Fan [rpm]"), _c("fan", "fan", 0, "rpm")
_RADIATOR_1, _RADIATOR_2 = _c("fan", "Radiator fan [rpm]"), _c("fan", "radiator fan", 0, "rpm")
_COOLANT_1 = (
    _c("coolant-in", "Coolant in [degC]", 1),
    _c("coolant-out", "Coolant out [degC]", 1),
    _c("flow", "Flow [L/h]", 1, factor=60.0),
)
_COOLANT_2 = (
    _c("coolant-in", "coolant in °C", 2),
    _c("coolant-out", "coolant out °C", 2),
    _c("flow", "flow", 2, "L/min"),
)


def _spelled(*columns: Column) -> Shape:
    """Return a shape of the second bench: clock times, units in cells, decimal commas."""
    return Shape(time_header="stamp", columns=columns, delimiter=";", decimal=",", stamps=True, mark=True)


SHAPES = {
    "back-room/hand": Shape(
        time_header="Elapsed [s]",
        columns=(*_FIRST_1, _FAN_1, _c("load", "Load [%]")),
        before=("Cold Lantern back room log (invented data)", "logger,LG-1"),
    ),
    "back-room/air": Shape(time_header="Time [s]", columns=(*_FIRST_1, _FAN_1, _ROOM_1, _SOUND_1, _RATE_1)),
    "back-room/hybrid": Shape(
        time_header="Time [s]",
        columns=(*_FIRST_1, _RADIATOR_1, _c("pump", "Pump [rpm]"), _ROOM_1, _SOUND_1, _RATE_1),
    ),
    "back-room/loop": Shape(time_header="Time [s]", columns=(*_FIRST_1, _RADIATOR_1, _ROOM_1, *_COOLANT_1, _RATE_1)),
    "open-frame/air": _spelled(*_FIRST_2, _FAN_2, _ROOM_2, _SOUND_2, _RATE_2),
    "open-frame/hybrid": _spelled(*_FIRST_2, _RADIATOR_2, _c("pump", "pump", 0, "rpm"), _ROOM_2, _SOUND_2, _RATE_2),
    "open-frame/loop": _spelled(*_FIRST_2, _RADIATOR_2, _ROOM_2, *_COOLANT_2, _RATE_2),
}

QUIRKS = ("header-twice", "cut-line", "glitch", "gaps")


def log_text(shape: Shape, readings: dict[str, Floats], start: dt.datetime, quirk: str | None) -> str:
    """Return a log's text, less the columns that have no readings; a quirk adds one blemish that real loggers have."""
    columns = [c for c in shape.columns if c.sensor in readings]
    header = shape.delimiter.join([shape.time_header, *(c.header for c in columns)])
    cells = [_times(shape, readings["time"], start)]
    for column in columns:
        values = _glitched(readings[column.sensor]) if quirk == "glitch" and column.sensor == "core" else None
        cells.append(_cells(shape, column, readings[column.sensor] if values is None else values))
    if quirk == "gaps":
        _blank(cells)
    rows = [shape.delimiter.join(row) for row in zip(*cells, strict=True)]
    if quirk == "header-twice":
        rows.insert(len(rows) // 3, header)
    text = "\n".join([*shape.before, header, *rows]) + "\n"
    return text[:-25] if quirk == "cut-line" else text


def _times(shape: Shape, time_s: Floats, start: dt.datetime) -> list[str]:
    if shape.stamps:
        return [(start + dt.timedelta(seconds=t)).strftime("%d.%m.%Y %H:%M:%S") for t in time_s.tolist()]
    return [f"{t:.1f}" for t in time_s.tolist()]


def _cells(shape: Shape, column: Column, values: Floats) -> list[str]:
    unit = f" {column.unit}" if column.unit else ""
    texts = (f"{v * column.factor:.{column.decimals}f}{unit}" for v in values.tolist())
    return [t.replace(".", shape.decimal, 1) for t in texts]


def _glitched(values: Floats) -> Floats:
    out = values.copy()
    out[[values.size // 4, values.size // 2, values.size - 40]] += np.array([31.0, -24.0, 31.0])
    return out


def _blank(cells: list[list[str]]) -> None:
    for column in cells[1:4]:
        for row in range(17, len(column), len(column) // 5):
            column[row] = "--"


def frames_text(bench: str, frame_ms: Floats) -> str:
    """Return a frame file's text: one column of frame times in ms."""
    if bench == "open-frame":
        return "frame ms\n" + "".join(f"{ms:.2f}\n" for ms in frame_ms.tolist()).replace(".", ",")
    return "Frame time [ms]\n" + "".join(f"{ms:.2f}\n" for ms in frame_ms.tolist())
