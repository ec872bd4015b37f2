"""Composes the stages: an archive folder in, problems, figures or a published site out."""

from __future__ import annotations

import json
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from itertools import combinations
from pathlib import Path
from typing import Protocol

from builder.cache import Kept, kept_beside, kept_nowhere
from builder.compare import HeadToHead, PointOf, Tested, head_to_head
from builder.errors import Problem, Problems, Severity, SoakbookError, Span, listing, nearest
from builder.exports.addresses import base_of
from builder.figures import BundleResult
from builder.gather import Gatherer
from builder.kit import KitInput, kit_plan
from builder.ledger import after_publication, ledger_notices, published_figures, read_ledger, write_ledger
from builder.narration import NOTES, SCRIPT, Narration, check_narration
from builder.readiness import readiness
from builder.reduce import reduce_bundle, setting_of
from builder.reducing import Reducer
from builder.render import SiteRenderer, read_words, words_problems
from builder.render.kit import KitRenderer
from builder.sources import content_dir
from builder.staging import KIT, MARKER, check_target, staged_site
from builder.validate import Loaded, load_archive, load_sound_parts, why_not


class Progress(Protocol):
    """Told how far a stage is."""

    def __call__(self, stage: str, done: int, total: int) -> None:
        """Take one report: stage in words, steps done and steps in all."""


def silent(stage: str, done: int, total: int) -> None:
    """Take a progress report and say nothing."""


@dataclass(frozen=True, kw_only=True)
class Reduced:
    """An archive with every bundle's figures and all problems found on the way."""

    loaded: Loaded | None
    results: Mapping[str, BundleResult]
    problems: tuple[Problem, ...]

    @property
    def sound(self) -> bool:
        """Whether nothing found is an error."""
        return self.loaded is not None and not any(p.severity is Severity.ERROR for p in self.problems)


@dataclass(frozen=True, kw_only=True)
class Sound:
    """An archive that may be published: its figures, and what was found that is no error."""

    loaded: Loaded
    results: Mapping[str, BundleResult]
    problems: tuple[Problem, ...]


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


@dataclass(frozen=True, kw_only=True)
class Published:
    """What a publication wrote."""

    out: Path
    pages: int
    files: int
    bytes: int
    bundles: int
    problems: tuple[Problem, ...]


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


def reduce_archive(root: Path, progress: Progress = silent, kept: Kept | None = None) -> Reduced:
    """Read and reduce everything; problems of all stages are collected, none is raised.

    Runs whose figures are in `kept` are not reduced again.
    """
    problems = Problems()
    loaded = load_sound_parts(root, problems)
    if loaded is None:
        return Reduced(loaded=None, results={}, problems=tuple(problems))
    reducer = Reducer(root=root, loaded=loaded, problems=problems, kept=kept or kept_nowhere())
    results: dict[str, BundleResult] = {}
    ids = sorted(loaded.catalogue.bundles)
    for done, bundle_id in enumerate(ids):
        progress("reading and reducing logs", done, len(ids))
        results[bundle_id] = reducer.bundle(bundle_id)
    progress("reading and reducing logs", len(ids), len(ids))
    return Reduced(loaded=loaded, results=results, problems=tuple(problems))


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


def _errors(problems: Sequence[Problem]) -> list[Problem]:
    return [p for p in problems if p.severity is Severity.ERROR]


def _concerning(bundles: Sequence[str], problems: Iterable[Problem]) -> Problems:
    """Keep every error, and of the rest what does not lie in another bundle's folder: `check` shows all."""
    own = tuple(f"bundles/{bundle}/" for bundle in bundles)
    kept = Problems()
    kept.extend(
        p
        for p in problems
        if p.severity is Severity.ERROR or not p.where.file.startswith("bundles/") or p.where.file.startswith(own)
    )
    return kept


def reduce_one(root: Path, bundle_id: str, *, only: str | None = None) -> tuple[Loaded, BundleResult, Problems]:
    """Return one bundle's figures; `only` keeps one run, as `m1/stock`.

    Raises SoakbookError where the archive or the bundle's logs have errors, or the bundle or run does not exist.
    """
    problems = Problems()
    loaded = load_archive(root, problems)
    if loaded is None:
        raise SoakbookError(problems)
    if bundle_id not in loaded.catalogue.bundles:
        raise SoakbookError(why_not(loaded, bundle_id, problems))
    if only is not None:
        _require_run(loaded, bundle_id, only)
    inputs = Gatherer(root=root, loaded=loaded, problems=problems).bundle(bundle_id, only=only)
    told = _concerning([bundle_id], problems)
    if told.has_errors:
        raise SoakbookError(told)
    return loaded, reduce_bundle(setting_of(bundle_id, loaded.catalogue), inputs), told


def _require_run(loaded: Loaded, bundle_id: str, only: str) -> None:
    mounts = loaded.catalogue.bundles[bundle_id].mounts
    runs = [f"m{number}/{run.point}" for number, mount in enumerate(mounts, start=1) for run in mount.runs]
    if only not in runs:
        raise SoakbookError([_unknown_run(only, runs)])


def _unknown_run(given: str, known: Sequence[str]) -> Problem:
    return Problem(
        code="unknown-run",
        where=Span(file=given),
        message="there is no run of this name",
        hint=nearest(given, known) or f"there are: {listing(known)}",
    )


def compare_bundles(
    root: Path, bundles: Sequence[str], point: str, progress: Progress = silent
) -> tuple[Tested, tuple[HeadToHead, ...]]:
    """Return every pair of the named bundles side by side at a test point, first named first.

    Everything is reduced, since ties and mounting spread come from all results of a card. Raises SoakbookError where
    the archive has errors, or a bundle or its test point does not exist.
    """
    reduced = reduce_archive(root, progress, kept_beside(root))
    if reduced.loaded is None or not reduced.sound:
        raise SoakbookError(reduced.problems)
    _require_bundles(reduced.loaded, bundles)
    missing = [_no_point(reduced.results[name], point) for name in bundles if not reduced.results[name].point(point)]
    if missing:
        raise SoakbookError(missing)
    tested = Tested(catalogue=reduced.loaded.catalogue, results=reduced.results)
    ends = [PointOf(bundle=name, point=point) for name in bundles]
    return tested, tuple(head_to_head(tested, a, b) for a, b in combinations(ends, 2))


def _require_bundles(loaded: Loaded, names: Iterable[str]) -> None:
    absent = [name for name in names if name not in loaded.catalogue.bundles]
    if absent:
        raise SoakbookError([p for name in absent for p in why_not(loaded, name, Problems())])


def _itself(bundle: str) -> Problem:
    hint = "name an earlier result of another cooler"
    return Problem(
        code="against-itself", where=Span(file=bundle), message="a result cannot stand beside itself", hint=hint
    )


def _no_point(result: BundleResult, point: str) -> Problem:
    points = [p.point for p in result.points]
    return Problem(
        code="no-such-point",
        where=Span(file=result.bundle),
        message=f'there is no run at the test point "{point}"',
        hint=nearest(point, points) or f"there are: {listing(points)}",
    )


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
