"""The page of downloads: every data file with what it holds and its size."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from builder.quantity import NO_BREAK, format_number
from builder.views.subject import Subject
from builder.views.tables import Column, Row, Table, text_column
from builder.views.text import Line, Name, Num, Unit, count, short_day


@dataclass(frozen=True, kw_only=True)
class DataEntry:
    """A data file: its address from the site's root, what it is and holds, its size in bytes.

    `bundle` is empty for files of the whole archive; `log` tells the log of a run from figures.
    """

    href: str
    label: str
    holds: str
    size: int
    bundle: str = ""
    log: bool = False


@dataclass(frozen=True, kw_only=True, eq=False)
class DataView:
    """What the page of downloads shows."""

    lead: Line
    whole: Table
    results: Table
    licence: Line


def data_view(entries: Sequence[DataEntry], subjects: Sequence[Subject], licence: Line = ()) -> DataView:
    """Return the page of downloads."""
    return DataView(
        lead=("Every published figure, and the logs that it was worked out from, as plain files.",),
        whole=_whole([e for e in entries if not e.bundle]),
        results=_results(entries, subjects),
        licence=licence,
    )


_SIZE = Column(key="size", label="Size", numeric=True)


def _whole(entries: Iterable[DataEntry]) -> Table:
    rows = tuple(
        Row(head=(Name(text=e.label, href=e.href),), cells=((e.holds,), (size(e.size),)), data=None) for e in entries
    )
    columns = (text_column("holds", "Holds"), _SIZE)
    return Table(id="data-archive", caption="The whole archive", head="File", columns=columns, rows=rows)


def _results(entries: Sequence[DataEntry], subjects: Sequence[Subject]) -> Table:
    rows = tuple(
        Row(head=_head(s, subjects), cells=_cells(s, [e for e in entries if e.bundle == s.id])) for s in subjects
    )
    columns = (
        text_column("table", "Figures"),
        text_column("record", "With budgets"),
        text_column("logs", "Logs"),
    )
    return Table(
        id="data-results", caption="Files of each result", head="Result", columns=columns, rows=rows, missing="none"
    )


def _head(subject: Subject, subjects: Sequence[Subject]) -> Line:
    """Return a result's name, with the day of its test where another one is called the same."""
    name = Name(text=subject.title, href=subject.href)
    alike = sum(s.title == subject.title for s in subjects) > 1
    return (name, ", ", short_day(subject.bundle.tested)) if alike else (name,)


def _cells(subject: Subject, entries: Sequence[DataEntry]) -> tuple[Line, ...]:
    table, record = (_link(entries, ending) for ending in (".csv", ".json"))
    logs = [e for e in entries if e.log]
    link = Name(text=count(len(logs), "log"), href=f"{subject.href}#downloads")
    return table, record, (link, ", ", size(sum(e.size for e in logs))) if logs else ()


def _link(entries: Iterable[DataEntry], ending: str) -> Line:
    found = next((e for e in entries if e.href.endswith(ending) and not e.log), None)
    return (Name(text=ending[1:].upper(), href=found.href), ", ", size(found.size)) if found else ()


def size(number: int) -> Num:
    """Return a size in bytes as people read it, in steps of a thousand.

    >>> size(950).text.replace(NO_BREAK, " "), size(12_345).text.replace(NO_BREAK, " ")
    ('950 B', '12.3 kB')
    """
    value, unit = float(number), "B"
    for larger in ("kB", "MB", "GB"):
        if value < 1000:  # noqa: PLR2004 - the step itself
            break
        value, unit = value / 1000, larger
    decimals = 0 if unit == "B" or value >= 100 else 1  # noqa: PLR2004 - three digits are enough
    return Num(value=format_number(value, decimals), u="", unit=Unit(text=unit), exact=float(number))


def size_text(number: int) -> str:
    """Return a size in bytes as text, such as `12.3 kB`, with a plain space."""
    return size(number).text.replace(NO_BREAK, " ")
