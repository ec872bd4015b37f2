"""The pages that list all cards, coolers, protocols and corrections, and the table of results that pages share."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from functools import partial
from typing import TypeVar

from builder.archive.catalogue import Card, Catalogue, Cooler
from builder.archive.protocol import Protocol
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

Named = TypeVar("Named", Card, Cooler, Protocol)


@dataclass(frozen=True, kw_only=True, eq=False)
class ListView:
    """A list of cards, coolers or protocols."""

    lead: Line
    table: Table


def pages(given: SiteInput) -> Makers:
    """Return the four lists."""
    return {
        "cards/index.html": partial(_cards, given),
        "coolers/index.html": partial(_coolers, given),
        "protocols/index.html": partial(_protocols, given),
        "corrections.html": partial(_corrections, given),
    }


def _page(path: str, title: str, description: str, view: ListView) -> Page:
    return Page(path=path, template="pages/list.html", title=title, description=description, view=view, section=path)


def _cards(given: SiteInput) -> Page:
    said = "The graphics cards that coolers were tested on."
    return _page("cards/index.html", "Cards", said, cards_list(given.catalogue, given.subjects))


def _coolers(given: SiteInput) -> Page:
    said = "The coolers that were tested."
    return _page("coolers/index.html", "Coolers", said, coolers_list(given.catalogue, given.subjects))


def _protocols(given: SiteInput) -> Page:
    said = "The procedures that sessions follow."
    return _page("protocols/index.html", "Protocols", said, protocols_list(given.catalogue, given.subjects))


def _corrections(given: SiteInput) -> Page:
    said = "Published figures that were wrong, with the old figure, the new one and the reason."
    return _page("corrections.html", "Corrections", said, corrections_list(given.subjects))


def cards_list(catalogue: Catalogue, subjects: Sequence[Subject]) -> ListView:
    """Return the list of cards."""
    columns = (Column(key="power", label="Reference board power", numeric=True), text_column("memory", "Memory"),
               Column(key="results", label="Results", numeric=True), text_column("newest", "Newest"))  # fmt: skip
    rows = tuple(
        Row(
            head=(Name(text=card.name, href=f"cards/{key}.html"),),
            cells=((setting(card.board_power_w, "W"),), text(card.memory_type), *_tally(key, subjects, "card")),
        )
        for key, card in _by_name(catalogue.cards.items())
    )
    table = Table(id="cards", caption="Cards in the archive", head="Card", columns=columns, rows=rows, missing="none")
    return ListView(lead=("Each card's page puts the coolers tested on it in order.",), table=table)


def coolers_list(catalogue: Catalogue, subjects: Sequence[Subject]) -> ListView:
    """Return the list of coolers."""
    columns = (text_column("kind", "Kind"), text_column("maker", "Maker"),
               Column(key="results", label="Results", numeric=True), text_column("newest", "Newest"))  # fmt: skip
    rows = tuple(
        Row(
            head=(Name(text=cooler.name, href=f"coolers/{key}.html"),),
            cells=((str(cooler.kind),), text(cooler.maker), *_tally(key, subjects, "cooler")),
        )
        for key, cooler in _by_name(catalogue.coolers.items())
    )
    table = Table(
        id="coolers", caption="Coolers in the archive", head="Cooler", columns=columns, rows=rows, missing="none"
    )
    return ListView(lead=("Each cooler's page shows it on every card on which it was tested.",), table=table)


def protocols_list(catalogue: Catalogue, subjects: Sequence[Subject]) -> ListView:
    """Return the list of protocols."""
    columns = (Column(key="version", label="Version", numeric=True),
               Column(key="points", label="Test points", numeric=True),
               Column(key="results", label="Results", numeric=True), text_column("newest", "Newest"))  # fmt: skip
    rows = tuple(
        Row(
            head=(Name(text=p.name, href=f"protocols/{key}.html"),),
            cells=((plain(p.version),), (plain(len(p.points)),), *_tally(key, subjects, "protocol")),
        )
        for key, p in _by_name(catalogue.protocols.items())
    )
    table = Table(id="protocols", caption="Protocols", head="Protocol", columns=columns, rows=rows, missing="none")
    return ListView(lead=("A protocol is the procedure that a session follows, with a version.",), table=table)


def _by_name(items: Iterable[tuple[str, Named]]) -> list[tuple[str, Named]]:
    return sorted(items, key=lambda pair: pair[1].name.casefold())


def _tally(key: str, subjects: Sequence[Subject], field: str) -> tuple[Line, Line]:
    mine = [s for s in subjects if getattr(s.bundle, field) == key]
    newest: Line = (short_day(max(s.bundle.tested for s in mine)),) if mine else ()
    return (plain(len(mine)),), newest


def corrections_list(subjects: Sequence[Subject]) -> ListView:
    """Return every correction in the archive, newest first."""
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
    return ListView(lead=(start, so_far), table=table)


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
