"""The page that puts any results side by side, and a page for each card with the neighbours in its order as pairs."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from functools import partial
from itertools import pairwise

from builder.archive.protocol import PointRole
from builder.comparison import (
    Direct,
    HeadToHead,
    PointOf,
    Subject,
    Tested,
    VersusRow,
    comparability,
    groups,
    hand_mark,
    head_to_head,
    ranking,
)
from builder.core.results import FIGURES
from builder.pages.page import Makers, Page
from builder.pages.parts import Line, Name, Row, Table, bounded_num, count, num, short_day, text_column
from builder.pages.rankings import group_title
from builder.pages.side_by_side_data import asked_points
from builder.pages.site_input import SiteInput

ADDRESS = "compare.html"
TITLE = "Side by side"


@dataclass(frozen=True, kw_only=True)
class Choice:
    """A result that can be chosen."""

    id: str
    label: str


@dataclass(frozen=True, kw_only=True)
class CardChoices:
    """The results on one card, and the test points that they can be asked for, by id."""

    id: str
    name: str
    results: tuple[Choice, ...]
    points: Mapping[str, str]


@dataclass(frozen=True, kw_only=True, eq=False)
class ReadyPair:
    """Two neighbours in an order, with every figure that both have."""

    id: str
    names: tuple[Name, Name]
    said: str
    table: Table
    query: str  # of the page that compares any results


@dataclass(frozen=True, kw_only=True, eq=False)
class CardPairs:
    """The ready pairs of a card; `table` lists them, `href` leads to their figures."""

    id: str
    name: Name
    lead: str
    href: str
    pairs: tuple[ReadyPair, ...]
    table: Table


@dataclass(frozen=True, kw_only=True, eq=False)
class SideBySideView:
    """The page that puts two to four results side by side."""

    choices: tuple[CardChoices, ...]
    cards: tuple[CardPairs, ...]

    @property
    def points(self) -> dict[str, list[tuple[str, str]]]:
        """Return the test points of every card, in their order, for the page's script."""
        return {card.id: list(card.points.items()) for card in self.choices}


def pages(given: SiteInput) -> Makers:
    """Return the page for any results, and one with ready pairs for every card that has any."""
    paired = (card for card in _cards(given.subjects) if next(_neighbours(given.tested, card), None))
    return {
        ADDRESS: partial(_page, given),
        **{f"compare/{card}.html": partial(_card_page, given.tested, card) for card in paired},
    }


def _page(given: SiteInput) -> Page:
    return Page(
        path=ADDRESS,
        template="pages/compare.html",
        title=TITLE,
        description="Two to four results side by side: every figure, the difference with its uncertainty, the verdict.",
        view=side_by_side_view(given.tested, given.subjects),
        section=ADDRESS,
        scripts=("nodes.js", "compare-state.js", "compare-data.js", "compare.js"),
    )


def _card_page(tested: Tested, card: str) -> Page:
    view = card_pairs(tested, card)
    name = view.name.text
    return Page(
        path=view.href,
        template="pages/neighbours.html",
        title=f"{TITLE} on the {name}",
        description=f"Neighbours in the order of coolers on the {name}: every figure and its difference.",
        view=view,
        section=ADDRESS,
        trail=(Name(text=TITLE, href=ADDRESS), Name(text=name, href=f"cards/{card}.html")),
    )


def side_by_side_view(tested: Tested, subjects: Sequence[Subject]) -> SideBySideView:
    """Return what can be chosen, and the ready pairs of every card that has any."""
    cards = _cards(subjects)
    ready = (card_pairs(tested, card) for card in cards)
    return SideBySideView(
        choices=tuple(_choices(tested, card, [s for s in subjects if s.bundle.card == card]) for card in cards),
        cards=tuple(found for found in ready if found.pairs),
    )


def _cards(subjects: Sequence[Subject]) -> list[str]:
    return [card for _, card in sorted({(s.card.name.casefold(), s.bundle.card) for s in subjects})]


def _choices(tested: Tested, card: str, subjects: Sequence[Subject]) -> CardChoices:
    several = len({s.bundle.card_sample for s in subjects}) > 1
    choices = []
    for s in sorted(subjects, key=lambda s: (s.cooler.name.casefold(), s.bundle.tested, s.id)):
        sample = f", card sample {s.bundle.card_sample.upper()}" if several else ""
        choices.append(Choice(id=s.id, label=f"{s.cooler.name}, {short_day(s.bundle.tested).text}{sample}"))
    return CardChoices(
        id=card,
        name=tested.catalogue.cards[card].name,
        results=tuple(choices),
        points={point.id: point.name for point in asked_points(tested, card)},
    )


def card_pairs(tested: Tested, card: str) -> CardPairs:
    """Return the neighbours in a card's order by core over ambient at stock, for each sample of the card."""
    pairs = tuple(_ready(tested, *pair) for pair in _neighbours(tested, card))
    name = tested.catalogue.cards[card].name
    href = f"compare/{card}.html"
    rows = tuple(
        Row(
            head=(Name(text=f"{pair.names[0].text} and {pair.names[1].text}", href=f"{href}#{pair.id}"),),
            cells=((Name(text=pair.said),),),
        )
        for pair in pairs
    )
    return CardPairs(
        id=card,
        name=Name(text=name),
        lead=(
            f"{count(len(pairs), 'pair')} of neighbours in the order by core over ambient at stock, coolest first, "
            "with the latest test of each cooler."
        ),
        href=href,
        pairs=pairs,
        table=Table(
            id=f"pairs-{card}",
            caption=f"Neighbours on the {name} at stock",
            head="Pair",
            columns=(text_column("verdict", "Core over ambient"),),
            rows=rows,
        ),
    )


def _neighbours(tested: Tested, card: str) -> Iterator[tuple[PointOf, PointOf, str]]:
    """Give the neighbours on a card that compare directly, each pair with the name of its test point."""
    for group in (g for g in groups(tested) if g.card == card and g.role is PointRole.STOCK):
        ordered = [row.bundle for row in ranking(tested, group, "core_rise").rows]
        for pair in pairwise(ordered):
            a, b = (PointOf(bundle=x, point=group.point_of(tested.setup(x).bundle) or "") for x in pair)
            if isinstance(comparability(tested, a, b), Direct):
                yield a, b, group_title(tested, group)


def _ready(tested: Tested, a: PointOf, b: PointOf, title: str) -> ReadyPair:
    found = head_to_head(tested, a, b)
    first, second = (f"{tested.label(x.bundle)}{hand_mark(tested, x.bundle, x.point)}" for x in (a, b))
    labels = (first, second)
    one, two = (Name(text=x, href=f"results/{p.bundle}.html") for x, p in zip(labels, (a, b), strict=True))
    anchor = f"{a.point}-{a.bundle}-and-{b.bundle}"
    return ReadyPair(
        id=anchor,
        names=(one, two),
        said=next((row.text for row in found.rows if row.kind == "core_rise"), ""),
        table=_figures(found, labels, title, anchor),
        query=f"?r={a.bundle}&r={b.bundle}&point={a.point}",
    )


def _figures(found: HeadToHead, labels: tuple[str, str], title: str, anchor: str) -> Table:
    return Table(
        id=f"table-{anchor}",
        caption=f"{labels[0]} and {labels[1]} at {title}",
        head="Figure",
        columns=(
            text_column("a", labels[0]),
            text_column("b", labels[1]),
            text_column("difference", "Difference, first less second"),
            text_column("verdict", "Verdict"),
        ),
        rows=tuple(_row(row) for row in found.rows),
        missing="none",
    )


def _row(row: VersusRow) -> Row:
    sides = ((row.a, row.a_bound), (row.b, row.b_bound))
    values: list[Line] = [(bounded_num(estimate, bound),) if estimate else () for estimate, bound in sides]
    difference: Line = (num(row.difference, sign=True),) if row.difference else ()
    return Row(head=(FIGURES[row.kind].name,), cells=(*values, difference, (Name(text=row.text),)))
