"""`soakbook publish`: the site of an archive, written whole or not at all."""

from __future__ import annotations

import json
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from builder.commands.cache.cache import Cache, open_cache
from builder.commands.check_words import NOTES, check_narration
from builder.commands.ledger import after_publication, ledger_notices, published_figures, read_ledger, write_ledger
from builder.commands.readiness import readiness
from builder.commands.reduce_archive import Figures, Progress, silent, sound_figures
from builder.commands.staging import MARKER, check_target, staged_output
from builder.core.errors import Problem, SoakbookError, errors_among, problem_rows
from builder.site import SiteRenderer


@dataclass(frozen=True, kw_only=True)
class Published:
    """What a publication wrote, and the warnings and notices on the way."""

    out: Path
    pages: int
    files: int
    bytes: int
    bundles: int
    problems: tuple[Problem, ...]

    @property
    def record(self) -> dict[str, Any]:
        """Return what `--json` prints."""
        return {
            "out": self.out.as_posix(),
            "bundles": self.bundles,
            "pages": self.pages,
            "files": self.files,
            "bytes": self.bytes,
            "problems": problem_rows(self.problems),
        }


def publish(root: Path, out: Path, progress: Progress = silent) -> Published:
    """Publish the archive into `out`, replacing an older site there only when the new one is whole.

    Raises SoakbookError on any error in the archive; then nothing is written.
    """
    check_target(out)
    ledger = read_ledger(root)
    cache = open_cache(root)
    figures = publishable_figures(root, progress, cache)
    site = SiteRenderer(root=root, loaded=figures.loaded, results=figures.results, keep=cache)
    if errors := errors_among(site.problems):
        raise SoakbookError(errors)
    pages = count = size = 0
    with staged_output(out) as staged:
        total = site.total
        for done, (path, data) in enumerate(site.files()):
            progress("writing pages", done, total)
            staged.write(path, data)
            pages += path.endswith(".html")
            count, size = count + 1, size + len(data)
        marker = {"generator": "soakbook", "pages": pages, "files": count}
        staged.write(MARKER, f"{json.dumps(marker)}\n".encode())
    progress("writing pages", total, total)
    cache.tidy()
    now = published_figures(figures.loaded.catalogue, figures.results)
    unwritten = write_ledger(root, after_publication(ledger, now))
    changes = ledger_notices(ledger, now, figures.loaded)
    return Published(
        out=out,
        pages=pages,
        files=count + 1,
        bytes=size,
        bundles=len(figures.results),
        problems=(*figures.problems, *site.problems, *changes, *((unwritten,) if unwritten else ())),
    )


def publishable_figures(root: Path, progress: Progress = silent, cache: Cache | None = None) -> Figures:
    """Return the figures of an archive that may be published.

    Raises SoakbookError on any error in it, on notes that say what the figures do not, and where a bundle lacks what
    its protocol requires. Notes are published, so they must be true; scripts are not, and stay as they were spoken.
    """
    figures = sound_figures(root, progress, cache)
    if errors := errors_among(check_narration(root, figures.tested, names=[NOTES]).problems):
        raise SoakbookError(errors)
    lacking = readiness(figures.loaded, figures.results)
    if errors_among(lacking):
        raise SoakbookError(lacking)
    return Figures(loaded=figures.loaded, results=figures.results, problems=(*figures.problems, *lacking))
