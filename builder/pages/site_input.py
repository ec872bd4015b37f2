"""What the site is made from, and what its plan consists of."""

from __future__ import annotations

import datetime as dt
from collections.abc import Mapping
from dataclasses import dataclass, field

from builder.archive.catalogue import Catalogue
from builder.archive.cautions import Caution
from builder.core.errors import Problem
from builder.core.results import BundleResult
from builder.pages.page import DataEntry, Download, Page, Preview
from builder.pages.parts import Day, Name, Outside
from builder.pages.photo_sizes import Photo


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
