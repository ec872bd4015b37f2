"""Composes the stages: an archive folder in, problems, figures or a published site out."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

from builder.commands.cache.cache import kept_beside
from builder.commands.figures import Progress, _concerning, _require_bundles, reduce_archive, silent
from builder.commands.staging import KIT, check_target, staged_site
from builder.commands.words import SCRIPT, check_narration
from builder.comparison import Tested
from builder.core.errors import Problem, Severity, SoakbookError, Span
from builder.core.files import content_dir
from builder.kit import KitInput, kit_plan
from builder.kit.kit import KitRenderer
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
        return not any(p.severity is Severity.ERROR for p in self.problems)


def _itself(bundle: str) -> Problem:
    hint = "name an earlier result of another cooler"
    return Problem(
        code="against-itself", where=Span(file=bundle), message="a result cannot stand beside itself", hint=hint
    )


def make_kit(root: Path, bundle: str, out: Path, *, against: str = "", progress: Progress = silent) -> Kit:
    """Write a bundle's episode kit into `out`, replacing an older kit there only when the new one is whole.

    Problems in the script are returned and stop nothing, since the kit helps to mend them. Raises SoakbookError where
    the archive has errors, a bundle does not exist, or the kit cannot be written; then an older kit stays as it was.
    """
    check_target(out, KIT)
    reduced = reduce_archive(root, progress, kept_beside(root))
    if reduced.loaded is None or not reduced.sound:
        raise SoakbookError(reduced.problems)
    _require_bundles(reduced.loaded, [name for name in (bundle, against) if name])
    if against == bundle:
        raise SoakbookError([_itself(bundle)])
    tested = Tested(catalogue=reduced.loaded.catalogue, results=reduced.results)
    narration = check_narration(root, tested, bundles=[bundle])
    script = narration.checked.get(f"bundles/{bundle}/{SCRIPT}")
    plan = kit_plan(
        KitInput(
            tested=tested,
            bundle=bundle,
            script=script.linked if script else (),
            cautions=read_words(root, content_dir(), ()).cautions,
            base=base_of(reduced.loaded.catalogue.archive).url,
            against=against,
        )
    )
    count, size = _write_kit(KitRenderer(plan=plan), out, progress)
    problems = _concerning([bundle, against or bundle], (*reduced.problems, *narration.problems))
    return Kit(out=out, bundle=bundle, files=count, bytes=size, mark=plan.mark, problems=tuple(problems))


def _write_kit(kit: KitRenderer, out: Path, progress: Progress) -> tuple[int, int]:
    count = size = 0
    try:
        with staged_site(out, KIT) as staged:
            for file in kit.files():
                progress("writing the kit", count, kit.total)
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
