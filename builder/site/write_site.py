"""The whole site as files: plan, pages and static files of one archive."""

from __future__ import annotations

import io
from collections.abc import Callable, Iterable, Iterator, Mapping
from dataclasses import dataclass
from functools import partial
from pathlib import Path
from typing import Protocol, TypeVar

from jinja2 import TemplateError

from builder.archive import Loaded
from builder.archive.catalogue import Catalogue
from builder.charts.chart import Chart
from builder.charts.svg import chart_svg
from builder.core.errors import Problem, SoakbookError
from builder.core.files import content_dir, themes_dir
from builder.core.results import BundleResult
from builder.pages import Download, Extras, Page, Preview, SiteInput, SitePlan, site_plan
from builder.pages.data import size_text
from builder.pages.page import DataEntry
from builder.site.addresses import changed_days
from builder.site.exports import ExportInput, Exports, make_exports
from builder.site.feed_and_sitemap import Listed, page_list_files
from builder.site.photos import photo_files, read_photos
from builder.site.preview_picture import PreviewPicture
from builder.site.theme import open_theme, renderer, static_files, template_problem, template_sources
from builder.site.words import read_words

# --- Joins the plan of pages and the files for programs, which do not know each other


_COLOURS = 32


def extras(exports: Exports) -> Extras:
    """Return what pages say of the files for programs."""
    previews = {page: Preview(href=picture.href, alt=picture.alt) for page, picture in exports.previews.items()}
    return Extras(data=exports.entries, feed=exports.has_feed, linked=exports.linked, previews=previews)


def preview_png(picture: PreviewPicture) -> bytes:
    """Return a preview picture as PNG, in few colours, which text on paper needs."""
    import vl_convert
    from PIL import Image

    drawn = Image.open(io.BytesIO(vl_convert.svg_to_png(picture.svg)))
    out = io.BytesIO()
    drawn.convert("RGB").quantize(_COLOURS, dither=Image.Dither.NONE).save(out, "PNG", optimize=True)
    return out.getvalue()


def downloads(entries: Iterable[DataEntry]) -> tuple[Download, ...]:
    """Return data files as a page offers them."""
    return tuple(Download(label=_label(e), href=e.href, note=size_text(e.size)) for e in entries)


def _label(entry: DataEntry) -> str:
    return f"{entry.label}, {entry.href.rpartition('.')[2].upper()}"


def page_lists(catalogue: Catalogue, results: Mapping[str, BundleResult], plan: SitePlan) -> dict[str, bytes]:
    """Return the files for crawlers: every page that search may show, with the day it last changed where known."""
    days = changed_days(catalogue, results)
    listed = [Listed(path=p.path, changed=days.get(p.path)) for p in plan.pages if p.indexed]
    return page_list_files(catalogue.archive, listed)


T = TypeVar("T")


class Keeper(Protocol):
    """Gives what was made before from the same parts, or makes it."""

    def bytes_of(self, kind: str, parts: object, make: Callable[[], bytes]) -> bytes:
        """Return the bytes of one kind of thing that these parts fully decide."""

    def object_of(self, kind: str, parts: object, make: Callable[[], T]) -> T:
        """Return a value that these parts fully decide."""

    def between(self) -> None:
        """Let the work go on, or raise to end it; called between two steps."""


class Anew:
    """A keeper that keeps nothing."""

    def bytes_of(self, kind: str, parts: object, make: Callable[[], bytes]) -> bytes:  # noqa: ARG002 - a Keeper
        """Return newly made bytes."""
        return make()

    def object_of(self, kind: str, parts: object, make: Callable[[], T]) -> T:  # noqa: ARG002 - a Keeper
        """Return a newly made value."""
        return make()

    def between(self) -> None:
        """Let the work go on."""


@dataclass(frozen=True, kw_only=True)
class Focus:
    """The one page to make before all others, with the files for programs as they were before the last change."""

    page: str
    exports: Exports | None = None


class SiteRenderer:
    """Gives the files of the site one after the other; reading and planning are done when it is made.

    With a `focus`, one page and the static files are all there is. Raises SoakbookError where the archive's theme does
    not exist.
    """

    def __init__(
        self,
        *,
        root: Path,
        loaded: Loaded,
        results: Mapping[str, BundleResult],
        keep: Keeper | None = None,
        focus: Focus | None = None,
    ) -> None:
        catalogue = loaded.catalogue
        self._keep: Keeper = keep or Anew()
        self._focus = focus
        self._root = root
        words = read_words(root, content_dir(), catalogue.bundles)
        self._photos = read_photos(root, loaded, words.notes)
        self.exports = (focus.exports if focus else None) or self._exports(loaded, results)
        data = SiteInput(
            catalogue=catalogue,
            results=results,
            pages=words.pages,
            notes=words.notes,
            cautions=words.cautions,
            downloads={bundle: downloads(self.exports.of(bundle)) for bundle in results},
            extras=extras(self.exports),
            photos=self._photos.by_bundle,
        )
        theme = open_theme(themes_dir(), catalogue.archive.theme, root / "theme")
        self.plan: SitePlan = site_plan(data, focus.page if focus else "", self._keep.between)
        self.problems: tuple[Problem, ...] = (
            *words.problems,
            *self._photos.problems,
            *self.plan.problems,
            *self.exports.problems,
        )
        self._templates = template_sources(theme)
        self._renderer = renderer(theme, self._picture)
        self._static = static_files(theme)
        self._lists = {} if focus else page_lists(catalogue, results, self.plan)

    def _exports(self, loaded: Loaded, results: Mapping[str, BundleResult]) -> Exports:
        where = loaded.where("archive", "archive", "base_url")
        given = ExportInput(catalogue=loaded.catalogue, results=results, where=where)
        return make_exports(given, self._keep.object_of)

    @property
    def total(self) -> int:
        """Return how many files the site has."""
        files = (
            self.plan.pages,
            self.plan.data,
            self._static,
            self.exports.files,
            self.exports.previews,
            self._lists,
        )
        return sum(map(len, files)) + self._photos.files

    def files(self) -> Iterator[tuple[str, bytes]]:
        """Give the address and bytes of every file, pages first, in a fixed order."""
        for page in self.plan.pages:
            yield page.path, self._page(page)
        yield from ((path, text.encode("ascii")) for path, text in self.plan.data.items())
        yield from self._static.items()
        if self._focus:
            return
        yield from self.exports.files.items()
        yield from self._lists.items()
        for picture in self.exports.previews.values():
            yield picture.href, self._keep.bytes_of("preview", picture, partial(preview_png, picture))
        yield from photo_files(self._root, self._photos)

    def _page(self, page: Page) -> bytes:
        # Everything that a template is given: the site's frame, the page with its view, and the templates themselves.
        parts = (self.plan.site, page, self._templates)
        try:
            return self._keep.bytes_of("page", parts, partial(self._renderer.page, self.plan, page))
        except (TemplateError, ValueError) as trouble:
            problem = template_problem(trouble, self._root)
            if problem is None:
                raise
            raise SoakbookError([problem]) from trouble

    def _picture(self, chart: Chart) -> str:
        return self._keep.bytes_of("chart", chart, lambda: chart_svg(chart, uid=chart.id).encode()).decode()


def static_of(root: Path, theme: str) -> Mapping[str, bytes]:
    """Return the static files of an archive's site. Raises SoakbookError where its theme does not exist."""
    return static_files(open_theme(themes_dir(), theme, root / "theme"))


def words_problems(root: Path, loaded: Loaded) -> tuple[Problem, ...]:
    """Return what is wrong with pages, notes and photos, without making the site."""
    words = read_words(root, content_dir(), loaded.catalogue.bundles)
    return (*words.problems, *read_photos(root, loaded, words.notes).problems)
