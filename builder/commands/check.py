"""Composes the stages: an archive folder in, problems, figures or a published site out."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

from builder.commands.cache.cache import kept_beside
from builder.commands.figures import Progress, Reduced, _errors, reduce_archive, silent
from builder.commands.ledger import ledger_notices, published_figures, read_ledger
from builder.commands.readiness import readiness
from builder.commands.words import Narration, check_narration
from builder.comparison import Tested
from builder.core.errors import Problem, Problems, SoakbookError
from builder.site import words_problems


@dataclass(frozen=True, kw_only=True)
class Checked:
    """An archive read as a whole: figures, pages and photos, and scripts and notes where the figures are sound."""

    reduced: Reduced
    narration: Narration
    words: tuple[Problem, ...] = ()
    lacking: tuple[Problem, ...] = ()

    @property
    def problems(self) -> tuple[Problem, ...]:
        """Return every problem, sorted by file and line."""
        found = Problems()
        found.extend((*self.reduced.problems, *self.narration.problems, *self.words, *self.lacking))
        return tuple(found)

    @property
    def sound(self) -> bool:
        """Whether nothing found is an error."""
        return self.reduced.sound and self.narration.sound and not _errors((*self.words, *self.lacking))


def check_archive(root: Path, progress: Progress = silent) -> Checked:
    """Read everything and compare what scripts and notes say with the figures; problems are collected, none is raised.

    Words are checked only where the figures are sound, since a missing figure would make them look wrong.
    """
    reduced = reduce_archive(root, progress, kept_beside(root))
    words = words_problems(root, reduced.loaded) if reduced.loaded else ()
    lacking = (*readiness(reduced.loaded, reduced.results), *_ledger(root, reduced)) if reduced.loaded else ()
    if reduced.loaded is None or not reduced.sound:
        return Checked(reduced=reduced, narration=Narration(checked={}, problems=()), words=words, lacking=lacking)
    tested = Tested(catalogue=reduced.loaded.catalogue, results=reduced.results)
    return Checked(reduced=reduced, narration=check_narration(root, tested), words=words, lacking=lacking)


def _ledger(root: Path, reduced: Reduced) -> tuple[Problem, ...]:
    """Return what the ledger has to say of the figures; nothing while some of them are missing."""
    try:
        ledger = read_ledger(root)
    except SoakbookError as error:
        return tuple(error.problems)
    if reduced.loaded is None or not reduced.sound:
        return ()
    now = published_figures(reduced.loaded.catalogue, reduced.results)
    return ledger_notices(ledger, now, reduced.loaded)
