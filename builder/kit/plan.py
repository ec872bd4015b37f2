"""The plan of an episode kit: which parts it has and what each is made from; nothing is read, drawn or written."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from builder.charts import Chart
from builder.compare import PointOf, Tested, group_of, head_to_head
from builder.content import Caution, cautions_for
from builder.errors import Problem, SoakbookError, Span
from builder.kit.captions import Caption, captions
from builder.kit.cards import Card, title_card, versus_card
from builder.kit.description import description_text
from builder.kit.lines import lines_document
from builder.kit.stills import short_name, still_charts, unsettled_mark
from builder.speech import Linked
from builder.views.subject import Subject, subjects

SIZES = ((1920, 1080), (3840, 2160))


@dataclass(frozen=True, kw_only=True, eq=False)
class KitInput:
    """What a kit is made from: a bundle inside its archive, figures that its script links, cautions, the other result.

    `base` is the address of the site with a slash at its end, or empty.
    """

    tested: Tested
    bundle: str
    script: tuple[Linked, ...] = ()
    cautions: tuple[Caution, ...] = ()
    base: str = ""
    against: str = ""


@dataclass(frozen=True, kw_only=True, eq=False)
class KitPlan:
    """The parts of a kit; `mark` is what stills say of runs that had not settled, empty where all had."""

    bundle: str
    mark: str
    charts: tuple[Chart, ...]
    cards: tuple[Card, ...]
    lines: str
    description: str
    captions: tuple[Caption, ...]


def kit_plan(data: KitInput) -> KitPlan:
    """Return the plan of one bundle's kit. Raises SoakbookError where the other result cannot stand beside it."""
    found = {s.id: s for s in subjects(data.tested.catalogue, data.tested.results)}
    subject = found[data.bundle]
    channel = data.tested.catalogue.archive.channel
    cards = [title_card(subject, channel)]
    if data.against:
        cards.append(_against(data, subject, found[data.against], channel))
    shown = cautions_for(data.cautions, "result page", subject.cooler.kind)
    return KitPlan(
        bundle=data.bundle,
        mark=unsettled_mark(subject),
        charts=still_charts(subject, data.tested),
        cards=tuple(cards),
        lines=lines_document(subject, data.tested),
        description=description_text(subject, data.tested, shown, data.base),
        captions=captions(data.script, subject.bundle.episode),
    )


def _against(data: KitInput, subject: Subject, other: Subject, channel: str) -> Card:
    """Return the card of both results at stock, or at the point that the other's protocol calls equivalent."""
    lacking = [s for s in (subject, other) if s.stock is None]
    if subject.stock is None or other.stock is None:
        raise SoakbookError([_no_stock(s) for s in lacking])
    group = group_of(data.tested, subject.id, subject.stock.point)
    there = group.point_of(other.bundle)
    point = there if there and other.result.point(there) else other.stock.point
    found = head_to_head(
        data.tested, PointOf(bundle=subject.id, point=subject.stock.point), PointOf(bundle=other.id, point=point)
    )
    return versus_card(found, data.tested, channel, marks=_marks([subject, other], data.tested))


def _marks(both: Sequence[Subject], tested: Tested) -> list[str]:
    """Return what is said of runs that had not settled, with whose they are."""
    return [f"{short_name(s.id, tested)}, {mark}" for s in both if (mark := unsettled_mark(s))]


def _no_stock(subject: Subject) -> Problem:
    return Problem(
        code="no-stock-run",
        where=Span(file=subject.id),
        message="there is no run at stock settings to set side by side",
        hint="name another result with --against",
    )
