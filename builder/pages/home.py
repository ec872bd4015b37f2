"""The home page: the newest results, and how much the archive holds."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import partial

from builder.archive.catalogue import Archive
from builder.comparison import Subject, Tested, leads
from builder.pages.facts import Fact, fact, known
from builder.pages.finding import finding
from builder.pages.page import Makers, Page, short_description
from builder.pages.parts import Day, Line, Name, Num, day, heading, num, plain, text
from builder.pages.site_input import SiteInput


@dataclass(frozen=True, kw_only=True, eq=False)
class Latest:
    """One of the newest results on the home page."""

    heading: Line
    href: str
    day: Day
    said: Line
    number: Num | None


@dataclass(frozen=True, kw_only=True, eq=False)
class HomeView:
    """What the home page shows."""

    title: Name
    summary: Line
    latest: tuple[Latest, ...]
    counts: tuple[Fact, ...]


def pages(given: SiteInput) -> Makers:
    """Return the home page."""
    return {"index.html": partial(_page, given)}


def _page(given: SiteInput) -> Page:
    archive = given.catalogue.archive
    said = archive.summary or f"Cooler tests by {archive.channel}: every figure with its uncertainty."
    return Page(
        path="index.html",
        template="pages/home.html",
        title=site_title(archive),
        description=short_description(said),
        view=home_view(archive, given.tested, given.subjects),
        section="index.html",
    )


def home_view(archive: Archive, tested: Tested, subjects: Sequence[Subject], *, shown: int = 5) -> HomeView:
    """Return the home page: the newest results and how much the archive holds."""
    years = sorted({s.bundle.tested.year for s in subjects})
    since: Line = (str(years[0]),) if years else ()
    return HomeView(
        title=Name(text=site_title(archive)),
        summary=text(archive.summary),
        latest=tuple(_latest(tested, s) for s in subjects[:shown]),
        counts=known(
            fact("Results", (plain(len(subjects)),)),
            fact("Cards", (plain(len({s.bundle.card for s in subjects})),)),
            fact("Coolers", (plain(len({s.bundle.cooler for s in subjects})),)),
            fact("Runs", (plain(sum(len(p.runs) for s in subjects for p in s.result.points)),)),
            fact("Since", since),
        ),
    )


def _latest(tested: Tested, subject: Subject) -> Latest:
    stock = subject.stock
    rise = stock.figures.get("core_rise") if stock and leads(stock) else None
    return Latest(
        heading=heading(subject),
        href=subject.href,
        day=day(subject.shown_on),
        said=finding(subject, tested).sentence,
        number=num(rise.estimate) if rise else None,
    )


def site_title(archive: Archive) -> str:
    """Return the site's name: the tester's own, or one made from the channel's."""
    return archive.title or f"{archive.channel}: cooler tests"
