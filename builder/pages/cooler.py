"""The page of a cooler: its result on every card, what it does across cards, and what is known of it."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import partial

from builder.comparison import AcrossCards, Subject, Tested, across_cards
from builder.pages.facts import Fact, cooler_facts
from builder.pages.lists import results_table
from builder.pages.page import Makers, Page, short_description
from builder.pages.parts import (
    Column,
    Line,
    Name,
    Row,
    Table,
    count,
    figure_column,
    num,
    plain,
    short_day,
    text_column,
    unit,
)
from builder.pages.site_input import SiteInput


@dataclass(frozen=True, kw_only=True, eq=False)
class CoolerView:
    """What the page of a cooler shows."""

    name: Name
    lead: Line
    facts: tuple[Fact, ...]
    results: Table
    across: Table
    across_note: str
    left_out: tuple[str, ...]


def pages(given: SiteInput) -> Makers:
    """Return the page of every cooler."""
    return {f"coolers/{key}.html": partial(_page, given, key) for key in given.catalogue.coolers}


def _page(given: SiteInput, key: str) -> Page:
    name = given.catalogue.coolers[key].name
    return Page(
        path=f"coolers/{key}.html",
        template="pages/cooler.html",
        title=name,
        description=short_description(f"Results of the {name} on every card on which it was tested."),
        view=cooler_view(key, given.tested, [s for s in given.subjects if s.bundle.cooler == key]),
        section="coolers/index.html",
        trail=(Name(text="Coolers", href="coolers/index.html"),),
        scripts=("nodes.js", "ticks.js"),
    )


def cooler_view(key: str, tested: Tested, subjects: Sequence[Subject]) -> CoolerView:
    """Return the page of a cooler: what is known of it, its result on every card, and Ψ across cards."""
    cooler = tested.catalogue.coolers[key]
    across = across_cards(tested, key)
    said = f"{count(len(subjects), 'result')} with this cooler." if subjects else "No result with this cooler yet."
    return CoolerView(
        name=Name(text=cooler.name),
        lead=(said,),
        facts=cooler_facts(cooler),
        results=results_table(subjects, "Results at stock with this cooler", by="card"),
        across=_across_table(tested, across),
        across_note=across.note,
        left_out=tuple(reason.text for x in across.left_out for reason in x.reasons),
    )


def _across_table(tested: Tested, across: AcrossCards) -> Table:
    columns = (
        figure_column(across.kind),
        figure_column("board_power"),
        Column(key="range", label="Tested between", unit=unit("W"), numeric=True),
        text_column("tested", "Tested"),
    )
    rows = tuple(
        Row(
            head=(Name(text=tested.catalogue.cards[row.card].name, href=f"results/{row.bundle}.html"),),
            cells=(
                (num(row.psi),),
                (plain(row.watts, decimals=0),),
                (" to ".join(plain(w, decimals=0).value for w in (row.tested_range.low, row.tested_range.high)),),
                (short_day(tested.setup(row.bundle).bundle.tested),),
            ),
        )
        for row in across.rows
    )
    return Table(
        id="across", caption="Core rise per watt at stock, card by card", head="Card", columns=columns, rows=rows
    )
