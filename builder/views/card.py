"""The page of a card."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from builder.compare import Group, Tested, bench_stability, groups
from builder.model import PointRole
from builder.views.facts import Fact, card_facts
from builder.views.ranking import OrderView, order_view
from builder.views.reference import reference_view
from builder.views.subject import Subject
from builder.views.summary import results_table
from builder.views.tables import Table
from builder.views.text import Line, Name, count


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
