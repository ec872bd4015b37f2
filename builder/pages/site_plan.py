"""The plan of the site: every address with what makes its page, and the frame that all pages share."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from collections.abc import Set as AbstractSet
from dataclasses import dataclass, field, replace
from functools import partial

from builder.core.errors import Problem
from builder.pages import (
    archive_table,
    card,
    cooler,
    data,
    home,
    lists,
    markdown_pages,
    no_page,
    protocol,
    result,
    room,
    side_by_side,
)
from builder.pages.home import site_title
from builder.pages.page import LazyMapping, Makers, Page
from builder.pages.parts import Day, Name, Outside, day
from builder.pages.side_by_side_data import pair_files
from builder.pages.site_input import Extras, SiteInput

# Each module is a page, or pages of one kind: its function `pages` gives their addresses with what makes them.
_MODULES = (
    home,
    archive_table,
    result,
    card,
    cooler,
    protocol,
    lists,
    data,
    room,
    side_by_side,
    no_page,
)
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


@dataclass(frozen=True, kw_only=True)
class Site:
    """What every page shows of the site as a whole; `feed` is its address from the site's root."""

    title: str
    channel: str
    notice: str
    language: str
    base_url: str
    contact: Outside | None
    navigation: tuple[Name, ...]
    footer: tuple[Name, ...]
    built: Day | None
    feed: str = ""


@dataclass(frozen=True, kw_only=True, eq=False)
class SitePlan:
    """Every page by address, in the order of addresses, and what they share; a page is made when it is asked for.

    `listed` are the addresses that search may show; `data` are scripts that hold nothing but data, by address, which a
    page's own script loads as it needs them; `problems` are those of the addresses that the archive names.
    """

    site: Site
    pages: Mapping[str, Page]
    listed: tuple[str, ...]
    problems: tuple[Problem, ...] = ()
    data: Mapping[str, str] = field(default_factory=dict)


def site_plan(given: SiteInput) -> SitePlan:
    """Return the plan of the whole site. Pure: no file is read or written, no clock is asked."""
    texts = markdown_pages.pages(given)
    fixed: Makers = {path: make for module in _MODULES for path, make in module.pages(given).items()}
    own = {**texts, **fixed}  # a text cannot take the address of another page
    moved = no_page.moved_pages(given, own.keys())
    every: Makers = dict(sorted({**own, **moved}.items()))
    hidden = {*moved, *no_page.pages(given)}
    added = sorted(texts.keys() - fixed.keys() - _NAVIGATION.keys() - _FOOTER.keys())
    return SitePlan(
        site=_site(given, every.keys(), {path: texts[path]().title for path in added}),
        pages=LazyMapping({path: partial(_with_extras, make, given.extras) for path, make in every.items()}),
        listed=tuple(path for path in every if path not in hidden),
        problems=no_page.moved_problems(given, own.keys()),
        data=pair_files(given.tested),
    )


def _with_extras(make: Callable[[], Page], extras: Extras) -> Page:
    page = make()
    return replace(page, linked=extras.linked.get(page.path, ""), preview=extras.previews.get(page.path))


def _site(given: SiteInput, paths: AbstractSet[str], added: Mapping[str, str]) -> Site:
    """Return the frame; `added` are titles, by address, of the tester's own pages that no menu names."""
    archive = given.catalogue.archive
    return Site(
        title=site_title(archive),
        channel=archive.channel,
        notice=archive.notice,
        language=archive.language,
        base_url=archive.base_url.rstrip("/") + "/" if archive.base_url else "",
        contact=Outside(text="Contact", url=archive.contact) if archive.contact else None,
        navigation=_menu(_NAVIGATION, paths),
        footer=_menu({**_FOOTER, **added}, paths),
        built=day(given.built) if given.built else None,
        feed="feed.xml" if given.extras.feed else "",
    )


def _menu(entries: Mapping[str, str], paths: AbstractSet[str]) -> tuple[Name, ...]:
    return tuple(Name(text=label, href=href) for href, label in entries.items() if href in paths)
