"""The page of a card: the coolers tested on it in order, whether the bench moved, and what is known of the card."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from functools import partial

from builder.archive.protocol import PointRole
from builder.charts.of_result import history_charts
from builder.comparison import Group, Subject, Tested, bench_stability, groups
from builder.core.results import FIGURES, Use, figures_for
from builder.pages.chart_view import ChartView, Draw, chart_view, drawn
from builder.pages.facts import Fact, card_facts
from builder.pages.lists import results_table
from builder.pages.page import Makers, Page, short_description
from builder.pages.parts import Line, Name, Table, count
from builder.pages.rankings import OrderView, order_view, reference_view
from builder.pages.site_input import SiteInput

_SHOWN = {PointRole.STOCK: 0, PointRole.IDLE: 2}  # the others between


@dataclass(frozen=True, kw_only=True, eq=False)
class CardView:
    """What the page of a card shows; `stability` are sentences on the bench, `history` the charts that go with them."""

    name: Name
    lead: Line
    facts: tuple[Fact, ...]
    orders: tuple[OrderView, ...]
    stability: tuple[str, ...]
    history: tuple[ChartView, ...]
    results: Table

    @property
    def sections(self) -> tuple[tuple[str, str, bool], ...]:
        """Return the page's sections: anchor, label, and whether it is there."""
        return (
            *((order.id, order.name.text, True) for order in self.orders),
            ("all-results", "All results", not self.results.empty),
            ("bench", "Bench", bool(self.stability)),
            ("about", "The card", True),
        )


def pages(given: SiteInput) -> Makers:
    """Return the page of every card."""
    return {f"cards/{key}.html": partial(_page, given, key) for key in given.catalogue.cards}


def _page(given: SiteInput, key: str) -> Page:
    name = given.catalogue.cards[key].name
    return Page(
        path=f"cards/{key}.html",
        template="pages/card.html",
        title=name,
        description=short_description(f"Coolers tested on the {name}, in order, with ties and uncertainty."),
        view=card_view(key, given.tested, [s for s in given.subjects if s.bundle.card == key], given.draw),
        section="cards/index.html",
        trail=(Name(text="Cards", href="cards/index.html"),),
        scripts=("nodes.js", "charts.js", "ticks.js"),
    )


def card_view(key: str, tested: Tested, subjects: Sequence[Subject], draw: Draw = drawn) -> CardView:
    """Return what the page of a card shows; `subjects` are the results on it."""
    card = tested.catalogue.cards[key]
    mine = [g for g in groups(tested) if g.card == key and g.role is not PointRole.CLOSING]
    ordered = sorted(mine, key=lambda g: (g.sample, _SHOWN.get(g.role, 1)))
    return CardView(
        name=Name(text=card.name),
        lead=(f"{count(len(subjects), 'result')} on this card." if subjects else "No result on this card yet.",),
        facts=card_facts(card),
        orders=tuple(order for group in ordered for order in _orders(tested, group, draw)),
        stability=tuple(s.said for s in bench_stability(tested) if s.group.card == key),
        history=tuple(chart_view(chart, draw) for chart in history_charts(key, tested)),
        results=results_table(subjects, "Results at stock on this card", by="cooler"),
    )


def _orders(tested: Tested, group: Group, draw: Draw) -> Iterator[OrderView]:
    """Give the order of a test point; at stock also by memory, at reference conditions, and of water blocks."""
    if group.role is not PointRole.STOCK:
        yield order_view(tested, group, "core_rise", draw)
        return
    of_loop = [kind for kind in figures_for(Use.ORDER) if FIGURES[kind].of_loop]
    for kind in (k for k in figures_for(Use.ORDER) if k not in of_loop):
        yield order_view(tested, group, kind, draw)
    yield reference_view(tested, group)
    yield from (order for kind in of_loop if not (order := order_view(tested, group, kind, draw)).table.empty)
