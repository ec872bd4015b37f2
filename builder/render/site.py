"""The whole site as files: plan, pages and static files of one archive."""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable, Iterator, Mapping
from functools import partial
from pathlib import Path
from typing import Protocol

from builder.charts.base import Chart
from builder.errors import Problem
from builder.exports import ExportInput, make_exports
from builder.figures import BundleResult
from builder.pages import Page, SiteInput, SitePlan, site_plan
from builder.pictures import chart_svg
from builder.render.extras import downloads, extras, page_lists, preview_png
from builder.render.photos import photo_files, read_photos
from builder.render.theme import open_theme, renderer, static_files, template_sources
from builder.render.words import read_words
from builder.sources import content_dir, themes_dir
from builder.validate import Loaded


class Keep(Protocol):
    """Gives bytes that were made before from the same parts, or makes them."""

    def __call__(self, kind: str, parts: object, make: Callable[[], bytes]) -> bytes:
        """Return the bytes of one kind of thing that these parts fully decide."""


def make_anew(kind: str, parts: object, make: Callable[[], bytes]) -> bytes:  # noqa: ARG001 - a Keep that keeps nothing
    """Return newly made bytes, whatever was made before."""
    return make()


class SiteRenderer:
    """Gives the files of the site one after the other; reading and planning are done when it is made.

    Raises SoakbookError where the archive's theme does not exist.
    """

    def __init__(
        self,
        *,
        root: Path,
        loaded: Loaded,
        results: Mapping[str, BundleResult],
        keep: Keep = make_anew,
        built: dt.date | None = None,
    ) -> None:
        catalogue = loaded.catalogue
        words = read_words(root, content_dir(), catalogue.bundles)
        self._root = root
        self._photos = read_photos(root, loaded, words.notes)
        where = loaded.where("archive", "archive", "base_url")
        self._exports = make_exports(ExportInput(catalogue=catalogue, results=results, where=where))
        data = SiteInput(
            catalogue=catalogue,
            results=results,
            pages=words.pages,
            notes=words.notes,
            cautions=words.cautions,
            downloads={bundle: downloads(self._exports.of(bundle)) for bundle in results},
            built=built,
            extras=extras(self._exports),
            photos=self._photos.by_bundle,
        )
        theme = open_theme(themes_dir(), catalogue.archive.theme, root / "theme")
        self.plan: SitePlan = site_plan(data)
        self.problems: tuple[Problem, ...] = (
            *words.problems,
            *self._photos.problems,
            *self.plan.problems,
            *self._exports.problems,
        )
        self._keep = keep
        self._templates = template_sources(theme)
        self._renderer = renderer(theme, self._picture)
        self._static = static_files(theme)
        self._lists = page_lists(catalogue, results, self.plan)

    @property
    def total(self) -> int:
        """Return how many files the site has."""
        files = (
            self.plan.pages,
            self.plan.data,
            self._static,
            self._exports.files,
            self._exports.previews,
            self._lists,
        )
        return sum(map(len, files)) + self._photos.files

    def files(self) -> Iterator[tuple[str, bytes]]:
        """Give the address and bytes of every file, pages first, in a fixed order."""
        for page in self.plan.pages:
            yield page.path, self._page(page)
        yield from ((path, text.encode("ascii")) for path, text in self.plan.data.items())
        yield from self._static.items()
        yield from self._exports.files.items()
        yield from self._lists.items()
        for picture in self._exports.previews.values():
            yield picture.href, self._keep("preview", picture, partial(preview_png, picture))
        yield from photo_files(self._root, self._photos)

    def _page(self, page: Page) -> bytes:
        # Everything that a template is given: the site's frame, the page with its view, and the templates themselves.
        parts = (self.plan.site, page, self._templates)
        return self._keep("page", parts, partial(self._renderer.page, self.plan, page))

    def _picture(self, chart: Chart) -> str:
        return self._keep("chart", chart, lambda: chart_svg(chart, uid=chart.id).encode()).decode()


def words_problems(root: Path, loaded: Loaded) -> tuple[Problem, ...]:
    """Return what is wrong with pages, notes and photos, without making the site."""
    words = read_words(root, content_dir(), loaded.catalogue.bundles)
    return (*words.problems, *read_photos(root, loaded, words.notes).problems)
