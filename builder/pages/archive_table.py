"""The archive page: every result at every test point, to be filtered; and a plain page for each year."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from functools import partial

from builder.archive.catalogue import CoolerKind
from builder.archive.protocol import PointRole
from builder.comparison import Subject, by_hand, settled
from builder.core.results import FIGURES, PointResult, Use, figures_for
from builder.pages.lists import ListView, results_table
from builder.pages.page import Makers, Page
from builder.pages.parts import (
    Group,
    Name,
    Row,
    Table,
    capital,
    count,
    figure_cell,
    figure_column,
    short_day,
    text_column,
    ticked_row,
)
from builder.pages.sentences import verdict_tag
from builder.pages.site_input import SiteInput

ADDRESS = "archive.html"
LOGGED, BY_HAND = "logged", "by-hand"


@dataclass(frozen=True, kw_only=True)
class Option:
    """One choice of a filter."""

    value: str
    label: str


@dataclass(frozen=True, kw_only=True)
class Filter:
    """One thing that the archive is filtered by, by any number of its options; `chosen` are those it opens with."""

    key: str
    label: str
    options: tuple[Option, ...]
    chosen: tuple[str, ...] = ()


@dataclass(frozen=True, kw_only=True)
class ArchiveView:
    """The archive page; `drawn` are the kinds of figures that its chart can show, `years` those that have a page."""

    table: Table
    filters: tuple[Filter, ...]
    total: str
    drawn: tuple[Option, ...]
    years: tuple[str, ...]


def pages(given: SiteInput) -> Makers:
    """Return the archive page and those of its years."""
    found = given.subjects
    return {
        ADDRESS: partial(archive_page, found),
        **{f"years/{year}.html": partial(_year_page, year, found) for year in years(found)},
    }


def archive_page(found: Sequence[Subject]) -> Page:
    """Return the page of all results."""
    return Page(
        path=ADDRESS,
        template="pages/archive.html",
        title="Archive",
        description="Every result in one table, filtered by card, cooler, kind, test point, protocol and year.",
        view=archive_view(found),
        section=ADDRESS,
        scripts=(
            "values.js",
            "nodes.js",
            "archive-state.js",
            "archive-rows.js",
            "archive-csv.js",
            "archive-chart.js",
            "archive.js",
            "ticks.js",
        ),
    )


def _year_page(year: str, found: Sequence[Subject]) -> Page:
    mine = [s for s in found if str(s.bundle.tested.year) == year]
    lead = (f"{count(len(mine), 'result')} tested in {year}, newest first.",)
    return Page(
        path=f"years/{year}.html",
        template="pages/list.html",
        title=f"Results of {year}",
        description=f"Every result that was tested in {year}, with its main figures at stock.",
        view=ListView(lead=lead, table=results_table(mine, f"Results at stock, tested in {year}", by="result")),
        section=ADDRESS,
        trail=(Name(text="Archive", href=ADDRESS),),
        scripts=("nodes.js", "ticks.js"),
    )


def archive_view(subjects: Sequence[Subject]) -> ArchiveView:
    """Return all results, grouped by test point, with stock first."""
    groups = _groups(subjects)
    columns = (
        text_column("card", "Card"),
        *(figure_column(kind) for kind in figures_for(Use.SUMMARY)),
        text_column("verdict", "Verdict"),
        text_column("kind", "Kind"),
        text_column("protocol", "Protocol"),
        text_column("tested", "Tested"),
    )
    table = Table(id="archive", caption="All results", head="Cooler", columns=columns, groups=groups, ticked=True)
    return ArchiveView(
        table=table,
        filters=_filters(subjects, groups),
        total=count(len(subjects), "result"),
        drawn=tuple(Option(value=kind, label=FIGURES[kind].name) for kind in figures_for(Use.SUMMARY)),
        years=years(subjects),
    )


def years(subjects: Sequence[Subject]) -> tuple[str, ...]:
    """Return the years in which results were tested, newest first."""
    return tuple(sorted({str(s.bundle.tested.year) for s in subjects}, reverse=True))


def _groups(subjects: Sequence[Subject]) -> tuple[Group, ...]:
    names: dict[str, str] = {}
    rows: dict[str, list[Row]] = {}
    for subject, point in _ordered(subjects):
        names.setdefault(point.point, point.name)
        rows.setdefault(point.point, []).append(_row(subject, point))
    return tuple(Group(id=point, label=names[point], rows=tuple(rows[point])) for point in names)


def _ordered(subjects: Sequence[Subject]) -> Iterable[tuple[Subject, PointResult]]:
    """Give stock first, then the other test points in the order of the protocol that has most of them."""
    pairs = [(s, p) for s in subjects for p in s.result.points]
    longest = max((s.protocol for s in subjects), key=lambda p: len(p.points), default=None)
    order = {p.id: i for i, p in enumerate(longest.points)} if longest else {}
    return sorted(
        pairs, key=lambda x: (x[0].role(x[1].point) is not PointRole.STOCK, order.get(x[1].point, len(order)))
    )


def _row(subject: Subject, point: PointResult) -> Row:
    figures = (figure_cell(point.figures, kind) for kind in figures_for(Use.SUMMARY))
    return Row(
        head=(Name(text=subject.cooler.name, href=subject.href),),
        cells=(
            (Name(text=subject.card.name),),
            *figures,
            (verdict_tag(point.verdict),),
            (str(subject.cooler.kind),),
            (Name(text=subject.protocol.name),),
            (short_day(subject.bundle.tested),),
        ),
        data={
            **ticked_row(subject.id, subject.title, point.point, point.name),
            "card": subject.bundle.card,
            "cooler": subject.bundle.cooler,
            "kind": _kind_id(subject.cooler.kind),
            "protocol": subject.bundle.protocol,
            "year": str(subject.bundle.tested.year),
            "settled": "yes" if settled(point) else "no",
            "state": BY_HAND if by_hand(point) else LOGGED,
        },
    )


def _filters(subjects: Sequence[Subject], groups: Sequence[Group]) -> tuple[Filter, ...]:
    kinds = sorted({s.cooler.kind for s in subjects}, key=str)
    points = tuple(Option(value=g.id, label=g.label) for g in groups)
    states = (Option(value=LOGGED, label="Logged"), Option(value=BY_HAND, label="Read by hand"))
    hand = any(by_hand(p) for s in subjects for p in s.result.points)
    return (
        Filter(key="card", label="Card", options=_by_name((s.bundle.card, s.card.name) for s in subjects)),
        Filter(key="cooler", label="Cooler", options=_by_name((s.bundle.cooler, s.cooler.name) for s in subjects)),
        Filter(key="kind", label="Kind", options=tuple(Option(value=_kind_id(k), label=capital(k)) for k in kinds)),
        Filter(key="point", label="Test point", options=points, chosen=tuple(p.value for p in points[:1])),
        Filter(
            key="protocol",
            label="Protocol",
            options=_by_name((s.bundle.protocol, s.protocol.name) for s in subjects),
        ),
        Filter(key="year", label="Year", options=tuple(Option(value=y, label=y) for y in years(subjects))),
        *((Filter(key="state", label="Figures", options=states),) if hand else ()),
    )


def _kind_id(kind: CoolerKind) -> str:
    return str(kind).replace(" ", "-")


def _by_name(pairs: Iterable[tuple[str, str]]) -> tuple[Option, ...]:
    names = dict(pairs)
    return tuple(Option(value=value, label=names[value]) for value in sorted(names, key=lambda v: names[v].casefold()))
