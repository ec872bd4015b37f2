"""The page of a card: the coolers tested on it in order, whether the bench moved, and what is known of the card."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import partial

from builder.archive.protocol import PointRole
from builder.charts.chart import Chart
from builder.charts.of_result import history_charts, order_chart
from builder.comparison import Basis, Group, Tested, bench_stability, groups
from builder.comparison.subject import Subject
from builder.pages.facts import Fact, card_facts
from builder.pages.lists import results_table
from builder.pages.page import Makers, Page, short_description
from builder.pages.parts import Line, Name, Table, count
from builder.pages.rankings import OrderView, order_view, reference_view
from builder.pages.site_input import SiteInput


@dataclass(frozen=True, kw_only=True, eq=False)
class CardView:
    """The page of a card."""

    name: Name
    lead: Line
    facts: tuple[Fact, ...]
    orders: tuple[OrderView, ...]
    stability: tuple[str, ...]
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


def card_view(key: str, tested: Tested, subjects: Sequence[Subject]) -> CardView:
    """Return the page of a card: coolers in order at each test point, then every result on it."""
    card = tested.catalogue.cards[key]
    mine = [g for g in groups(tested) if g.card == key and g.role is not PointRole.CLOSING]
    ordered = sorted(mine, key=lambda g: (g.sample, _SHOWN.get(g.role, 1)))
    lead: Line = (f"{count(len(subjects), 'result')} on this card.",) if subjects else ("No result on this card yet.",)
    return CardView(
        name=Name(text=card.name),
        lead=lead,
        facts=card_facts(card),
        orders=tuple(order for group in ordered for order in _orders(tested, group)),
        stability=_stability(tested, key),
        results=results_table(subjects, "Results at stock on this card", by="cooler"),
    )


_SHOWN = {PointRole.STOCK: 0, PointRole.IDLE: 2}


def _orders(tested: Tested, group: Group) -> tuple[OrderView, ...]:
    """Return the orders of a test point; those at stock are also by memory, and by core at reference conditions."""
    core = order_view(tested, group)
    if group.role is not PointRole.STOCK:
        return (core,)
    return core, order_view(tested, group, "memory_rise"), reference_view(tested, group)


def _stability(tested: Tested, card: str) -> tuple[str, ...]:
    return tuple(s.said for s in bench_stability(tested) if s.group.card == card)


@dataclass(frozen=True, kw_only=True, eq=False)
class DrawnOrder:
    """An order of coolers with its chart."""

    order: OrderView
    chart: Chart | None


@dataclass(frozen=True, kw_only=True, eq=False)
class CardPage:
    """A card page: its figures, and its orders with charts."""

    card: CardView
    orders: tuple[DrawnOrder, ...]
    history: tuple[Chart, ...] = ()


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
        view=_card_page(key, given.tested, [s for s in given.subjects if s.bundle.card == key]),
        section="cards/index.html",
        trail=(Name(text="Cards", href="cards/index.html"),),
        scripts=("nodes.js", "charts.js", "ticks.js"),
    )


def _card_page(key: str, tested: Tested, mine: Sequence[Subject]) -> CardPage:
    view = card_view(key, tested, mine)
    orders = tuple(DrawnOrder(order=order, chart=_stock_chart(tested, order)) for order in view.orders)
    return CardPage(card=view, orders=orders, history=history_charts(key, tested))


def _stock_chart(tested: Tested, order: OrderView) -> Chart | None:
    if order.ranking.group.role is not PointRole.STOCK or order.ranking.basis is not Basis.MEASURED:
        return None
    return order_chart(tested, order.ranking, chart_id=f"chart-{order.id}")
