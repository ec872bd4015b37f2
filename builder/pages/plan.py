"""The plan of the site: which page stands at which address, and what it is made from."""

from __future__ import annotations

import re
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from collections.abc import Set as AbstractSet
from dataclasses import dataclass, replace
from functools import partial
from typing import TypeAlias

from builder.archive.catalogue import Archive
from builder.comparison import Tested
from builder.comparison.subject import subjects
from builder.core.errors import Problem, Span
from builder.pages.archive_table import ArchiveView, archive_pages
from builder.pages.card import CardPage, _cards
from builder.pages.cooler import CoolerView, _coolers
from builder.pages.data import DataView, _data
from builder.pages.home import HomeView, _home, site_title
from builder.pages.lists import ListView, _corrections
from builder.pages.markdown import Fragment, render_markdown
from builder.pages.page import Missing, Page, _outline, _short
from builder.pages.parts import Name, Outside, day
from builder.pages.protocol import ProtocolView, _protocols
from builder.pages.result import ResultPage, _results, figure_place
from builder.pages.room import RoomView, _room
from builder.pages.side_by_side import CardPairs, SideBySideView, side_by_side_pages
from builder.pages.side_by_side_data import pair_files
from builder.pages.site_input import Extras, Site, SiteInput, SitePlan


@dataclass(frozen=True, kw_only=True)
class Moved:
    """A page that stands where another one used to be."""

    target: Name


View: TypeAlias = (
    HomeView
    | ArchiveView
    | ResultPage
    | CardPage
    | CoolerView
    | ProtocolView
    | ListView
    | DataView
    | RoomView
    | SideBySideView
    | CardPairs
    | Fragment
    | Moved
    | Missing
)

_OWN_PAGE = re.compile(r"[a-z0-9]+(?:-[a-z0-9]+)*")
_ADDRESS = re.compile(r"(?:[a-z0-9][a-z0-9._-]*/)*[a-z0-9][a-z0-9._-]*\.html")


def nothing_between() -> None:
    """Do nothing between two pages."""


def site_plan(data: SiteInput, only: str = "", between: Callable[[], None] = nothing_between) -> SitePlan:
    """Return the plan of the whole site. Pure: no file is read or written, no clock is asked.

    `only` is the address of the one page to plan, for a preview that shows it before the rest is made; where the site
    has no such page the plan has none. `between` is called after each page, and may raise to end the work.
    """
    tested = Tested(catalogue=data.catalogue, results=data.results)
    made: list[Page] = []
    for page in _pages(data, tested, only):
        between()
        made.append(page)
    made += _word_pages(data, tested, {p.path for p in made})
    moved, problems = _moved(data.catalogue.archive, {p.path for p in made})
    pages = tuple(sorted((_with_extras(p, data.extras) for p in [*made, *moved]), key=lambda p: p.path))
    site = _site(data, pages)
    if only:
        return SitePlan(site=site, pages=tuple(p for p in pages if p.path == only))
    return SitePlan(site=site, pages=pages, problems=problems, data=pair_files(tested))


def _pages(data: SiteInput, tested: Tested, only: str) -> Iterator[Page]:
    found = subjects(data.catalogue, data.results)
    yield _home(data, tested, found)
    yield from archive_pages(found)
    yield from _results(data, tested, found, only)
    yield from _cards(data, tested, found, only)
    yield from _coolers(data, tested, found)
    yield from _protocols(data, found)
    yield _corrections(found)
    yield from _data(data, found)
    yield _outline("room.html") if only not in ("", "room.html") else _room(tested, found)
    yield from side_by_side_pages(tested, found) if only[:7] in ("", "compare") else [_outline("compare.html")]
    yield _missing(data)


# --- the site as a whole ---------------------------------------------------------------------------------------

_NAVIGATION = {
    "archive.html": "Archive",
    "cards/index.html": "Cards",
    "coolers/index.html": "Coolers",
    "compare.html": "Side by side",
    "room.html": "In your room",
    "methodology.html": "Methodology",
    "corrections.html": "Corrections",
    "about.html": "About",
}
_FOOTER = {
    "protocols/index.html": "Protocols",
    "safety.html": "Safety notes",
    "glossary.html": "Glossary",
    "data.html": "Data",
}


def _site(data: SiteInput, pages: Sequence[Page]) -> Site:
    archive = data.catalogue.archive
    paths = {p.path for p in pages}
    own = {p.path: p.title for p in pages if p.template == "pages/words.html"}
    extra = {path: title for path, title in own.items() if path not in _NAVIGATION and path not in _FOOTER}
    return Site(
        title=site_title(archive),
        channel=archive.channel,
        notice=archive.notice,
        language=archive.language,
        base_url=archive.base_url.rstrip("/") + "/" if archive.base_url else "",
        contact=Outside(text="Contact", url=archive.contact) if archive.contact else None,
        navigation=_menu(_NAVIGATION, paths),
        footer=_menu({**_FOOTER, **extra}, paths),
        built=day(data.built) if data.built else None,
        feed="feed.xml" if data.extras.feed else "",
    )


def _menu(entries: Mapping[str, str], paths: set[str]) -> tuple[Name, ...]:
    return tuple(Name(text=label, href=href) for href, label in entries.items() if href in paths)


def _with_extras(page: Page, extras: Extras) -> Page:
    return replace(page, linked=extras.linked.get(page.path, ""), preview=extras.previews.get(page.path))


def _word_pages(data: SiteInput, tested: Tested, taken: AbstractSet[str]) -> Iterable[Page]:
    for name, text in sorted(data.pages.items()):
        if not _OWN_PAGE.fullmatch(name) or f"{name}.html" in taken:
            continue
        fragment = render_markdown(text, figures=partial(figure_place, "", tested))
        title = fragment.title or name.replace("-", " ").capitalize()
        yield Page(
            path=f"{name}.html",
            template="pages/words.html",
            title=title,
            description=_short(_first_paragraph(text) or title),
            view=fragment,
            section=f"{name}.html",
            depends_on=(f"page:{name}",),
        )


def _first_paragraph(text: str) -> str:
    blocks = (" ".join(block.split()) for block in text.split("\n\n"))
    first = next((b for b in blocks if b and not b.startswith(("#", "|", "-", ">", "<"))), "")
    return re.sub(r"\[([^\]]*)\]\([^)]*\)|[*`]", r"\1", first)


def _missing(data: SiteInput) -> Page:
    # A host shows this page at addresses of any depth, so its links are complete where the site's address is known.
    base = data.catalogue.archive.base_url
    suggestions = (
        Name(text="Home", href="index.html"),
        Name(text="All results", href="archive.html"),
        Name(text="Cards", href="cards/index.html"),
        Name(text="Coolers", href="coolers/index.html"),
    )
    return Page(
        path="404.html",
        template="pages/missing.html",
        title="Page not found",
        description="There is no page at this address.",
        view=Missing(suggestions=suggestions),
        indexed=False,
        link_base=base.rstrip("/") + "/" if base else "",
    )


def _moved(archive: Archive, taken: set[str]) -> tuple[list[Page], tuple[Problem, ...]]:
    pages, problems = [], []
    for old, new in archive.moved.items():
        if trouble := _moved_trouble(old, new, taken):
            problems.append(Problem(code="moved-address", where=Span(file="archive.yaml"), message=trouble))
            continue
        pages.append(
            Page(
                path=old,
                template="pages/moved.html",
                title=f"{old} has moved",
                description=f"This page has moved to {new}.",
                view=Moved(target=Name(text=new, href=new)),
                indexed=False,
                depends_on=("archive",),
            )
        )
    return pages, tuple(problems)


def _moved_trouble(old: str, new: str, taken: set[str]) -> str:
    if not _ADDRESS.fullmatch(old):
        return f'moved: "{old}" is not the address of a page, such as results/old-name.html'
    if old in taken:
        return f'moved: "{old}" is the address of a page that exists'
    if new not in taken:
        return f'moved: there is no page "{new}" to lead to'
    return ""
