"""`soakbook check`: everything in an archive is read, and every problem reported at once."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path
from typing import Any

from builder.commands.cache.cache import open_cache
from builder.commands.check_words import check_narration
from builder.commands.ledger import ledger_notices, published_figures, read_ledger
from builder.commands.readiness import readiness
from builder.commands.reduce_archive import Figures, Progress, reduce_archive, silent
from builder.core.errors import Problem, Problems, SoakbookError, errors_among, problem_rows
from builder.narration import Unlinked
from builder.site import words_problems


@dataclass(frozen=True, kw_only=True)
class Checked:
    """What is wrong with an archive, sorted by file and line, and the numbers in its words that carry no link."""

    bundles: int
    problems: tuple[Problem, ...]
    unlinked: tuple[Unlinked, ...] = ()

    @property
    def sound(self) -> bool:
        """Whether no problem is an error."""
        return not errors_among(self.problems)

    @property
    def record(self) -> dict[str, Any]:
        """Return what `--json` prints."""
        unlinked = [{"file": n.where.file, "line": n.where.line, "text": n.text} for n in self.unlinked]
        return {"ok": self.sound, "problems": problem_rows(self.problems), "unchecked_numbers": unlinked}


def check_archive(root: Path, progress: Progress = silent) -> Checked:
    """Read everything and compare what scripts and notes say with the figures; problems are collected, none is raised.

    Words and ledger are checked only where the figures are sound, since a missing figure would make them look wrong.
    """
    try:
        figures = reduce_archive(root, progress, open_cache(root))
    except SoakbookError as error:
        return Checked(bundles=0, problems=error.problems)
    found = Problems()
    found.extend((*figures.problems, *words_problems(root, figures.loaded)))
    found.extend(readiness(figures.loaded, figures.results))
    found.extend(_ledger_problems(root, figures))
    unlinked: tuple[Unlinked, ...] = ()
    if figures.sound:
        narration = check_narration(root, figures.tested)
        found.extend(narration.problems)
        unlinked = narration.unlinked
    return Checked(bundles=len(figures.results), problems=tuple(found), unlinked=unlinked)


def _ledger_problems(root: Path, figures: Figures) -> tuple[Problem, ...]:
    try:
        ledger = read_ledger(root)
    except SoakbookError as error:
        return error.problems
    if not figures.sound:
        return ()
    return ledger_notices(ledger, published_figures(figures.loaded.catalogue, figures.results), figures.loaded)
