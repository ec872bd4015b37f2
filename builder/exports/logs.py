"""Logs as they are published: the columns that a bench declares, in standard units, and nothing else of the file."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

import numpy as np

from builder.exports.tables import Field
from builder.figures import STANDARD_UNITS, Quantity, RunResult, Trace
from builder.quantity import FloatArray

TIME = Field(name="time_s", type="number", unit="s", description="Seconds since the start of the run.")

# More decimals than a sensor of the kind resolves only add weight.
_DECIMALS: Mapping[str, int] = {
    "degC": 3,
    "W": 2,
    "MHz": 1,
    "V": 4,
    "rpm": 0,
    "percent": 1,
    "L/min": 3,
    "ms": 4,
    "1/s": 2,
    "dBA": 2,
}
_TIME_DECIMALS = 3

FIELDS = (
    TIME,
    *(
        Field(name=str(q), type="number", unit=unit, description=f"{str(q).replace('_', ' ').capitalize()}.")
        for q, unit in STANDARD_UNITS.items()
    ),
)


def log_bytes(run: RunResult) -> bytes | None:
    """Return a run's log as CSV, or None where it has no column; a missing reading is empty."""
    traces = [run.traces[q] for q in Quantity if q in run.traces]
    if not traces:
        return None
    header = ",".join([TIME.name, *(str(t.quantity) for t in traces)])
    rows = zip(*_columns(traces), strict=True)
    return "\r\n".join([header, *map(",".join, rows), ""]).encode()


def _columns(traces: Sequence[Trace]) -> list[list[str]]:
    time = traces[0].time_s
    places = [_DECIMALS[STANDARD_UNITS[t.quantity]] for t in traces]
    return [
        _digits(time, _TIME_DECIMALS),
        *(_digits(t.values, p) for t, p in zip(traces, places, strict=True)),
    ]


def _digits(values: FloatArray, decimals: int) -> list[str]:
    # A log repeats few values many times, so each is spelled once.
    distinct, place = np.unique(values, return_inverse=True)
    texts = [_spelled(float(value), decimals) for value in distinct]
    return [texts[index] for index in place.tolist()]


def _spelled(value: float, decimals: int) -> str:
    if not np.isfinite(value):
        return ""
    text = f"{value:.{decimals}f}"
    text = text.rstrip("0").rstrip(".") if "." in text else text
    return "0" if text == "-0" else text
