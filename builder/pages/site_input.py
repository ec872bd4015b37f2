"""What the site is made from: the archive with its figures, words and photos, and the files for programs."""

from __future__ import annotations

import datetime as dt
from collections.abc import Mapping
from dataclasses import dataclass, field
from functools import cached_property

from builder.archive.catalogue import Catalogue
from builder.archive.safety_cautions import Caution
from builder.comparison import Subject, Tested, subjects
from builder.core.results import BundleResult
from builder.pages.chart_view import Draw, drawn
from builder.pages.page import DataEntry, Download, Preview
from builder.pages.photo_sizes import Photo


@dataclass(frozen=True, kw_only=True)
class Extras:
    """What pages say of the files for programs: data files, whether there is a feed, linked data and previews.

    `data` is by result, with the files of the whole archive under an empty name; `linked` (JSON that can stand inside a
    script element) and `previews` are by page address.
    """

    data: Mapping[str, tuple[DataEntry, ...]] = field(default_factory=dict)
    feed: bool = False
    linked: Mapping[str, str] = field(default_factory=dict)
    previews: Mapping[str, Preview] = field(default_factory=dict)


@dataclass(frozen=True, kw_only=True, eq=False)
class SiteInput:
    """Everything that the site is made from.

    `pages` and `notes` are Markdown by page name (`methodology`) and by bundle; `downloads` are by bundle; `photos` are
    by bundle, then by the file that names them; `built` is the day that pages show, none where it is not given;
    `draw` gives the picture of a chart, or the one that was made before.
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
    draw: Draw = drawn

    @cached_property
    def tested(self) -> Tested:
        """The archive with its figures, as comparison works on it; what is judged once is kept for all pages."""
        return Tested(catalogue=self.catalogue, results=self.results)

    @cached_property
    def subjects(self) -> tuple[Subject, ...]:
        """Every result with all that it refers to, newest first."""
        return subjects(self.catalogue, self.results)
