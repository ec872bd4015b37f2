"""The order of coolers on a card at one test point, with ties, and what is left out and why."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from builder.figures import Figure
from builder.quantity import Estimate
from builder.views.subject import Subject
from builder.views.tables import Column, Row, Table, figure_column, text_column
from builder.views.text import Line, Name, count, day, joined, num, unit


@dataclass(frozen=True, kw_only=True)
class Place:
    """One result in the order: its figure, the letters of its ties, and its difference from the first."""

    subject: Subject
    figure: Figure
    letters: str
    behind: Estimate | None = None  # None for the first


@dataclass(frozen=True, kw_only=True)
class LeftOut:
    """One result that is not in the order, and why."""

    subject: Subject
    reason: str


@dataclass(frozen=True, kw_only=True)
class PointOrder:
    """The order at one test point of one card, best first."""

    point: str
    name: str
    kind: str
    places: tuple[Place, ...]
    left_out: tuple[LeftOut, ...] = ()
    notes: tuple[str, ...] = ()


@dataclass(frozen=True, kw_only=True)
class OrderView:
    """The order as the page shows it."""

    id: str
    name: str
    said: Line
    table: Table
    left_out: tuple[tuple[Name, Line], ...]
    notes: tuple[Name, ...]


def order_view(order: PointOrder) -> OrderView:
    """Return the order of coolers as a sentence, a table and what was left out."""
    columns = (
        Column(key="place", label="Place", numeric=True),
        figure_column(order.kind),
        Column(key="behind", label="Behind the first", unit=unit(_unit(order)), numeric=True),
        text_column("letters", "Ties"),
        text_column("tested", "Tested"),
    )
    rows = tuple(_row(place, rank) for place, rank in zip(order.places, places(order.places), strict=True))
    caption = f"Coolers in order at {order.name}"
    return OrderView(
        id=f"order-{order.point}",
        name=order.name,
        said=_said(order),
        table=Table(
            id=f"table-{order.point}", caption=caption, head="Cooler", columns=columns, rows=rows, missing="none"
        ),
        left_out=tuple((Name(text=x.subject.cooler.name, href=x.subject.href), (x.reason,)) for x in order.left_out),
        notes=tuple(Name(text=n) for n in order.notes),
    )


def _unit(order: PointOrder) -> str:
    found = next((p.figure.estimate.unit for p in order.places), "K")
    return "K" if found == "degC" else found


def _row(place: Place, rank: str) -> Row:
    return Row(
        head=(Name(text=place.subject.cooler.name, href=place.subject.href),),
        cells=(
            (rank,),
            (num(place.figure.estimate),),
            (num(place.behind, sign=True),) if place.behind else (),
            (place.letters,),
            (day(place.subject.bundle.tested),),
        ),
    )


def places(ordered: Sequence[Place]) -> tuple[str, ...]:
    """Return each result's place: tied with a better one, it shares that one's place.

    >>> places(())
    ()
    """
    found: list[str] = []
    for index, place in enumerate(ordered):
        tied = next((i for i in range(index) if set(ordered[i].letters) & set(place.letters)), index)
        found.append(found[tied] if tied < index else str(index + 1))
    return tuple(found)


def _said(order: PointOrder) -> Line:
    if not order.places:
        return ("No two results compare at this test point.",)
    if len(order.places) == 1:
        return ("One result only, so there is nothing to compare it with.",)
    first = order.places[0]
    tied = [p for p in order.places if set(p.letters) & set(first.letters)]
    names = joined([(_name(p),) for p in tied])
    if len(tied) == 1:
        return (*names, " runs coolest, by more than the uncertainty of the difference.")
    tail = f"the differences between these {count(len(tied), 'cooler')} are smaller than their uncertainty."
    return (*names, f" share first place: {tail}")


def _name(place: Place) -> Name:
    return Name(text=place.subject.cooler.name)
