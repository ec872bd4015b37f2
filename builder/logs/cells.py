"""Cells of one column -> numbers in a standard unit, or the first cell that is no number."""

from __future__ import annotations

import math
import re
from collections import Counter
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from functools import lru_cache
from itertools import islice

import numpy as np

from builder.core.quantity import FloatArray, convert, is_unit
from builder.core.words import shortened

# --- Which decimal mark a log uses, from its own cells

_NUMERIC = re.compile("[+\\-\N{MINUS SIGN}]?[\\d.,]*\\d(?:[eE][+\\-]?\\d+)?")


def _sure(mark: str, other: str) -> re.Pattern[str]:
    """Match what only a decimal mark explains; `61,250` alone says nothing."""
    signs = (
        rf"^\D?0?{mark}\d",  # after a lone zero or nothing
        rf"{mark}\d{{1,2}}(?!\d)|{mark}\d{{4}}",  # not followed by exactly three digits
        rf"\d{{4}}{mark}",  # after four digits that are no group
        rf"{other}\d{{3}}[.,]",  # after a group of the other mark
    )
    return re.compile("|".join(signs))


_SURE = {".": _sure(r"\.", ","), ",": _sure(",", r"\.")}


@dataclass(frozen=True, kw_only=True)
class Marks:
    """Which cells speak for a decimal point and for a decimal comma, and the first that may be either; "" for none."""

    point: str
    comma: str
    unclear: str


def marks(texts: Iterable[str]) -> Marks:
    """Return what the cells say about the decimal mark.

    >>> marks(["61,5", "1,500"])
    Marks(point='', comma='61,5', unclear='1,500')
    """
    point = comma = unclear = ""
    for text in texts:
        match = _NUMERIC.match(text.strip())
        number = match[0] if match else ""
        if _SURE["."].search(number):
            point = point or text
        elif _SURE[","].search(number):
            comma = comma or text
        elif "," in number:
            unclear = unclear or text
    return Marks(point=point.strip(), comma=comma.strip(), unclear=unclear.strip())


# --- Units as logs spell them -> unit ids of the program


_SPELLINGS = {
    "degC": "°C C ℃ ºC degC deg_C degc celsius",
    "degF": "°F F ℉ ºF degF deg_F fahrenheit",
    "K": "K kelvin",
    "W": "W w watt watts",
    "V": "V v volt volts",
    "MHz": "MHz Mhz mhz MHZ",
    "rpm": "rpm RPM Rpm r/min 1/min rev/min",
    "L/min": "L/min l/min lpm LPM",
    "gallon/minute": "gpm GPM gal/min",
    "ms": "ms msec",
    "s": "s S sec secs second seconds",
    "us": "us µs μs",
    "1/s": "fps FPS 1/s",
    "percent": "% percent pct",
    "dBA": "dBA dB(A) dba",
}
_ALIASES = {spelling: unit for unit, spellings in _SPELLINGS.items() for spelling in spellings.split()}
# The units library evaluates what it is given, so nothing but the shape of a unit may reach it.
_SHAPE = re.compile(r"(?:1/)?[^\W\d_]+(?:_[^\W\d_]+)*(?:\s?[/*·]\s?[^\W\d_]+)*")
_LONGEST_UNIT = 30
# Turns and samples per second are both 1/s to the units library, and it would insert a factor of 2π between them.
_ALLOWED = {
    "rpm": re.compile(r"rpm|rps|k?rev\w*/\w+"),
    "MHz": re.compile(r"\w*hertz|\w{0,2}Hz"),
    "1/s": re.compile(r"1/\w+|\w{0,2}Hz"),
    "dBA": re.compile(r"dBA"),
}


@lru_cache(maxsize=1000)
def unit_id(text: str) -> str | None:
    """Return the unit id for a spelling, or None where no such unit is known.

    >>> unit_id("°C"), unit_id("mW"), unit_id("parsnips")
    ('degC', 'mW', None)
    """
    spelling = text.strip()
    if spelling in _ALIASES:
        return _ALIASES[spelling]
    if len(spelling) > _LONGEST_UNIT or not _SHAPE.fullmatch(spelling):
        return None
    return spelling if is_unit(spelling) else None


@lru_cache(maxsize=1000)
def converts(unit: str, to: str) -> bool:
    """Return whether a unit id measures the same as another.

    >>> converts("mW", "W"), converts("MHz", "rpm")
    (True, False)
    """
    if unit == to:
        return True
    if to in _ALLOWED and not _ALLOWED[to].fullmatch(unit):
        return False
    try:
        convert(np.array([1.0]), unit, to)
    except ValueError:
        return False
    return True


# --- Cells -> numbers

_ABSENT = (
    "n/a",
    "na",
    "#n/a",
    "nan",
    "null",
    "none",
    "nil",
    "missing",
    "unavailable",
    "not available",
    "not supported",
)
_DASHES = ("-", "--", "---", "\N{EN DASH}", "\N{EM DASH}")
# In lower case; words also stand in brackets.
MISSING = frozenset({"", "?", *_DASHES, *_ABSENT, *(f"[{w}]" for w in _ABSENT), *(f"({w})" for w in _ABSENT)})
LARGEST = 1e15  # no log holds such a number; kept below what overflows in a change of unit
_LONGEST_NUMBER = 80
_LOOKED_AT = 500
_MOST_UNITS = 50
_SIGN = "[+\\-\N{MINUS SIGN}]?"
_SPACES = " \N{NO-BREAK SPACE}\N{NARROW NO-BREAK SPACE}'\N{RIGHT SINGLE QUOTATION MARK}"  # between thousands
_INFINITE = re.compile(rf"{_SIGN}(?:inf|infinity|∞|1\.#inf\w*)", re.IGNORECASE)


def _number(mark: str, other: str) -> re.Pattern[str]:
    whole = rf"(?:\d{{1,3}}(?:{other}\d{{3}})+|\d{{1,3}}(?:[{_SPACES}]\d{{3}})+|\d+)(?!\d)"
    whole = rf"(?:{whole}(?:{mark}\d*)?|{mark}\d+)"
    return re.compile(rf"({_SIGN}{whole}(?:[eE][+\-]?\d+)?)\s*(\D.*)?", re.DOTALL | re.ASCII)


def _plain_digits(mark: str, other: str) -> dict[int, str | None]:
    return {ord(c): None for c in _SPACES + other} | {ord(mark): ".", ord("\N{MINUS SIGN}"): "-"}


_NUMBERS = {".": _number(r"\.", ","), ",": _number(",", r"\.")}
_DIGITS = {".": _plain_digits(".", ","), ",": _plain_digits(",", ".")}


@dataclass(frozen=True, kw_only=True)
class BadCell:
    """The first cell of a column that cannot be used, how many more there are, and why."""

    index: int
    code: str
    message: str
    hint: str
    more: int = 0


@dataclass(frozen=True, kw_only=True, eq=False)
class Numbers:
    """A column as numbers: shape (n,), NaN where missing; `decimals` as spelled; `units` found inside cells."""

    values: FloatArray
    decimals: int
    missing: int = 0
    grouped: tuple[int, ...] = ()  # indices of cells with thousands separators
    converted: tuple[str, ...] = ()  # units inside cells that are not the declared one


@dataclass(frozen=True, kw_only=True)
class _Cell:
    value: float = math.nan
    unit: str = ""
    grouped: bool = False
    code: str = ""  # why it is no number


@dataclass(frozen=True, kw_only=True)
class Spelling:
    """How the numbers of a log are written: decimal mark, and what stands for a missing value besides the usual."""

    mark: str = "."
    missing: frozenset[str] = frozenset()


def shown(cell: str) -> str:
    r"""Return a cell for a message: in quotes, control characters escaped, cut after 40 characters.

    >>> shown(" hot" + chr(0x202E))
    '"hot\\u202e"'
    """
    cut = shortened(cell.strip())
    escaped = "".join(c if c.isprintable() else c.encode("unicode_escape").decode("ascii") for c in cut)
    return f'"{escaped}"'


def numbers(cells: Sequence[str], unit: str, to: str, spelling: Spelling) -> Numbers | BadCell:
    """Return the cells as numbers in the unit `to`; a cell without a unit is in `unit`."""
    plain = _plain(cells, spelling)
    if plain is None:
        return _one_by_one(cells, unit, to, spelling)
    values = plain if unit == to else convert(plain, unit, to)
    return Numbers(values=values, decimals=_decimals(cells, spelling.mark))


def _plain(cells: Sequence[str], spelling: Spelling) -> FloatArray | None:
    """Return the numbers where every cell is nothing but a plain finite number, else None."""
    if spelling.missing and not spelling.missing.isdisjoint(map(str.strip, cells)):
        return None
    joined = "".join(cells)
    if not joined.isascii() or "_" in joined or (spelling.mark == "," and "." in joined):
        return None
    try:
        if spelling.mark == ",":
            cells = [cell.replace(",", ".") for cell in cells]
        values = np.fromiter(map(float, cells), dtype=float, count=len(cells))
    except ValueError:
        return None
    return values if bool(np.all(np.abs(values) < LARGEST)) else None


def _decimals(cells: Sequence[str], mark: str) -> int:
    """Return the most digits after the mark, among cells spread over the column: a log writes them all alike."""
    some = cells[:: 1 + len(cells) // _LOOKED_AT]
    ends = {text.rpartition(mark)[2] for text in some if mark in text}
    return max((len(end) - len(end.lstrip("0123456789")) for end in ends), default=0)


def _one_by_one(cells: Sequence[str], unit: str, to: str, spelling: Spelling) -> Numbers | BadCell:
    found = {text: _cell(text, spelling) for text in set(cells)}
    factors = _known_units(found.values())
    bad = {text: why for text, cell in found.items() if (why := _why_bad(cell, factors, to))}
    if bad:
        return _first_bad(cells, bad, found, to)
    values = np.array([found[text].value for text in cells], dtype=float)
    units = np.array([factors.get(found[text].unit) or unit for text in cells])
    used = set(units.tolist())
    for one in used - {to}:
        values[units == one] = convert(values[units == one], one, to)
    return Numbers(
        values=values,
        decimals=_decimals([text for text in found if not math.isnan(found[text].value)], spelling.mark),
        missing=int(np.isnan(values).sum()),
        grouped=tuple(i for i, text in enumerate(cells) if found[text].grouped),
        converted=tuple(sorted({u for u, one in factors.items() if one != unit and one in used})),
    )


def _cell(text: str, spelling: Spelling) -> _Cell:
    cell = text.strip()
    if cell.casefold() in MISSING or cell in spelling.missing:
        return _Cell()
    if _INFINITE.fullmatch(cell):
        return _Cell(code="not-finite")
    match = _NUMBERS[spelling.mark].fullmatch(cell) if len(cell) <= _LONGEST_NUMBER else None
    if match is None:
        word, _, unit = cell.rpartition(" ")  # a missing value may have its unit behind it, as in `N/A W`
        missing = bool(word) and word.strip().casefold() in MISSING and unit_id(unit) is not None
        return _Cell() if missing else _Cell(code="not-a-number")
    digits = match[1].translate(_DIGITS[spelling.mark])
    value = float(digits)
    if not math.isfinite(value):
        return _Cell(code="not-finite")
    if abs(value) >= LARGEST:
        return _Cell(code="impossible-value")
    spelled = match[1].replace(spelling.mark, ".").replace("\N{MINUS SIGN}", "-")
    return _Cell(value=value, unit=(match[2] or "").strip(), grouped=digits != spelled)


def _why_bad(cell: _Cell, known: dict[str, str | None], to: str) -> str:
    if cell.code or not cell.unit:
        return cell.code
    unit = known.get(cell.unit)
    if unit is None:
        return "not-a-number"
    return "" if converts(unit, to) else "unit-mismatch"


_HINTS = {
    "not-a-number": "name this spelling under missing: in the reader if it stands for a missing value",
    "not-finite": "name this spelling under missing: in the reader if it stands for a missing value",
    "impossible-value": "name this spelling under missing: in the reader if it stands for a missing value",
    "unit-mismatch": "check which quantity the reader gives this column",
}


def _first_bad(cells: Sequence[str], bad: dict[str, str], found: dict[str, _Cell], to: str) -> BadCell:
    index, text = next((i, text) for i, text in enumerate(cells) if text in bad)
    code = bad[text]
    messages = {
        "not-a-number": f"{shown(text)} stands where a number belongs",
        "not-finite": f"{shown(text)} is no finite number",
        "impossible-value": f"{shown(text)} is too large for any reading",
        "unit-mismatch": f"{shown(text)} is in {found[text].unit}, which does not convert to {to}",
    }
    more = sum(text in bad for text in cells) - 1
    return BadCell(index=index, code=code, message=messages[code], hint=_HINTS[code], more=more)


# --- cells of an unknown column --------------------------------------------------------------------------------


@dataclass(frozen=True, kw_only=True, eq=False)
class CellsSeen:
    """What the cells of a column look like: numbers (NaN where not), missing cells, other texts, commonest unit id."""

    values: FloatArray
    missing: int
    texts: tuple[str, ...]
    unit: str
    share: float  # of numbers among cells that are not missing


def looks_numeric(cell: str) -> bool:
    """Return whether a cell is a number, with or without a known unit, under either decimal mark."""
    found = [_cell(cell, Spelling(mark=mark)) for mark in ".,"]
    return any(not (one.code or math.isnan(one.value)) and (not one.unit or unit_id(one.unit)) for one in found)


def _known_units(cells: Iterable[_Cell]) -> dict[str, str | None]:
    """Return unit ids by spelling; a column of many spellings is text, and looking each up would take long."""
    spelled = islice((unit for unit in dict.fromkeys(cell.unit for cell in cells) if unit), _MOST_UNITS)
    return {unit: unit_id(unit) for unit in spelled}


def inspect_cells(cells: Sequence[str], spelling: Spelling) -> CellsSeen:
    """Return what the cells of a column of unknown meaning look like."""
    kinds = {text: _cell(text, spelling) for text in set(cells)}
    known = {"", *(unit for unit, one in _known_units(kinds.values()).items() if one)}
    numeric = {text: cell for text, cell in kinds.items() if not cell.code and not math.isnan(cell.value)}
    seen = {text: cell for text, cell in numeric.items() if cell.unit in known}
    absent = {text for text, cell in kinds.items() if not cell.code and math.isnan(cell.value)}
    values = np.array([seen[text].value if text in seen else math.nan for text in cells], dtype=float)
    units = Counter(seen[text].unit for text in cells if text in seen and seen[text].unit)
    missing, present = sum(text in absent for text in cells), int(np.isfinite(values).sum())
    return CellsSeen(
        values=values,
        missing=missing,
        texts=tuple(sorted({text.strip() for text in kinds if text not in seen and text not in absent})),
        unit=(unit_id(units.most_common(1)[0][0]) or "") if units else "",
        share=present / max(len(cells) - missing, 1),
    )
