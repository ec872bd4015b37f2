"""The whole site as files: plan, pages and static files of one archive."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterator, Mapping
from pathlib import Path

from builder.errors import Problem
from builder.figures import BundleResult
from builder.pages import SiteInput, SitePlan, site_plan
from builder.render.theme import Picture, open_theme, renderer, static_files
from builder.render.words import read_words
from builder.sources import content_dir, themes_dir
from builder.validate import Loaded


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
        picture: Picture | None = None,
        built: dt.date | None = None,
    ) -> None:
        catalogue = loaded.catalogue
        words = read_words(root, content_dir(), catalogue.bundles)
        data = SiteInput(
            catalogue=catalogue,
            results=results,
            pages=words.pages,
            notes=words.notes,
            cautions=words.cautions,
            built=built,
        )
        theme = open_theme(themes_dir(), catalogue.archive.theme, root / "theme")
        self.plan: SitePlan = site_plan(data)
        self.problems: tuple[Problem, ...] = (*words.problems, *self.plan.problems)
        self._renderer = renderer(theme, picture)
        self._static = static_files(theme)

    @property
    def total(self) -> int:
        """Return how many files the site has."""
        return len(self.plan.pages) + len(self._static)

    def files(self) -> Iterator[tuple[str, bytes]]:
        """Give the address and bytes of every file, pages first, in a fixed order."""
        for page in self.plan.pages:
            yield page.path, self._renderer.page(self.plan, page)
        yield from self._static.items()
