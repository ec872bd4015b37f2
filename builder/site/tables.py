"""Tables as CSV (RFC 4180) that a spreadsheet opens without running anything: figures in rows, and logs."""

from __future__ import annotations

import csv
import io
import math
import re
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import TypeAlias

import numpy as np

from builder.archive.protocol import PointRole
from builder.comparison import AgainstOwn, Subject, Tested, against_own, group_of
from builder.core.quantity import FloatArray
from builder.core.results import Figure, Quantity, RunResult, Verdict

Cell: TypeAlias = str | float | int | None


@dataclass(frozen=True, kw_only=True)
class Field:
    """A column of a data file: its name, type by Table Schema, unit where it has one, and what it holds."""

    name: str
    type: str
    description: str
    unit: str = ""


# Source: OWASP, "CSV Injection" (=, +, -, @, tab, line breaks and the full-width forms); | and % start a call or a
# macro in some programs.
_RISKY = re.compile(r"\s*[=+\-@|%\uFF1D\uFF0B\uFF0D\uFF20]|[\t\r\n]")
_NUMBER = re.compile(r"-?\d[\d.,]*")


def csv_bytes(header: Sequence[str], rows: Iterable[Sequence[Cell]]) -> bytes:
    """Return a table as UTF-8 CSV: numbers stay numbers, a missing value is empty, risky text gets an apostrophe."""
    out = io.StringIO(newline="")
    writer = csv.writer(out, lineterminator="\r\n")
    writer.writerow(header)
    writer.writerows([_cell(cell) for cell in row] for row in rows)
    return out.getvalue().encode()


def _cell(cell: Cell) -> str:
    match cell:
        case None:
            return ""
        case str():
            return harmless(cell)
        case int():
            return str(cell)
    # Without a needless `.0`: 2475, 0.1093.
    return repr(lean(cell)).removesuffix(".0")


def lean(value: float) -> float:
    """Return a number to seven significant digits: far beyond any uncertainty, and the same on every machine.

    >>> lean(31.400000000000002), lean(0.1 + 0.2)
    (31.4, 0.3)
    """
    return float(f"{value:.7g}")


def harmless(text: str) -> str:
    """Return a text that no spreadsheet takes for a formula: an apostrophe goes before what could start one.

    >>> harmless("=1+1"), harmless("-5"), harmless("Fenwick Slab")
    ("'=1+1", '-5', 'Fenwick Slab')
    """
    return f"'{text}" if _RISKY.match(text) and not _NUMBER.fullmatch(text) else text


# --- Figures in long form: one row for each figure of each test point, over mounts and of each run


def _text(name: str, description: str) -> Field:
    return Field(name=name, type="string", description=description)


def _number(name: str, description: str) -> Field:
    return Field(name=name, type="number", description=description)


FIELDS = (
    _text("bundle", "Id of the result: one cooler tested on one card."),
    _text("card", "Id of the card."),
    _text("card_name", "Name of the card."),
    _text("card_sample", "Which specimen of the card."),
    _text("cooler", "Id of the cooler."),
    _text("cooler_name", "Name of the cooler."),
    _text("protocol", "Id of the test procedure."),
    Field(name="protocol_version", type="integer", description="Version of the test procedure."),
    Field(name="tested", type="date", description="Day of the test."),
    _text("point", "Id of the test point, as stock or power-70."),
    Field(name="mount", type="integer", description="Number of the mount, from 1; empty for the mean over mounts."),
    _text("figure", "Id of the figure, as core_rise."),
    _number("value", "The figure, in the unit of its row."),
    _text("unit", "Unit of value, u and U95: degC, K (a difference), K/W, W, MHz, V, 1/s, 1/J, percent, ..."),
    _number("u", "Standard uncertainty (k = 1); 0 for a number that is exact."),
    _number("dof", "Effective degrees of freedom of u; empty where they are without limit."),
    _number("U95", "Half-width of the interval that covers 95 %."),
    _text(
        "verdict",
        "Whether the run had settled: settled, drifting, undecided or too short; by hand where nobody can say.",
    ),
    Field(name="samples", type="integer", description="Number of readings behind the figure."),
    _text("definition", "How the figure is defined, where there is more than one way."),
    _text("note", "What a reader must know of this figure."),
)
HEADER = tuple(field.name for field in FIELDS)


def figure_rows(subject: Subject) -> Iterator[tuple[Cell, ...]]:
    """Give the rows of one result in the order of `FIELDS`; the mean over mounts stands before its runs."""
    head = _head(subject)
    for point in subject.result.points:
        yield from _rows(head, point.point, None, point.figures, point.verdict)
        for run in point.runs:
            yield from _rows(head, point.point, run.mount, run.figures, run.settlement.verdict)


def _head(subject: Subject) -> tuple[Cell, ...]:
    bundle = subject.bundle
    cooler = (bundle.cooler, subject.cooler.name)
    protocol = (bundle.protocol, subject.protocol.version)
    return (
        subject.id,
        bundle.card,
        subject.card.name,
        bundle.card_sample,
        *cooler,
        *protocol,
        bundle.tested.isoformat(),
    )


def _rows(
    head: tuple[Cell, ...], point: str, mount: int | None, figures: Mapping[str, Figure], verdict: Verdict
) -> Iterator[tuple[Cell, ...]]:
    for kind, figure in figures.items():
        estimate = figure.estimate
        dof = estimate.dof if math.isfinite(estimate.dof) else None
        numbers = (estimate.value, estimate.unit, estimate.u, dof, estimate.expanded())
        remarks = (str(verdict), figure.samples, figure.definition, figure.note)
        yield (*head, point, mount, kind, *numbers, *remarks)


# --- Results against their cards' own coolers


OWN_FIELDS = (
    *FIELDS[:9],
    _text("point", "Id of the test point, as stock or power-70."),
    _text("figure", "Id of the figure: core_rise or memory_rise."),
    _number("difference", "The figure less that of the card's own cooler, its tests pooled; empty where not judged."),
    _text("unit", "Unit of difference and U95."),
    _number("U95", "Half-width of the interval of the difference that covers 95 %."),
    _number("percent", "The difference in percent of the own cooler's figure."),
    _number("percent_U95", "Half-width of the interval of percent that covers 95 %."),
    _text("said", "lower, higher, too close to call, not judged, or own for the own cooler itself."),
    _text("why", "Why nothing is judged, where that is so."),
)
OWN_HEADER = tuple(field.name for field in OWN_FIELDS)
OWN_KINDS = ("core_rise", "memory_rise")
_NO_LOAD = (PointRole.IDLE, PointRole.CLOSING)


def own_cooler_rows(subject: Subject, tested: Tested) -> Iterator[tuple[Cell, ...]]:
    """Give one result's rows against the card's own cooler, as `OWN_FIELDS` orders them; none without such a cooler."""
    head = _head(subject)
    for point in (p for p in subject.result.points if subject.role(p.point) not in _NO_LOAD):
        group = group_of(tested, subject.id, point.point)
        for kind in OWN_KINDS:
            if found := against_own(tested, group, subject.id, kind):
                yield (*head, point.point, kind, *_own_cells(found))


def _own_cells(found: AgainstOwn) -> tuple[Cell, ...]:
    less, share = found.difference, found.share
    numbers = (less.value, less.unit, less.expanded()) if less else (None, "", None)
    shares = (share.value, share.expanded()) if share else (None, None)
    return (*numbers, *shares, found.said, found.why)


# --- Logs as they are published: the columns that a bench declares, in standard units, and nothing else of the file


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

LOG_FIELDS = (
    TIME,
    *(
        Field(name=str(q), type="number", unit=q.unit, description=f"{str(q).replace('_', ' ').capitalize()}.")
        for q in Quantity
    ),
)


def log_bytes(run: RunResult) -> bytes | None:
    """Return a run's log as CSV, or None where it has no column; a missing reading is empty."""
    traces = [run.traces[q] for q in Quantity if q in run.traces]
    if not traces:
        return None
    header = ",".join([TIME.name, *(str(t.quantity) for t in traces)])
    columns = [
        _digits(traces[0].time_s, _TIME_DECIMALS),
        *(_digits(trace.values, _DECIMALS[trace.quantity.unit]) for trace in traces),
    ]
    rows = zip(*columns, strict=True)
    return "\r\n".join([header, *map(",".join, rows), ""]).encode()


def _digits(values: FloatArray, decimals: int) -> list[str]:
    """Return the readings of a log, shape (n,) in the unit of their column, as digits; empty where one is missing."""
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
