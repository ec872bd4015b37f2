"""The pages that put results side by side: one for any results, and one for each card with its ready pairs."""

from __future__ import annotations

from collections.abc import Iterable, Sequence

from builder.compare import Tested
from builder.pages.kinds import Page
from builder.views.sidebyside import CardPairs, side_by_side_view
from builder.views.subject import Subject
from builder.views.text import Name

ADDRESS = "compare.html"
TITLE = "Side by side"


def side_by_side_pages(tested: Tested, found: Sequence[Subject]) -> Iterable[Page]:
    """Return the page for any results, then those of the cards."""
    view = side_by_side_view(tested, found)
    yield Page(
        path=ADDRESS,
        template="pages/compare.html",
        title=TITLE,
        description="Two to four results side by side: every figure, the difference with its uncertainty, the verdict.",
        view=view,
        section=ADDRESS,
        scripts=("nodes.js", "compare-state.js", "compare-data.js", "compare.js"),
        depends_on=tuple(f"bundle:{s.id}" for s in found),
    )
    for card in view.cards:
        yield _card(card, [s for s in found if s.bundle.card == card.id])


def _card(view: CardPairs, mine: Sequence[Subject]) -> Page:
    return Page(
        path=view.href,
        template="pages/neighbours.html",
        title=f"{TITLE} on the {view.name.text}",
        description=f"Neighbours in the order of coolers on the {view.name.text}: every figure and its difference.",
        view=view,
        section=ADDRESS,
        trail=(Name(text=TITLE, href=ADDRESS), Name(text=view.name.text, href=f"cards/{view.id}.html")),
        depends_on=(f"card:{view.id}", *(f"bundle:{s.id}" for s in mine)),
    )
