"""`soakbook kit`: the episode kit of a bundle, which is its stills, cards, spoken lines, description and captions."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path
from typing import Any

from builder.commands.cache.cache import open_cache
from builder.commands.check_words import SCRIPT, check_narration
from builder.commands.reduce_archive import Progress, problems_about, silent, sound_figures
from builder.commands.staging import KIT, check_target, staged_output
from builder.core.errors import Problem, SoakbookError, Span, errors_among, problem_rows
from builder.core.files import content_dir
from builder.kit import KitInput, KitPlan, kit_plan
from builder.kit.kit import file_count, kit_files
from builder.site import read_words
from builder.site.addresses import base_of


@dataclass(frozen=True, kw_only=True)
class Kit:
    """What an episode kit holds, and what was found in the words it was made from."""

    out: Path
    bundle: str
    files: int
    bytes: int
    mark: str  # of runs that had not settled, empty where all had
    problems: tuple[Problem, ...]

    @property
    def sound(self) -> bool:
        """Whether the words it was made from are true."""
        return not errors_among(self.problems)

    @property
    def record(self) -> dict[str, Any]:
        """Return what `--json` prints."""
        return {
            "out": self.out.as_posix(),
            "bundle": self.bundle,
            "mark": self.mark,
            "files": self.files,
            "bytes": self.bytes,
            "problems": problem_rows(self.problems),
        }


def make_kit(root: Path, bundle: str, out: Path, *, against: str = "", progress: Progress = silent) -> Kit:
    """Write a bundle's episode kit into `out`, replacing an older kit there only when the new one is whole.

    Problems in the script are returned and stop nothing, since the kit helps to mend them. Raises SoakbookError where
    the archive has errors, a bundle does not exist, or the kit cannot be written; then an older kit stays as it was.
    """
    check_target(out, KIT)
    bundles = [name for name in (bundle, against) if name]
    figures = sound_figures(root, progress, open_cache(root), bundles=bundles)
    if against == bundle:
        raise SoakbookError([_against_itself(bundle)])
    tested = figures.tested
    narration = check_narration(root, tested, bundles=[bundle])
    script = narration.checked.get(f"bundles/{bundle}/{SCRIPT}")
    plan = kit_plan(
        KitInput(
            tested=tested,
            bundle=bundle,
            script=script.linked if script else (),
            cautions=read_words(root, content_dir(), ()).cautions,
            base=base_of(figures.loaded.catalogue.archive).url,
            against=against,
        )
    )
    count, size = _write_kit(plan, out, progress)
    problems = problems_about(bundles, (*figures.problems, *narration.problems))
    return Kit(out=out, bundle=bundle, files=count, bytes=size, mark=plan.mark, problems=tuple(problems))


def _against_itself(bundle: str) -> Problem:
    return Problem(
        code="against-itself",
        where=Span(file=bundle),
        message="a result cannot stand beside itself",
        hint="name an earlier result of another cooler",
    )


def _write_kit(plan: KitPlan, out: Path, progress: Progress) -> tuple[int, int]:
    count = size = 0
    try:
        with staged_output(out, KIT) as staged:
            for file in kit_files(plan):
                progress("writing the kit", count, file_count(plan))
                staged.write(file.path, file.data)
                count, size = count + 1, size + len(file.data)
    except OSError as trouble:
        raise SoakbookError([_unwritten(out, trouble)]) from trouble
    progress("writing the kit", count, count)
    return count, size


def _unwritten(out: Path, trouble: OSError) -> Problem:
    kept = "the kit that was there is as it was" if out.exists() else "nothing was left behind"
    return Problem(
        code="cannot-write",
        where=Span(file=out.name),
        message=f"the kit cannot be written: {trouble.strerror or trouble}; {kept}",
        hint="make room or choose another folder with --out",
    )
