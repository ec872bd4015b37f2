"""What the site is made from, and what its plan consists of."""

from __future__ import annotations

import datetime as dt
from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import TypeAlias

from builder.charts.base import Chart
from builder.content import Caution, Fragment
from builder.errors import Problem
from builder.figures import BundleResult
from builder.model import Catalogue
from builder.photos import Photo
from builder.views.archive import ArchiveView
from builder.views.card import CardView
from builder.views.cooler import CoolerView
from builder.views.data import DataEntry, DataView
from builder.views.home import HomeView
from builder.views.lists import ListView
from builder.views.protocol import ProtocolView
from builder.views.ranking import OrderView
from builder.views.result import ResultView
from builder.views.room import RoomView
from builder.views.sidebyside import CardPairs, SideBySideView
from builder.views.text import Day, Name, Outside


@dataclass(frozen=True, kw_only=True)
class Download:
    """A file that a page offers: its address from the site's root, and what it holds."""

    label: str
    href: str
    note: str = ""


@dataclass(frozen=True, kw_only=True)
class Preview:
    """The picture that stands for a page where it is linked from: its address from the site's root, and its words."""

    href: str
    alt: str


@dataclass(frozen=True, kw_only=True)
class Extras:
    """What pages say of the files for programs: data files, whether there is a feed, linked data and previews.

    `linked` (JSON that can stand inside a script element) and `previews` are by page address.
    """

    data: tuple[DataEntry, ...] = ()
    feed: bool = False
    linked: Mapping[str, str] = field(default_factory=dict)
    previews: Mapping[str, Preview] = field(default_factory=dict)


@dataclass(frozen=True, kw_only=True, eq=False)
class SiteInput:
    """Everything that the site is made from.

    `pages` and `notes` are Markdown by page name (`methodology`) and by bundle; `downloads` are by bundle; `photos` are
    by bundle, then by the file that names them; `built` is the day that pages show, none where it is not given.
    """

    catalogue: Catalogue
    results: Mapping[str, BundleResult]
    pages: Mapping[str, str] = field(default_factory=dict)
    notes: Mapping[str, str] = field(default_factory=dict)
    cautions: tuple[Caution, ...] = ()
    downloads: Mapping[str, tuple[Download, ...]] = field(default_factory=dict)
    built: dt.date | None = None
    extras: Extras = Extras()
    photos: Mapping[str, Mapping[str, Photo]] = field(default_factory=dict)


@dataclass(frozen=True, kw_only=True)
class Site:
    """What every page shows of the site as a whole."""

    title: str
    channel: str
    notice: str
    language: str
    base_url: str
    contact: Outside | None
    navigation: tuple[Name, ...]
    footer: tuple[Name, ...]
    built: Day | None
    feed: str = ""  # its address from the site's root


@dataclass(frozen=True, kw_only=True)
class ResultCharts:
    """The charts of a result page; None where its figures do not suffice for one."""

    coolers: Chart | None = None
    points: Chart | None = None
    changes: Chart | None = None
    power: Chart | None = None
    efficiency: Chart | None = None
    run: Chart | None = None


@dataclass(frozen=True, kw_only=True)
class PhotoView:
    """A photo as HTML, safe to place on a page, and the words below it."""

    html: str
    caption: str


@dataclass(frozen=True, kw_only=True, eq=False)
class ResultPage:
    """A result page: its figures, charts, the tester's notes, photos, cautions and downloads."""

    result: ResultView
    charts: ResultCharts
    notes: Fragment
    cautions: tuple[Caution, ...]
    safety: Name | None
    photos: tuple[PhotoView, ...]
    downloads: tuple[Download, ...]


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


@dataclass(frozen=True, kw_only=True)
class Moved:
    """A page that stands where another one used to be."""

    target: Name


@dataclass(frozen=True, kw_only=True)
class Missing:
    """The page for an address that does not exist."""

    suggestions: tuple[Name, ...]


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


@dataclass(frozen=True, kw_only=True, eq=False)
class Page:
    """One page: its address from the site's root, template, and what the template shows.

    `section` is the entry of the navigation that it belongs to; `depends_on` names what it was made from
    (`bundle:x`, `card:x`, ...); `link_base` replaces `root` before links where a page is shown at other addresses too.
    """

    path: str
    template: str
    title: str
    description: str
    view: View
    section: str = ""
    trail: tuple[Name, ...] = ()
    scripts: tuple[str, ...] = ()
    depends_on: tuple[str, ...] = ()
    indexed: bool = True
    link_base: str = ""
    linked: str = ""
    preview: Preview | None = None

    @property
    def root(self) -> str:
        """Return what leads from this page to the site's root, such as `../`."""
        return "../" * self.path.count("/")

    @property
    def link_root(self) -> str:
        """Return what stands before the page's links to the site."""
        return self.link_base or self.root


@dataclass(frozen=True, kw_only=True, eq=False)
class SitePlan:
    """All pages, sorted by address, what they share, and what is wrong with the words they were made from.

    `data` are scripts that hold nothing but data, by address; a page's own script loads the ones that it needs.
    """

    site: Site
    pages: tuple[Page, ...]
    problems: tuple[Problem, ...] = ()
    data: Mapping[str, str] = field(default_factory=dict)

    def page(self, path: str) -> Page | None:
        """Return the page at an address, or None."""
        return next((p for p in self.pages if p.path == path), None)
