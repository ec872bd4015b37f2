"""Reads the logs that bundles name, once each, and cuts them into runs."""

from __future__ import annotations

import hashlib
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace
from functools import partial
from pathlib import Path
from typing import Protocol

from builder.archive import Loaded, load_archive, load_sound_parts, why_not
from builder.archive.bench import Bench
from builder.archive.bundle import Bundle, Run
from builder.archive.catalogue import Setting, setting_of
from builder.commands.cache.cache import Kept, KeptRun
from builder.core.errors import Problem, Problems, Severity, SoakbookError, Span, listing, nearest
from builder.core.files import read_bytes
from builder.core.results import BundleResult
from builder.logs import FrameTable, LogTable, cut_log, read_frames, read_log
from builder.reduction import combine_runs, reduce_bundle, reduce_run
from builder.reduction.inputs import RunInput


@dataclass(frozen=True, kw_only=True)
class NamedRun:
    """A run as its bundle names it: the number of its mount, from 1, and where its log is named."""

    mount: int
    run: Run
    where: Span

    @property
    def id(self) -> str:
        """Return `m1/stock`."""
        return f"m{self.mount}/{self.run.point}"


def named_runs(loaded: Loaded, bundle_id: str) -> tuple[NamedRun, ...]:
    """Return the runs of a bundle in file order."""
    return tuple(
        NamedRun(mount=m + 1, run=run, where=loaded.where("bundle", bundle_id, "mounts", m, "runs", r, "log"))
        for m, mount in enumerate(loaded.catalogue.bundles[bundle_id].mounts)
        for r, run in enumerate(mount.runs)
    )


@dataclass(frozen=True, kw_only=True, eq=False)
class _Log:
    """A log that was read, or was not, with what was said of it."""

    table: LogTable | None
    problems: tuple[Problem, ...]


@dataclass(kw_only=True)
class Gatherer:
    """Reads the logs of one archive; a log that several runs are cut from is read once."""

    root: Path
    loaded: Loaded
    problems: Problems
    _logs: dict[str, _Log] = field(default_factory=dict)

    def bundle(self, bundle_id: str, *, only: str | None = None) -> tuple[RunInput, ...]:
        """Return the bundle's runs that can be read; what cannot is a problem. `only` keeps one run, as `m1/stock`."""
        problems = Problems()
        named = [run for run in named_runs(self.loaded, bundle_id) if only is None or only == run.id]
        found = [self.run(bundle_id, run, problems) for run in named]
        self.problems.extend(said_once(problems))
        return tuple(run for run in found if run)

    def run(self, bundle_id: str, named: NamedRun, problems: Problems) -> RunInput | None:
        """Return one run, or None after reporting why it cannot be read."""
        bench = self.loaded.catalogue.benches[self.loaded.catalogue.bundles[bundle_id].bench]
        log = self._log(f"bundles/{bundle_id}/{named.run.log}", bench, named.where)
        problems.extend(log.problems)
        table = _cut(log.table, named, problems) if log.table else None
        frames = self._frames(bundle_id, bench, named, problems)
        if table is None or (named.run.frames and frames is None):
            return None
        return RunInput(mount=named.mount, run=named.run, table=table, frames=frames)

    def _log(self, relative: str, bench: Bench, where: Span) -> _Log:
        if relative not in self._logs:
            problems = Problems()
            data = read_bytes(self.root, relative, problems, where)
            table = None
            if data is not None:
                table = read_log(data, file=relative, readers=bench.readers, problems=problems)
            self._logs[relative] = _Log(table=table, problems=tuple(problems))
        return self._logs[relative]

    def _frames(self, bundle_id: str, bench: Bench, named: NamedRun, problems: Problems) -> FrameTable | None:
        if named.run.frames is None:
            return None
        relative = f"bundles/{bundle_id}/{named.run.frames}"
        data = read_bytes(self.root, relative, problems, named.where)
        if data is None:
            return None
        skip = named.run.skip_frames
        return read_frames(data, file=relative, readers=bench.readers, problems=problems, skip=skip)


def _cut(table: LogTable, named: NamedRun, problems: Problems) -> LogTable | None:
    if named.run.from_ is None and named.run.to is None:
        return table
    return cut_log(table, named.run.from_, named.run.to, where=named.where, problems=problems)


def log_hash(root: Path, bundle_id: str, name: str | None) -> str:
    """Return the hash of a log's content; empty where there is none or it cannot be read."""
    if name is None:
        return ""
    relative = f"bundles/{bundle_id}/{name}"
    data = read_bytes(root, relative, Problems(), Span(file=relative))
    return "" if data is None else hashlib.sha256(data).hexdigest()


def said_once(problems: Iterable[Problem]) -> Iterator[Problem]:
    """Yield each problem, but what is wrong alike with several logs of a bundle only for the first of them."""
    alike: dict[tuple[str, str], list[Problem]] = {}
    for problem in problems:
        alike.setdefault((problem.code, _without_columns(problem.message)), []).append(problem)
    for first, *others in alike.values():
        files = {p.where.file for p in others} - {first.where.file}
        if not files:
            yield from (first, *others)
            continue
        more = f"{len(files)} more log{'s' if len(files) > 1 else ''} of this bundle"
        yield replace(first, message=f"{first.message} (the same in {more})")


def _without_columns(message: str) -> str:
    """Return a message less the headers it lists, which may differ by a column from log to log."""
    return message.split("; headers found:", maxsplit=1)[0]


# --- Runs of bundles into figures, each run made once for its log and everything that it is reduced by


@dataclass(frozen=True, kw_only=True)
class Reducer:
    """Reduces bundles of one archive; what is in `kept` is not read or made again."""

    root: Path
    loaded: Loaded
    problems: Problems
    kept: Kept

    def bundle(self, bundle_id: str) -> BundleResult:
        """Return a bundle's figures; runs that cannot be read are problems and are left out."""
        setting = setting_of(bundle_id, self.loaded.catalogue)
        found = Problems()
        alone = replace(setting, bundle=_alone(setting.bundle))
        declared = self.kept.key("setting", alone)
        made = tuple(self._runs(alone, declared, found))
        self.problems.extend(said_once(found))
        runs = [one.kept.run for one in made if one.kept.run]
        keys = [one.key for one in made]
        parts = (declared, keys) if declared and all(keys) else object()
        return self.kept.object_of("bundle", parts, partial(combine_runs, alone, runs))

    def _runs(self, setting: Setting, declared: str | None, problems: Problems) -> Iterator[_Made]:
        gatherer = Gatherer(root=self.root, loaded=self.loaded, problems=problems)
        for named in named_runs(self.loaded, setting.bundle_id):
            made = self._run(setting, declared, named, gatherer)
            problems.extend(made.kept.problems)
            yield made

    def _run(self, setting: Setting, declared: str | None, named: NamedRun, gatherer: Gatherer) -> _Made:
        def key_now() -> str | None:
            hashes = [log_hash(self.root, setting.bundle_id, name) for name in (named.run.log, named.run.frames)]
            return self.kept.key("run", (declared, named, hashes)) if declared else None

        def make() -> KeptRun:
            problems = Problems()
            given = gatherer.run(setting.bundle_id, named, problems)
            point = next(p for p in setting.protocol.points if p.id == named.run.point)
            run = reduce_run(setting, given, point) if given else None
            return KeptRun(run=run, problems=tuple(problems))

        key = key_now()
        return _Made(key=key, kept=self.kept.run_of(key, make, still=lambda: key_now() == key))


@dataclass(frozen=True, kw_only=True)
class _Made:
    """A run with the key that it is kept under, which stands for everything that it was made from."""

    key: str | None
    kept: KeptRun


def _alone(bundle: Bundle) -> Bundle:
    """Return a bundle less its other runs and what only pages show, so that a change of these leaves a run as it is."""
    shown = {"title": None, "summary": "", "episode": None, "supplied_by": None, "corrections": (), "photos": ()}
    return bundle.model_copy(update={**shown, "mounts": ()})


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


def reduce_archive(root: Path, progress: Progress = silent, kept: Kept | None = None) -> Reduced:
    """Read and reduce everything; problems of all stages are collected, none is raised.

    Runs whose figures are in `kept` are not reduced again.
    """
    problems = Problems()
    loaded = load_sound_parts(root, problems)
    if loaded is None:
        return Reduced(loaded=None, results={}, problems=tuple(problems))
    reducer = Reducer(root=root, loaded=loaded, problems=problems, kept=kept or Kept())
    results: dict[str, BundleResult] = {}
    ids = sorted(loaded.catalogue.bundles)
    for done, bundle_id in enumerate(ids):
        progress("reading and reducing logs", done, len(ids))
        results[bundle_id] = reducer.bundle(bundle_id)
    progress("reading and reducing logs", len(ids), len(ids))
    return Reduced(loaded=loaded, results=results, problems=tuple(problems))


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


def _require_bundles(loaded: Loaded, names: Iterable[str]) -> None:
    absent = [name for name in names if name not in loaded.catalogue.bundles]
    if absent:
        raise SoakbookError([p for name in absent for p in why_not(loaded, name, Problems())])
