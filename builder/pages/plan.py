"""The plan of the site: which page stands at which address, and what it is made from."""

from __future__ import annotations

import re
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from collections.abc import Set as AbstractSet
from dataclasses import replace
from functools import partial

from builder.charts.base import Chart
from builder.compare import Basis, Tested
from builder.content import Fragment, cautions_for, render_markdown
from builder.errors import Problem, Span
from builder.model import Archive, PointRole
from builder.pages.archive import archive_pages
from builder.pages.charts import history_charts, order_chart, result_charts
from builder.pages.figures import figure_place
from builder.pages.kinds import (
    CardPage,
    DrawnOrder,
    Extras,
    Missing,
    Moved,
    Page,
    ResultPage,
    Site,
    SiteInput,
    SitePlan,
)
from builder.pages.photos import photo_views
from builder.pages.sidebyside import side_by_side_pages
from builder.photos import Photo
from builder.views.card import card_view
from builder.views.cooler import cooler_view
from builder.views.data import data_view
from builder.views.home import home_view, site_title
from builder.views.lists import ListView, cards_list, coolers_list, corrections_list, protocols_list
from builder.views.pairs import pair_files
from builder.views.protocol import protocol_view
from builder.views.ranking import OrderView
from builder.views.result import result_view
from builder.views.room import room_view
from builder.views.subject import Subject, subjects
from builder.views.text import Name, Outside, day, plain_text

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


def _outline(path: str) -> Page:
    """Return a page that has its address only, where another one is wanted and this one would cost much."""
    return Page(path=path, template="", title="", description="", view=Missing(suggestions=()))


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


# --- pages -----------------------------------------------------------------------------------------------------


def _home(data: SiteInput, tested: Tested, found: Sequence[Subject]) -> Page:
    archive = data.catalogue.archive
    return Page(
        path="index.html",
        template="pages/home.html",
        title=site_title(archive),
        description=_short(archive.summary or f"Cooler tests by {archive.channel}: every figure with its uncertainty."),
        view=home_view(archive, tested, found),
        section="index.html",
        depends_on=("archive", *_bundles(found)),
    )


def _results(data: SiteInput, tested: Tested, found: Sequence[Subject], only: str) -> Iterable[Page]:
    for subject in found:
        if only not in ("", subject.href):
            yield _outline(subject.href)
            continue
        photos = data.photos.get(subject.id, {})
        view = ResultPage(
            result=result_view(subject, tested),
            charts=result_charts(subject, tested),
            notes=_notes(data, subject, tested, photos),
            photos=photo_views(subject, photos),
            cautions=cautions_for(data.cautions, "result page", subject.cooler.kind),
            safety=Name(text="safety notes", href="safety.html") if "safety" in data.pages else None,
            downloads=data.downloads.get(subject.id, ()),
        )
        yield Page(
            path=subject.href,
            template="pages/result.html",
            title=_told_apart(subject, found),
            description=_short(plain_text(view.result.verdict)),
            view=view,
            section="archive.html",
            trail=(Name(text="Archive", href="archive.html"), subject.card_name),
            scripts=("charts.js", "timeline.js") if view.charts.run else ("charts.js",),
            depends_on=(*_depends(subject), *_bundles(s for s in found if s.bundle.card == subject.bundle.card)),
        )


def _told_apart(subject: Subject, found: Sequence[Subject]) -> str:
    """Return a result's title, with the day of the test where another result has the same."""
    alike = [s for s in found if s.title == subject.title]
    return f"{subject.title}, tested {subject.bundle.tested.isoformat()}" if len(alike) > 1 else subject.title


def _notes(data: SiteInput, subject: Subject, tested: Tested, photos: Mapping[str, Photo]) -> Fragment:
    return render_markdown(
        data.notes.get(subject.id, ""),
        root="../",
        shift=2,
        prefix="notes-",
        photos=photos,
        figures=partial(figure_place, subject.id, tested),
    )


def _depends(subject: Subject) -> tuple[str, ...]:
    bundle = subject.bundle
    return (
        f"card:{bundle.card}",
        f"cooler:{bundle.cooler}",
        f"bench:{bundle.bench}",
        f"protocol:{bundle.protocol}",
    )


def _cards(data: SiteInput, tested: Tested, found: Sequence[Subject], only: str) -> Iterable[Page]:
    trail = (Name(text="Cards", href="cards/index.html"),)
    yield _list("cards", "Cards", "The graphics cards that coolers were tested on.", cards_list(data.catalogue, found))
    for key, card in data.catalogue.cards.items():
        if only not in ("", f"cards/{key}.html"):
            yield _outline(f"cards/{key}.html")
            continue
        mine = [s for s in found if s.bundle.card == key]
        yield Page(
            path=f"cards/{key}.html",
            template="pages/card.html",
            title=card.name,
            description=_short(f"Coolers tested on the {card.name}, in order, with ties and uncertainty."),
            view=_card_page(key, tested, mine),
            section="cards/index.html",
            trail=trail,
            scripts=("charts.js", "nodes.js", "ticks.js"),
            depends_on=(f"card:{key}", *_bundles(mine)),
        )


def _card_page(key: str, tested: Tested, mine: Sequence[Subject]) -> CardPage:
    view = card_view(key, tested, mine)
    orders = tuple(DrawnOrder(order=order, chart=_stock_chart(tested, order)) for order in view.orders)
    return CardPage(card=view, orders=orders, history=history_charts(key, tested))


def _stock_chart(tested: Tested, order: OrderView) -> Chart | None:
    if order.ranking.group.role is not PointRole.STOCK or order.ranking.basis is not Basis.MEASURED:
        return None
    return order_chart(tested, order.ranking, chart_id=f"chart-{order.id}")


def _coolers(data: SiteInput, tested: Tested, found: Sequence[Subject]) -> Iterable[Page]:
    trail = (Name(text="Coolers", href="coolers/index.html"),)
    yield _list("coolers", "Coolers", "The coolers that were tested.", coolers_list(data.catalogue, found))
    for key, cooler in data.catalogue.coolers.items():
        mine = [s for s in found if s.bundle.cooler == key]
        yield Page(
            path=f"coolers/{key}.html",
            template="pages/cooler.html",
            title=cooler.name,
            description=_short(f"Results of the {cooler.name} on every card on which it was tested."),
            view=cooler_view(key, tested, mine),
            section="coolers/index.html",
            trail=trail,
            scripts=("nodes.js", "ticks.js"),
            depends_on=(f"cooler:{key}", *_bundles(mine)),
        )


def _protocols(data: SiteInput, found: Sequence[Subject]) -> Iterable[Page]:
    trail = (Name(text="Protocols", href="protocols/index.html"),)
    listed = protocols_list(data.catalogue, found)
    yield _list("protocols", "Protocols", "The procedures that sessions follow.", listed)
    for key, protocol in data.catalogue.protocols.items():
        mine = [s for s in found if s.bundle.protocol == key]
        yield Page(
            path=f"protocols/{key}.html",
            template="pages/protocol.html",
            title=f"Protocol {protocol.name}",
            description=_short(protocol.summary or f"Test points and settling rule of {protocol.name}."),
            view=protocol_view(protocol, mine, data.catalogue),
            section="methodology.html",
            trail=trail,
            scripts=("nodes.js", "ticks.js"),
            depends_on=(f"protocol:{key}", *_bundles(mine)),
        )


def _list(folder: str, title: str, description: str, view: ListView) -> Page:
    return Page(
        path=f"{folder}/index.html",
        template="pages/list.html",
        title=title,
        description=description,
        view=view,
        section=f"{folder}/index.html",
        depends_on=("catalogue",),
    )


def _corrections(found: Sequence[Subject]) -> Page:
    return Page(
        path="corrections.html",
        template="pages/list.html",
        title="Corrections",
        description="Published figures that were wrong, with the old figure, the new one and the reason.",
        view=corrections_list(found),
        section="corrections.html",
        depends_on=_bundles(found),
    )


def _data(data: SiteInput, found: Sequence[Subject]) -> Iterable[Page]:
    if not data.extras.data:
        return
    terms = data.catalogue.archive.licence
    licence = ("Terms of use: ", Outside(text=terms.name, url=terms.url), ".") if terms else ()
    yield Page(
        path="data.html",
        template="pages/data.html",
        title="Data",
        description="Every published figure and log as plain files, with their columns, units, sizes and hashes.",
        view=data_view(data.extras.data, found, licence),
        section="data.html",
        depends_on=("archive", *_bundles(found)),
    )


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


def _room(tested: Tested, found: Sequence[Subject]) -> Page:
    return Page(
        path="room.html",
        template="pages/room.html",
        title="In your room",
        description="What a tested cooler would reach at your ambient temperature and board power, with its range.",
        view=room_view(tested, found),
        section="room.html",
        scripts=("values.js", "figures.js", "compare-state.js", "room.js"),
        depends_on=_bundles(found),
    )


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


def _bundles(found: Iterable[Subject]) -> tuple[str, ...]:
    return tuple(f"bundle:{s.id}" for s in found)


_LONGEST = 155


def _short(text: str) -> str:
    """Return a text cut at a word to the length that previews show."""
    line = " ".join(text.split(" ")).replace("\n", " ").strip()
    if len(line) <= _LONGEST:
        return line
    return f"{line[:_LONGEST].rsplit(' ', 1)[0]} …"
