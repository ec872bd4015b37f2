"""What every page is made of: numbers, names and days in a line of text, and tables of such lines."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from typing import TypeAlias

from builder.comparison import Subject
from builder.core import words
from builder.core.quantity import (
    NO_BREAK,
    SYMBOLS,
    Estimate,
    estimate_parts,
    format_limit,
    format_number,
    in_fahrenheit,
)
from builder.core.results import BOUND_WORDS, FIGURES, Bound, Figure

# Spelled here because strftime follows the machine's locale.
_MONTHS = ("January", "February", "March", "April", "May", "June",
           "July", "August", "September", "October", "November", "December")  # fmt: skip


@dataclass(frozen=True, kw_only=True)
class Unit:
    """A unit as people see it, and the one that stands for it where readers chose °F (empty: the same)."""

    text: str
    fahrenheit: str = ""


@dataclass(frozen=True, kw_only=True)
class Num:
    """A number as digits: value, expanded uncertainty (95 %, empty where exact) and unit.

    `exact` is the unrounded value, for sorting. The `fahrenheit_` digits are empty unless it is a temperature. Of a
    `bound`, "at least" or "at most", the value is the end of an interval and has no uncertainty of its own.
    """

    value: str
    u: str
    unit: Unit
    exact: float
    fahrenheit_value: str = ""
    fahrenheit_u: str = ""
    bound: str = ""

    @property
    def text(self) -> str:
        """Return the number on one line with its unit."""
        value = f"{self.bound} {self.value}" if self.bound else self.value
        number = f"{value}{NO_BREAK}±{NO_BREAK}{self.u}" if self.u else value
        return f"{number}{NO_BREAK}{self.unit.text}" if self.unit.text else number


@dataclass(frozen=True, kw_only=True)
class Name:
    """A name that a tester chose, in any script; `href` is a page of the site, from its root, or empty."""

    text: str
    href: str = ""


@dataclass(frozen=True, kw_only=True)
class Outside:
    """A link that leaves the site."""

    text: str
    url: str


@dataclass(frozen=True, kw_only=True)
class Day:
    """A date: ISO 8601 for machines, and in words."""

    iso: str
    text: str


@dataclass(frozen=True, kw_only=True)
class Tag:
    """A short word with a standing of its own, such as a verdict; `kind` selects its look and never carries meaning."""

    text: str
    kind: str


@dataclass(frozen=True, kw_only=True)
class Absent:
    """Why a cell holds no figure, in a few words: it is shown faintly and counts as empty."""

    text: str


Part: TypeAlias = str | Num | Name | Outside | Day | Tag | Absent
Line: TypeAlias = tuple[Part, ...]


def num(estimate: Estimate, *, sign: bool = False) -> Num:
    """Return an estimate as digits with its expanded uncertainty."""
    parts = estimate_parts(estimate, sign=sign)
    plain = Num(value=parts.value, u=parts.u, unit=unit(estimate.unit), exact=estimate.value)
    other = in_fahrenheit(estimate)
    if other is None:
        return plain
    there = estimate_parts(other, sign=sign)
    return replace(plain, fahrenheit_value=there.value, fahrenheit_u=there.u)


def setting(value: float, unit_id: str) -> Num:
    """Return a number that is exact by definition, such as a setting or a limit."""
    return num(Estimate(value=value, u=0.0, unit=unit_id))


def plain(value: float, symbol: str = "", *, decimals: int | None = None) -> Num:
    """Return a number with a unit that readers never switch; `decimals` None keeps at most one."""
    places = (0 if float(value).is_integer() else 1) if decimals is None else decimals
    return Num(value=format_number(value, places), u="", unit=Unit(text=symbol), exact=value)


def unit(unit_id: str) -> Unit:
    """Return the unit as people see it."""
    other = in_fahrenheit(Estimate(value=0.0, u=0.0, unit=unit_id))
    return Unit(text=SYMBOLS[unit_id], fahrenheit=SYMBOLS[other.unit] if other else "")


def day(date: dt.date) -> Day:
    """Return a date in words.

    >>> day(dt.date(2026, 4, 8)).text
    '8 April 2026'
    """
    return Day(iso=date.isoformat(), text=f"{date.day} {_MONTHS[date.month - 1]} {date.year}")


def short_day(date: dt.date) -> Day:
    """Return a date in words for a table.

    >>> short_day(dt.date(2026, 4, 8)).text
    '8 Apr 2026'
    """
    return Day(iso=date.isoformat(), text=f"{date.day} {_MONTHS[date.month - 1][:3]} {date.year}")


def text(value: str | None) -> Line:
    """Return a tester's words as a line, or an empty line."""
    return (Name(text=value),) if value else ()


def heading(subject: Subject) -> Line:
    """Return the result's name for a heading; names keep their own direction."""
    if subject.bundle.title:
        return (Name(text=subject.bundle.title),)
    return (Name(text=subject.cooler.name), " on ", Name(text=subject.card.name))


def card_name(subject: Subject) -> Name:
    """Return the card's name with its page."""
    return Name(text=subject.card.name, href=f"cards/{subject.bundle.card}.html")


def cooler_name(subject: Subject) -> Name:
    """Return the cooler's name with its page."""
    return Name(text=subject.cooler.name, href=f"coolers/{subject.bundle.cooler}.html")


def protocol_name(subject: Subject) -> Name:
    """Return the protocol's name with its page."""
    return Name(text=subject.protocol.name, href=f"protocols/{subject.bundle.protocol}.html")


def joined(items: Sequence[Line], *, last: str = " and ") -> Line:
    """Return the items as one line: commas between them, `last` before the last.

    >>> joined([("a",), ("b",), ("c",)])
    ('a', ', ', 'b', ' and ', 'c')
    """
    parts: list[Part] = []
    for index, item in enumerate(items):
        if index:
            parts.append(last if index == len(items) - 1 else ", ")
        parts.extend(item)
    return tuple(parts)


def plain_text(line: Line) -> str:
    """Return a line without markup, for titles and descriptions."""
    return "".join(part if isinstance(part, str) else part.text for part in line)


def count(number: int, singular: str, plural: str = "") -> str:
    """Return a count with its noun, which stay on one line.

    >>> [count(n, "mount").replace(NO_BREAK, " ") for n in (1, 3)]
    ['1 mount', '3 mounts']
    """
    return words.count(number, singular, plural, space=NO_BREAK)


def capital(text: str) -> str:
    """Return the text with its first letter large and the rest as it was."""
    return text[:1].upper() + text[1:]


def unbroken(text: str) -> str:
    """Return a text in which a number stays on the line of its percent sign."""
    return text.replace(" %", f"{NO_BREAK}%")


def point_name(text: str) -> Name:
    """Return the name of a test point."""
    return Name(text=unbroken(text))


@dataclass(frozen=True, kw_only=True)
class Column:
    """A column: its heading, unit (shown once, in the heading) and whether it holds numbers."""

    key: str
    label: str
    unit: Unit | None = None
    numeric: bool = False
    title: str = ""  # the full name where the heading is short


@dataclass(frozen=True, kw_only=True)
class Row:
    """A row: its heading, then one cell for each column; an empty cell was not measured.

    `anchors` are the addresses of its cells on the page, empty where links lead to none of them.
    """

    head: Line
    cells: tuple[Line, ...]
    data: Mapping[str, str] | None = None  # what scripts filter by
    faint: bool = False
    anchors: tuple[str, ...] = ()


@dataclass(frozen=True, kw_only=True)
class Group:
    """Rows under a heading of their own."""

    id: str
    label: str
    rows: tuple[Row, ...]


@dataclass(frozen=True, kw_only=True)
class Table:
    """A table; `head` names the column of row headings, `missing` is read aloud in an empty cell.

    `ticked` says that its rows are results that can be ticked and put side by side.
    """

    id: str
    caption: str
    head: str
    columns: tuple[Column, ...]
    rows: tuple[Row, ...] = ()
    groups: tuple[Group, ...] = ()
    note: Line = ()
    missing: str = "not measured"
    ticked: bool = False

    @property
    def empty(self) -> bool:
        """Whether there is nothing to show."""
        return not (self.rows or self.groups)


def ticked_row(bundle: str, label: str, point: str, at: str) -> dict[str, str]:
    """Return what a script needs to put a row side by side with others: result, its name, test point, its name."""
    return {"r": bundle, "name": label, "point": point, "at": at}


def sort_key(cell: Line) -> str:
    """Return the number that a cell is sorted by, or an empty text."""
    return next((repr(part.exact) for part in cell if isinstance(part, Num)), "")


def figure_column(kind: str) -> Column:
    """Return the column of one kind of figure."""
    k = FIGURES[kind]
    shown = unit(k.unit)
    return Column(key=kind, label=k.short, unit=shown if shown.text else None, numeric=True, title=k.name)


def difference_unit(kind: str) -> Unit:
    """Return the unit of differences between figures of one kind: K where the figures are temperatures."""
    own = FIGURES[kind].unit
    return unit("K" if own == "degC" else own)


def figure_cell(figures: Mapping[str, Figure], kind: str) -> Line:
    """Return a figure's cell; empty where it was not measured."""
    figure = figures.get(kind)
    return figure_line(figure) if figure else ()


def figure_line(figure: Figure) -> Line:
    """Return a figure with its uncertainty, or what it is at least or at most where it is a bound."""
    return (bounded_num(figure.estimate, figure.bound),)


def bounded_num(estimate: Estimate, bound: Bound) -> Num:
    """Return an estimate as digits; of a bound the end of its interval, without an uncertainty of its own."""
    if bound is Bound.NONE:
        return num(estimate)
    lower = bound is Bound.LOWER
    digits = format_limit(estimate, lower=lower, unit=False)
    end = estimate.value + (-1 if lower else 1) * estimate.expanded()
    other = in_fahrenheit(estimate)
    there = format_limit(other, lower=lower, unit=False) if other else ""
    shown = Num(value=digits, u="", unit=unit(estimate.unit), exact=end, bound=BOUND_WORDS[bound])
    return replace(shown, fahrenheit_value=there)


def kinds_present(kinds: Iterable[str], figure_sets: Sequence[Mapping[str, Figure]]) -> tuple[str, ...]:
    """Return the kinds that at least one set holds, in the order given."""
    return tuple(kind for kind in kinds if any(kind in figures for figures in figure_sets))


def filled_columns(columns: Sequence[Column], rows: Sequence[Row]) -> tuple[tuple[Column, ...], tuple[Row, ...]]:
    """Return columns and rows without the columns that no row fills."""
    keep = [i for i in range(len(columns)) if any(is_filled(row.cells[i]) for row in rows)]
    thin = (replace(r, cells=tuple(r.cells[i] for i in keep)) for r in rows)
    whole = (replace(r, anchors=tuple(r.anchors[i] for i in keep)) if r.anchors else r for r in thin)
    return tuple(columns[i] for i in keep), tuple(whole)


def is_filled(cell: Line) -> bool:
    """Return whether a cell holds more than why it holds nothing."""
    return any(not isinstance(part, Absent) for part in cell)


def text_column(key: str, label: str) -> Column:
    """Return a column of words."""
    return Column(key=key, label=label)
