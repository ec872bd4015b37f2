"""The page of downloads: every data file with what it holds and its size."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from functools import partial

from builder.comparison import Subject
from builder.core.quantity import NO_BREAK, format_number
from builder.pages.page import DataEntry, Makers, Page
from builder.pages.parts import Column, Line, Name, Num, Outside, Row, Table, Unit, count, short_day, text_column
from builder.pages.site_input import SiteInput


@dataclass(frozen=True, kw_only=True, eq=False)
class DataView:
    """What the page of downloads shows."""

    lead: Line
    whole: Table
    results: Table
    licence: Line


def pages(given: SiteInput) -> Makers:
    """Return the page of downloads, where there is anything to download."""
    return {"data.html": partial(_page, given)} if given.extras.data else {}


def _page(given: SiteInput) -> Page:
    terms = given.catalogue.archive.licence
    licence = ("Terms of use: ", Outside(text=terms.name, url=terms.url), ".") if terms else ()
    return Page(
        path="data.html",
        template="pages/data.html",
        title="Data",
        description="Every published figure and log as plain files, with their columns, units, sizes and hashes.",
        view=data_view(given.extras.data, given.subjects, licence),
        section="data.html",
    )


def data_view(entries: Mapping[str, tuple[DataEntry, ...]], subjects: Sequence[Subject], licence: Line) -> DataView:
    """Return the page of downloads."""
    size_column = Column(key="size", label="Size", numeric=True)
    return DataView(
        lead=("Every published figure, and the logs that it was worked out from, as plain files.",),
        whole=Table(
            id="data-archive",
            caption="The whole archive",
            head="File",
            columns=(text_column("holds", "Holds"), size_column),
            rows=tuple(
                Row(head=(Name(text=e.label, href=e.href),), cells=((e.holds,), (size(e.size),)))
                for e in entries.get("", ())
            ),
        ),
        results=Table(
            id="data-results",
            caption="Files of each result",
            head="Result",
            columns=(
                text_column("table", "Figures"),
                text_column("record", "With budgets"),
                text_column("logs", "Logs"),
            ),
            rows=tuple(_row(s, entries.get(s.id, ()), subjects) for s in subjects),
            missing="none",
        ),
        licence=licence,
    )


def _row(subject: Subject, entries: Sequence[DataEntry], subjects: Sequence[Subject]) -> Row:
    name = Name(text=subject.title, href=subject.href)
    # The day of the test tells results of the same name apart.
    alike = sum(s.title == subject.title for s in subjects) > 1
    logs = [e for e in entries if e.log]
    link = Name(text=count(len(logs), "log"), href=f"{subject.href}#downloads")
    return Row(
        head=(name, ", ", short_day(subject.bundle.tested)) if alike else (name,),
        cells=(
            _link(entries, ".csv"),
            _link(entries, ".json"),
            (link, ", ", size(sum(e.size for e in logs))) if logs else (),
        ),
    )


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
