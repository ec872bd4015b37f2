"""The pages that list all cards, coolers, protocols and corrections, and the table of results that pages share."""

from __future__ import annotations

import datetime as dt
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from functools import partial

from builder.comparison import Subject
from builder.core.results import Use, figures_for
from builder.pages.page import Makers, Page
from builder.pages.parts import (
    Column,
    Line,
    Name,
    Row,
    Table,
    capital,
    count,
    figure_cell,
    figure_column,
    filled_columns,
    plain,
    setting,
    short_day,
    text,
    text_column,
    ticked_row,
)
from builder.pages.result_tables import CORRECTION_COLUMNS, correction_cells
from builder.pages.sentences import verdict_tag
from builder.pages.site_input import SiteInput


@dataclass(frozen=True, kw_only=True, eq=False)
class ListView:
    """A list of cards, coolers, protocols, corrections or the results of a year."""

    lead: Line
    table: Table


def pages(given: SiteInput) -> Makers:
    """Return the four lists."""
    makers = {
        "cards/index.html": partial(_cards, given),
        "coolers/index.html": partial(_coolers, given),
        "protocols/index.html": partial(_protocols, given),
        "corrections.html": partial(_corrections, given.subjects),
    }
    return {path: partial(make, path) for path, make in makers.items()}


def _page(path: str, title: str, description: str, lead: Line, table: Table) -> Page:
    view = ListView(lead=lead, table=table)
    return Page(path=path, template="pages/list.html", title=title, description=description, view=view, section=path)


def _cards(given: SiteInput, path: str) -> Page:
    columns = (Column(key="power", label="Reference board power", numeric=True), text_column("memory", "Memory"))
    rows = {
        key: (card.name, ((setting(card.board_power_w, "W"),), text(card.memory_type)))
        for key, card in given.catalogue.cards.items()
    }
    table = _catalogue_table(given.subjects, "card", columns, rows, caption="Cards in the archive")
    lead = ("Each card's page puts the coolers tested on it in order.",)
    return _page(path, "Cards", "The graphics cards that coolers were tested on.", lead, table)


def _coolers(given: SiteInput, path: str) -> Page:
    columns = (text_column("kind", "Kind"), text_column("maker", "Maker"))
    rows = {
        key: (cooler.name, ((str(cooler.kind),), text(cooler.maker))) for key, cooler in given.catalogue.coolers.items()
    }
    table = _catalogue_table(given.subjects, "cooler", columns, rows, caption="Coolers in the archive")
    lead = ("Each cooler's page shows it on every card on which it was tested.",)
    return _page(path, "Coolers", "The coolers that were tested.", lead, table)


def _protocols(given: SiteInput, path: str) -> Page:
    columns = (
        Column(key="version", label="Version", numeric=True),
        Column(key="points", label="Test points", numeric=True),
    )
    rows = {
        key: (protocol.name, ((plain(protocol.version),), (plain(len(protocol.points)),)))
        for key, protocol in given.catalogue.protocols.items()
    }
    table = _catalogue_table(given.subjects, "protocol", columns, rows, caption="Protocols")
    lead = ("A protocol is the procedure that a session follows, with a version.",)
    return _page(path, "Protocols", "The procedures that sessions follow.", lead, table)


def _catalogue_table(
    subjects: Sequence[Subject],
    what: str,
    columns: tuple[Column, ...],
    rows: Mapping[str, tuple[str, tuple[Line, ...]]],
    *,
    caption: str,
) -> Table:
    """Return a table of cards, coolers or protocols by name: page, own cells, number of results, day of the newest.

    `what` is the field of a bundle that names one; `rows` gives name and cells by id.
    """
    days: dict[str, list[dt.date]] = {}
    for subject in subjects:
        days.setdefault(getattr(subject.bundle, what), []).append(subject.bundle.tested)
    return Table(
        id=f"{what}s",
        caption=caption,
        head=capital(what),
        columns=(*columns, Column(key="results", label="Results", numeric=True), text_column("newest", "Newest")),
        rows=tuple(
            Row(
                head=(Name(text=name, href=f"{what}s/{key}.html"),),
                cells=(
                    *cells,
                    (plain(len(days.get(key, ()))),),
                    (short_day(max(days[key])),) if key in days else (),
                ),
            )
            for key, (name, cells) in sorted(rows.items(), key=lambda row: row[1][0].casefold())
        ),
        missing="none",
    )


def _corrections(subjects: Sequence[Subject], path: str) -> Page:
    made = [(c, s) for s in subjects for c in s.bundle.corrections]
    rows = tuple(
        Row(
            head=(short_day(c.date),),
            cells=((Name(text=s.title, href=f"{s.href}#corrections"),), *correction_cells(s, c)),
        )
        for c, s in sorted(made, key=lambda pair: pair[0].date, reverse=True)
    )
    columns = (text_column("result", "Result"), *CORRECTION_COLUMNS)
    table = Table(id="corrections", caption="Corrections, newest first", head="Date", columns=columns, rows=rows)
    start = "A published figure that was wrong is corrected here in the open, with the old figure and the reason. "
    so_far = f"{capital(count(len(rows), 'correction'))} so far." if rows else "There is no correction so far."
    said = "Published figures that were wrong, with the old figure, the new one and the reason."
    return _page(path, "Corrections", said, (start, so_far), table)


def results_table(subjects: Sequence[Subject], caption: str, *, by: str) -> Table:
    """Return the main figures at stock; `by` names the heading of each row: card, cooler or result."""
    first, *others = (figure_column(k) for k in figures_for(Use.SUMMARY))
    columns = (
        first,
        text_column("verdict", "Verdict"),
        *others,
        text_column("tested", "Tested"),
        text_column("protocol", "Protocol"),
    )
    rows = [_result_row(s, by) for s in subjects]
    kept, thin = filled_columns(columns, rows)
    return Table(id="results", caption=caption, head=capital(by), columns=kept, rows=thin, ticked=True)


def _result_row(subject: Subject, by: str) -> Row:
    named = {"cooler": subject.cooler.name, "card": subject.card.name}
    label = named.get(by, subject.title)
    stock = subject.stock
    first, *others = (figure_cell(stock.figures if stock else {}, k) for k in figures_for(Use.SUMMARY))
    return Row(
        head=(Name(text=label, href=subject.href),),
        cells=(
            first,
            (verdict_tag(stock.verdict),) if stock else (),
            *others,
            (short_day(subject.bundle.tested),),
            (Name(text=subject.protocol.name),),
        ),
        data=ticked_row(subject.id, subject.title, stock.point, stock.name) if stock else None,
    )
