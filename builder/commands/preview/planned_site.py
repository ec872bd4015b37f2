"""The site of an archive after a change: read and planned at once, its files made when they are asked for."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass
from pathlib import Path

from builder.commands.cache.cache import Cache
from builder.commands.publish import publishable_figures
from builder.core.errors import SoakbookError, errors_among
from builder.site import SiteRenderer


@dataclass(frozen=True, kw_only=True)
class File:
    """A file of the site."""

    path: str
    data: bytes


class InterruptedWorkError(Exception):
    """Something changed again before the site was whole."""


@dataclass(frozen=True, kw_only=True)
class PlannedSite:
    """A site that is read and planned; `cache` holds what did not change since the last one."""

    site: SiteRenderer
    cache: Cache

    def page(self, path: str) -> Iterator[File]:
        """Give the page at an address, if there is one, with the static files. Raises SoakbookError."""
        if path in self.site.plan.pages:
            yield File(path=path, data=self.site.page(path))
            yield from self.static()

    def static(self) -> Iterator[File]:
        """Give the static files as they are now; no page depends on them."""
        yield from (File(path=path, data=data) for path, data in self.site.static().items())

    def whole(self, *, interrupted: Callable[[], bool]) -> tuple[File, ...]:
        """Return every file. Raises SoakbookError, and InterruptedWorkError as soon as it is `interrupted`."""
        files = []
        for path, data in self.site.files():
            if interrupted():
                raise InterruptedWorkError
            files.append(File(path=path, data=data))
        self.cache.turn()
        return tuple(files)


def planned_site(root: Path, cache: Cache) -> PlannedSite:
    """Read and reduce what changed, and plan the site. Raises SoakbookError on any error, as publishing does."""
    figures = publishable_figures(root, cache=cache)
    site = SiteRenderer(root=root, loaded=figures.loaded, results=figures.results, keep=cache)
    if errors := errors_among(site.problems):
        raise SoakbookError(errors)
    return PlannedSite(site=site, cache=cache)
