"""Makes a site again after a change: what is looked at first, then the rest."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass
from pathlib import Path

from builder.commands.cache.cache import Kept
from builder.commands.figures import reduce_one
from builder.commands.publish import Sound, sound_archive
from builder.core.errors import Severity, SoakbookError
from builder.site import Exports, SiteRenderer
from builder.site.write_site import Focus, static_of


@dataclass(frozen=True, kw_only=True)
class File:
    """A file of the site."""

    path: str
    data: bytes


class InterruptedRebuildError(Exception):
    """Something changed again before the site was whole."""


@dataclass(kw_only=True)
class Rebuilder:
    """Makes the site of an archive again and again; `kept` holds what did not change."""

    root: Path
    kept: Kept
    _exports: Exports | None = None

    def begin(self) -> Sound:
        """Read and reduce what changed. Raises SoakbookError on any error, as publishing does."""
        return sound_archive(self.root, kept=self.kept)

    def first(self, sound: Sound, page: str) -> Iterator[File]:
        """Give the page that is looked at and the static files. Raises SoakbookError."""
        if self._exports is None:
            return
        yield from self._files(sound, Focus(page=page, exports=self._exports))

    def rest(self, sound: Sound, *, changed: Callable[[], bool]) -> tuple[File, ...]:
        """Return every file. Raises SoakbookError, and InterruptedRebuildError as soon as something has `changed`."""

        def pulse() -> None:
            if changed():
                raise InterruptedRebuildError

        self.kept.pulse = pulse
        try:
            files = tuple(self._files(sound, None))
        finally:
            self.kept.pulse = None
        self.kept.turn()
        return files

    def warm_up(self, sound: Sound) -> None:
        """Do once what the first change would otherwise wait for: load libraries, reduce a run, draw charts."""
        ready = [(id_, point.runs[0].id) for id_, found in sound.results.items() for point in found.points[:1]]
        if not ready:
            return
        bundle_id, run = ready[0]
        reduce_one(self.root, bundle_id, only=run)
        focus = Focus(page=f"results/{bundle_id}.html", exports=self._exports)
        list(SiteRenderer(root=self.root, loaded=sound.loaded, results=sound.results, focus=focus).files())

    def static(self, sound: Sound) -> tuple[File, ...]:
        """Return the static files alone, which no page depends on. Raises SoakbookError."""
        found = static_of(self.root, sound.loaded.catalogue.archive.theme)
        return tuple(File(path=path, data=data) for path, data in found.items())

    def _files(self, sound: Sound, focus: Focus | None) -> Iterator[File]:
        site = SiteRenderer(root=self.root, loaded=sound.loaded, results=sound.results, keep=self.kept, focus=focus)
        errors = [p for p in site.problems if p.severity is Severity.ERROR]
        if errors:
            raise SoakbookError(errors)
        yield from (File(path=path, data=data) for path, data in site.files())
        if focus is None:
            self._exports = site.exports
