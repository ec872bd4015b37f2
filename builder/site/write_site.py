"""The whole site as files: plan, pages and static files of one archive."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Mapping
from functools import partial
from pathlib import Path
from typing import Protocol, TypeVar

from jinja2 import TemplateError

from builder.archive import Loaded
from builder.archive.catalogue import Catalogue
from builder.charts.chart import Chart
from builder.comparison import Subject
from builder.core.errors import Problem, SoakbookError
from builder.core.files import content_dir, themes_dir
from builder.core.results import BundleResult
from builder.pages import Download, Extras, Preview, SiteInput, SitePlan, site_plan
from builder.pages.chart_view import drawn
from builder.pages.data import size_text
from builder.pages.page import DataEntry, LazyMapping
from builder.site.addresses import changed_days
from builder.site.data_package import ResultFiles, result_files
from builder.site.exports import ExportInput, Exports
from builder.site.feed_and_sitemap import Listed, page_list_files
from builder.site.photos import photo_files, read_photos
from builder.site.preview_picture import preview_png
from builder.site.read_words import read_words
from builder.site.theme import open_theme, renderer, static_files, template_problem, template_sources

T = TypeVar("T")


class Keeper(Protocol):
    """Gives what was made before from the same parts, or makes it."""

    def bytes_of(self, kind: str, parts: object, make: Callable[[], bytes]) -> bytes:
        """Return the bytes of one kind of thing that these parts fully decide."""

    def object_of(self, kind: str, parts: object, make: Callable[[], T]) -> T:
        """Return a value that these parts fully decide."""


class SiteRenderer:
    """Gives the files of the site, each made when it is asked for; reading and planning are done before.

    Raises SoakbookError where the archive's theme does not exist.
    """

    def __init__(self, *, root: Path, loaded: Loaded, results: Mapping[str, BundleResult], keep: Keeper) -> None:
        catalogue = loaded.catalogue
        self._root = root
        self._keep = keep
        words = read_words(root, content_dir(), catalogue.bundles)
        self._photos = read_photos(root, loaded, words.notes)
        where = loaded.where("archive", "archive", "base_url")
        self._exports = Exports(ExportInput(catalogue=catalogue, results=results, where=where), self._result_files)
        data = SiteInput(
            catalogue=catalogue,
            results=results,
            pages=words.pages,
            notes=words.notes,
            cautions=words.cautions,
            downloads=LazyMapping({bundle: partial(self._downloads, bundle) for bundle in results}),
            extras=extras(self._exports),
            photos=self._photos.by_bundle,
            draw=self._draw,
        )
        self._open_theme = partial(open_theme, themes_dir(), catalogue.archive.theme, root / "theme")
        self.plan: SitePlan = site_plan(data)
        self.problems: tuple[Problem, ...] = (
            *words.problems,
            *self._photos.problems,
            *self.plan.problems,
            *self._exports.problems,
        )
        theme = self._open_theme()
        self._templates = template_sources(theme)
        self._renderer = renderer(theme)
        self._lists = page_lists(catalogue, results, self.plan)

    def _result_files(self, subject: Subject) -> ResultFiles:
        return self._keep.object_of("result files", subject, partial(result_files, subject))

    def _downloads(self, bundle: str) -> tuple[Download, ...]:
        return downloads(self._exports.entries[bundle])

    @property
    def total(self) -> int:
        """Return how many files the site has."""
        exports = self._exports
        files = (self.plan.pages, self.plan.data, self.static(), exports.files, exports.previews, self._lists)
        return sum(map(len, files)) + self._photos.files

    def files(self) -> Iterator[tuple[str, bytes]]:
        """Give the address and bytes of every file, pages first, in a fixed order."""
        yield from ((path, self.page(path)) for path in self.plan.pages)
        yield from ((path, text.encode("ascii")) for path, text in self.plan.data.items())
        yield from self.static().items()
        yield from self._exports.files.items()
        yield from self._lists.items()
        for picture in self._exports.previews.values():
            yield picture.href, self._keep.bytes_of("preview", picture, partial(preview_png, picture))
        yield from photo_files(self._root, self._photos)

    def static(self) -> Mapping[str, bytes]:
        """Return the static files as they are now, by address."""
        return static_files(self._open_theme())

    def page(self, path: str) -> bytes:
        """Return the page at an address of the plan. Raises SoakbookError for a fault in the archive's templates."""
        page = self.plan.pages[path]
        # Everything that a template is given: the site's frame, the page with its view, and the templates themselves.
        parts = (self.plan.site, page, self._templates)
        try:
            return self._keep.bytes_of("page", parts, partial(self._renderer.page, self.plan, page))
        except (TemplateError, ValueError) as trouble:
            problem = template_problem(trouble, self._root)
            if problem is None:
                raise
            raise SoakbookError([problem]) from trouble

    def _draw(self, chart: Chart) -> str:
        return self._keep.bytes_of("chart", chart, lambda: drawn(chart).encode()).decode()


def words_problems(root: Path, loaded: Loaded) -> tuple[Problem, ...]:
    """Return what is wrong with pages, notes and photos, without making the site."""
    words = read_words(root, content_dir(), loaded.catalogue.bundles)
    return (*words.problems, *read_photos(root, loaded, words.notes).problems)


# --- What the plan of pages and the files for programs say of each other: neither knows the other


def extras(exports: Exports) -> Extras:
    """Return what pages say of the files for programs."""
    previews = LazyMapping({page: partial(_preview, exports, page) for page in exports.previews})
    return Extras(data=exports.entries, feed=exports.has_feed, linked=exports.linked, previews=previews)


def _preview(exports: Exports, page: str) -> Preview:
    picture = exports.previews[page]
    return Preview(href=picture.href, alt=picture.alt)


def downloads(entries: Iterable[DataEntry]) -> tuple[Download, ...]:
    """Return data files as a page offers them."""
    return tuple(
        Download(label=f"{e.label}, {e.href.rpartition('.')[2].upper()}", href=e.href, note=size_text(e.size))
        for e in entries
    )


def page_lists(catalogue: Catalogue, results: Mapping[str, BundleResult], plan: SitePlan) -> dict[str, bytes]:
    """Return the files for crawlers: every page that search may show, with the day it last changed where known."""
    days = changed_days(catalogue, results)
    return page_list_files(catalogue.archive, [Listed(path=path, changed=days.get(path)) for path in plan.listed])
