"""Composes the stages: an archive folder in, problems, figures or a published site out."""

from __future__ import annotations

import json
from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path

from builder.archive import Loaded
from builder.commands.cache.cache import Kept, kept_beside
from builder.commands.figures import Progress, _errors, reduce_archive, silent
from builder.commands.ledger import after_publication, ledger_notices, published_figures, read_ledger, write_ledger
from builder.commands.readiness import readiness
from builder.commands.staging import MARKER, check_target, staged_site
from builder.commands.words import NOTES, check_narration
from builder.comparison import Tested
from builder.core.errors import Problem, Severity, SoakbookError
from builder.core.results import BundleResult
from builder.site import SiteRenderer


@dataclass(frozen=True, kw_only=True)
class Sound:
    """An archive that may be published: its figures, and what was found that is no error."""

    loaded: Loaded
    results: Mapping[str, BundleResult]
    problems: tuple[Problem, ...]


@dataclass(frozen=True, kw_only=True)
class Published:
    """What a publication wrote."""

    out: Path
    pages: int
    files: int
    bytes: int
    bundles: int
    problems: tuple[Problem, ...]


def publish(root: Path, out: Path, progress: Progress = silent) -> Published:
    """Publish the archive into `out`, replacing an older site there only when the new one is whole.

    Raises SoakbookError on any error in the archive; then nothing is written.
    """
    check_target(out)
    ledger = read_ledger(root)
    kept = kept_beside(root)
    sound = sound_archive(root, progress, kept)
    site = SiteRenderer(root=root, loaded=sound.loaded, results=sound.results, keep=kept)
    if _errors(site.problems):
        raise SoakbookError(_errors(site.problems))
    pages = count = size = 0
    with staged_site(out) as staged:
        total = site.total
        for done, (path, data) in enumerate(site.files()):
            progress("writing pages", done, total)
            staged.write(path, data)
            pages += path.endswith(".html")
            count, size = count + 1, size + len(data)
        staged.write(MARKER, _marker(pages, count))
    progress("writing pages", total, total)
    kept.tidy()
    now = published_figures(sound.loaded.catalogue, sound.results)
    unwritten = write_ledger(root, after_publication(ledger, now))
    return Published(
        out=out,
        pages=pages,
        files=count + 1,
        bytes=size,
        bundles=len(sound.results),
        problems=(
            *sound.problems,
            *site.problems,
            *ledger_notices(ledger, now, sound.loaded),
            *((unwritten,) if unwritten else ()),
        ),
    )


def sound_archive(root: Path, progress: Progress = silent, kept: Kept | None = None) -> Sound:
    """Return an archive that may be published, with its figures. Raises SoakbookError on any error in it."""
    reduced = reduce_archive(root, progress, kept)
    if reduced.loaded is None or not reduced.sound:
        raise SoakbookError(reduced.problems)
    _require_true_notes(root, reduced.loaded, reduced.results)
    lacking = readiness(reduced.loaded, reduced.results)
    if _errors(lacking):
        raise SoakbookError(lacking)
    return Sound(loaded=reduced.loaded, results=reduced.results, problems=(*reduced.problems, *lacking))


def _require_true_notes(root: Path, loaded: Loaded, results: Mapping[str, BundleResult]) -> None:
    # Notes are published, so they must be true; scripts are not, and stay as they were spoken.
    tested = Tested(catalogue=loaded.catalogue, results=results)
    notes = check_narration(root, tested, names=[NOTES])
    if not notes.sound:
        raise SoakbookError(p for p in notes.problems if p.severity is Severity.ERROR)


def _marker(pages: int, files: int) -> bytes:
    return (json.dumps({"generator": "soakbook", "pages": pages, "files": files}) + "\n").encode()
