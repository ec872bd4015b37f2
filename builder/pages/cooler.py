"""The page of a cooler."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from builder.comparison import AcrossCards, PowerRange, Tested, across_cards
from builder.comparison.subject import Subject
from builder.pages.facts import Fact, cooler_facts
from builder.pages.lists import _list, coolers_list, results_table
from builder.pages.page import Page, _bundles, _short
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
    """The page of a cooler."""

    name: Name
    lead: Line
    facts: tuple[Fact, ...]
    results: Table
    across: Table
    across_note: str
    left_out: tuple[str, ...]


def cooler_view(key: str, tested: Tested, subjects: Sequence[Subject]) -> CoolerView:
    """Return the page of a cooler: what is known of it, its result on every card, and Ψ across cards."""
    cooler = tested.catalogue.coolers[key]
    total = count(len(subjects), "result")
    lead: Line = (f"{total} with this cooler.",) if subjects else ("No result with this cooler yet.",)
    across = across_cards(tested, key)
    return CoolerView(
        name=Name(text=cooler.name),
        lead=lead,
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
                (_range(row.tested_range),),
                (short_day(tested.bundle(row.bundle).tested),),
            ),
        )
        for row in across.rows
    )
    return Table(
        id="across", caption="Core rise per watt at stock, card by card", head="Card", columns=columns, rows=rows
    )


def _range(found: PowerRange) -> str:
    low, high = (plain(watts, decimals=0).value for watts in (found.low, found.high))
    return f"{low} to {high}"


def _coolers(data: SiteInput, tested: Tested, found: Sequence[Subject]) -> Iterable[Page]:
    trail = (Name(text="Coolers", href="coolers/index.html"),)
    yield _list("coolers", "Coolers", "The coolers that were tested.", coolers_list(data.catalogue, found))
    for key, cooler in data.catalogue.coolers.items():
        mine = [s for s in found if s.bundle.cooler == key]
        yield Page(
            path=f"coolers/{key}.html",
            template="pages/cooler.html",
            title=cooler.name,
            description=_short(f"Results of the {cooler.name} on every card on which it was tested."),
            view=cooler_view(key, tested, mine),
            section="coolers/index.html",
            trail=trail,
            scripts=("nodes.js", "ticks.js"),
            depends_on=(f"cooler:{key}", *_bundles(mine)),
        )
