"""The whole site as files: plan, pages and static files of one archive."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass
from functools import partial
from pathlib import Path
from typing import Protocol, TypeVar

from jinja2 import TemplateError

from builder.charts.base import Chart
from builder.errors import Problem, SoakbookError
from builder.exports import ExportInput, Exports, make_exports
from builder.figures import BundleResult
from builder.pages import Page, SiteInput, SitePlan, site_plan
from builder.pictures import chart_svg
from builder.render.extras import downloads, extras, page_lists, preview_png
from builder.render.photos import photo_files, read_photos
from builder.render.theme import open_theme, renderer, static_files, template_problem, template_sources
from builder.render.words import read_words
from builder.sources import content_dir, themes_dir
from builder.validate import Loaded

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
