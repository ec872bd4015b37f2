"""Tables as CSV (RFC 4180) that a spreadsheet opens without running anything."""

from __future__ import annotations

import csv
import io
import re
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import TypeAlias

from builder.exports.files import lean

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
    if cell is None:
        return ""
    if isinstance(cell, str):
        return harmless(cell)
    return str(cell) if isinstance(cell, int) else number_text(cell)


def number_text(value: float) -> str:
    """Return a number as digits, without a needless `.0`.

    >>> number_text(2475.0), number_text(0.1093)
    ('2475', '0.1093')
    """
    return repr(lean(value)).removesuffix(".0")


def harmless(text: str) -> str:
    """Return a text that no spreadsheet takes for a formula: an apostrophe goes before what could start one.

    >>> harmless("=1+1"), harmless("-5"), harmless("Fenwick Slab")
    ("'=1+1", '-5', 'Fenwick Slab')
    """
    return f"'{text}" if _RISKY.match(text) and not _NUMBER.fullmatch(text) else text
