"""From an archive's folder to the figures of its bundles: logs are read once each, cut into runs, and reduced."""

from __future__ import annotations

import hashlib
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace
from functools import partial
from pathlib import Path
from typing import Protocol

from builder.archive import Loaded, load_sound_parts, why_not
from builder.archive.bench import Bench
from builder.archive.bundle import LogSource, Run
from builder.archive.catalogue import Setup
from builder.commands.cache.cache import Cache, CachedRun
from builder.comparison import Tested
from builder.core.errors import Problem, Problems, Severity, SoakbookError, Span, errors_among, nearest
from builder.core.files import read_bytes
from builder.core.results import BundleResult
from builder.core.words import count, listing
from builder.logs import FrameTable, LogTable, card_log, cut_log, join_logs, placed, read_frames, read_log
from builder.reduction import ArchiveSpreads, BundleRuns, archive_spreads, combine_runs, reduce_run
from builder.reduction.inputs import RunInput

# Codes of problems that are alike in two logs whatever their messages list.
ALIKE_BY_CODE = frozenset({"no-reader-matches"})


class Progress(Protocol):
    """Told how far a stage is."""

    def __call__(self, stage: str, done: int, total: int) -> None:
        """Take one report: stage in words, steps done and steps in all."""


def silent(stage: str, done: int, total: int) -> None:
    """Take a progress report and say nothing."""


# --- a whole archive -----------------------------------------------------------------------------------------------


@dataclass(frozen=True, kw_only=True)
class Figures:
    """An archive with the figures of its bundles, and every problem found on the way."""

    loaded: Loaded
    results: Mapping[str, BundleResult]
    problems: tuple[Problem, ...]

    @property
    def sound(self) -> bool:
        """Whether no problem is an error."""
        return not errors_among(self.problems)

    @property
    def tested(self) -> Tested:
        """Return the results with the catalogue that they belong to, as comparisons take them."""
        return Tested(catalogue=self.loaded.catalogue, results=self.results)


def reduce_archive(root: Path, progress: Progress = silent, cache: Cache | None = None) -> Figures:
    """Read and reduce everything; problems in single files and logs are collected.

    Runs whose figures are in the cache are not reduced again. Raises SoakbookError where the folder is no archive.
    """
    problems = Problems()
    loaded = load_sound_parts(root, problems)
    if loaded is None:
        raise SoakbookError(problems)
    reducer = Reducer(root=root, loaded=loaded, problems=problems, cache=cache or Cache())
    found: list[_KeyedRuns] = []
    ids = sorted(loaded.catalogue.bundles)
    for done, bundle_id in enumerate(ids):
        progress("reading and reducing logs", done, len(ids))
        found.append(reducer.runs(bundle_id))
    progress("reading and reducing logs", len(ids), len(ids))
    spreads = archive_spreads([one.given for one in found])
    results = {one.given.setup.id: reducer.combined(one, spreads) for one in found}
    return Figures(loaded=loaded, results=results, problems=tuple(problems))


def sound_figures(
    root: Path, progress: Progress = silent, cache: Cache | None = None, *, bundles: Iterable[str] = ()
) -> Figures:
    """Return the figures of an archive that has these bundles and no errors. Raises SoakbookError otherwise."""
    figures = reduce_archive(root, progress, cache)
    if not figures.sound:
        raise SoakbookError(figures.problems)
    absent = [name for name in bundles if name not in figures.results]
    if absent:
        raise SoakbookError(p for name in absent for p in why_not(figures.loaded, name, Problems()))
    return figures


def problems_about(bundles: Sequence[str], problems: Iterable[Problem]) -> Problems:
    """Return the problems that concern some bundles: all but the warnings and notices in folders of other bundles."""
    folders = tuple(f"bundles/{bundle}/" for bundle in bundles)
    about = Problems()
    for p in problems:
        elsewhere = p.where.file.startswith("bundles/") and not p.where.file.startswith(folders)
        if p.severity is Severity.ERROR or not elsewhere:
            about.add(p)
    return about


# --- runs ----------------------------------------------------------------------------------------------------------


@dataclass(frozen=True, kw_only=True)
class NamedLog:
    """A log as its bundle names it, and where."""

    source: LogSource
    where: Span


@dataclass(frozen=True, kw_only=True)
class NamedRun:
    """A run as its bundle names it: the number of its mount, from 1, and where its log is named.

    `own` are the run's logs, `session` those of instruments that ran through all of its mount.
    """

    mount: int
    run: Run
    where: Span
    own: tuple[NamedLog, ...]
    session: tuple[NamedLog, ...] = ()

    @property
    def logs(self) -> tuple[NamedLog, ...]:
        """Return every log of the run, its own first."""
        return (*self.own, *self.session)

    @property
    def files(self) -> tuple[str, ...]:
        """Return every file that the run is read from."""
        return (*(log.source.file for log in self.logs), *((self.run.frames,) if self.run.frames else ()))

    @property
    def id(self) -> str:
        """Return `m1/stock`."""
        return f"m{self.mount}/{self.run.point}"


def named_runs(loaded: Loaded, bundle_id: str) -> tuple[NamedRun, ...]:
    """Return the runs of a bundle in file order."""
    return tuple(
        _named_run(loaded, bundle_id, m, r)
        for m, mount in enumerate(loaded.catalogue.bundles[bundle_id].mounts)
        for r in range(len(mount.runs))
    )


def _named_run(loaded: Loaded, bundle_id: str, m: int, r: int) -> NamedRun:
    mount, at = loaded.catalogue.bundles[bundle_id].mounts[m], partial(loaded.where, "bundle", bundle_id, "mounts", m)
    run = mount.runs[r]
    where = at("runs", r, "log")
    short = (NamedLog(source=LogSource(file=run.log), where=where),) if run.log else ()
    own = (*short, *(NamedLog(source=s, where=at("runs", r, "logs", i, "file")) for i, s in enumerate(run.logs)))
    # A log that the run names itself counts as its own, with what the run says of its clock.
    known = {source.file for source in run.sources}
    session = (NamedLog(source=s, where=at("logs", i, "file")) for i, s in enumerate(mount.logs) if s.file not in known)
    return NamedRun(mount=m + 1, run=run, where=where, own=own, session=tuple(session))


def find_run(loaded: Loaded, bundle_id: str, name: str, *, place: str = "") -> NamedRun:
    """Return the run `m1/stock` of a bundle. Raises SoakbookError where there is none."""
    runs = {run.id: run for run in named_runs(loaded, bundle_id)}
    if name in runs:
        return runs[name]
    message = f"there is no run of this name{place}"
    hint = nearest(name, runs) or f"there are: {listing(runs)}"
    raise SoakbookError([Problem(code="unknown-run", where=Span(file=name), message=message, hint=hint)])


# --- logs ----------------------------------------------------------------------------------------------------------


@dataclass(frozen=True, kw_only=True, eq=False)
class _ReadLog:
    """What reading a log gave: its table, None where it cannot be read, and the problems found."""

    table: LogTable | None
    problems: tuple[Problem, ...]


@dataclass(kw_only=True)
class LogReader:
    """Reads the logs of one archive; a log that several runs are cut from is read once."""

    root: Path
    loaded: Loaded
    _read: dict[str, _ReadLog] = field(default_factory=dict)

    def runs(self, bundle_id: str, runs: Iterable[NamedRun], problems: Problems) -> tuple[RunInput, ...]:
        """Return those of a bundle's runs that can be read; what cannot is a problem."""
        found = Problems()
        inputs = [self.run(bundle_id, run, found) for run in runs]
        problems.extend(merge_alike(found))
        return tuple(given for given in inputs if given)

    def run(self, bundle_id: str, named: NamedRun, problems: Problems) -> RunInput | None:
        """Return one run, or None after reporting why it cannot be read."""
        bench = self.loaded.catalogue.benches[self.loaded.catalogue.bundles[bundle_id].bench]
        run = named.run
        table = self._table(bundle_id, bench, named, problems)
        frames = self._frames(bundle_id, bench, named, problems)
        if table is None or (run.frames and frames is None):
            return None
        return RunInput(mount=named.mount, run=run, table=table, frames=frames)

    def _table(self, bundle_id: str, bench: Bench, named: NamedRun, problems: Problems) -> LogTable | None:
        """Return what all logs of a run give, joined."""
        read = [self._log(f"bundles/{bundle_id}/{log.source.file}", bench, log.where) for log in named.logs]
        for log in read:
            problems.extend(log.problems)
        tables = [log.table for log in read if log.table]
        if len(tables) < len(read):
            return None
        return join_run(named, tables, problems)

    def _log(self, relative: str, bench: Bench, where: Span) -> _ReadLog:
        if relative not in self._read:
            problems = Problems()
            data = read_bytes(self.root, relative, problems, where)
            table = None
            if data is not None:
                table = read_log(data, file=relative, readers=bench.readers, problems=problems)
            self._read[relative] = _ReadLog(table=table, problems=tuple(problems))
        return self._read[relative]

    def _frames(self, bundle_id: str, bench: Bench, named: NamedRun, problems: Problems) -> FrameTable | None:
        if named.run.frames is None:
            return None
        relative = f"bundles/{bundle_id}/{named.run.frames}"
        data = read_bytes(self.root, relative, problems, named.where)
        if data is None:
            return None
        skip = named.run.skip_frames
        return read_frames(data, file=relative, readers=bench.readers, problems=problems, skip=skip)


def join_run(named: NamedRun, tables: Sequence[LogTable], problems: Problems) -> LogTable | None:
    """Return the tables of a run's logs, in the order of `logs`, cut to the run and joined; None after reporting why.

    Cuts are moments of the card's log.
    """
    found = Problems()
    logs = [placed(t, log.source, log.where, found) for t, log in zip(tables, named.logs, strict=True)]
    place = card_log(logs[: len(named.own)])
    card, others = logs[place], [*logs[:place], *logs[place + 1 :]]
    table = None
    if not found.has_errors:
        table = cut_log(card.table, named.run.from_, named.run.to, where=card.where, problems=found)
    if table and (others or card.source.only):
        table = join_logs(replace(card, table=table), others, found)
    problems.extend(found)
    return table


def merge_alike(problems: Iterable[Problem]) -> Iterator[Problem]:
    """Yield each problem, but what is wrong alike with several logs of a bundle only for the first of them."""
    alike: dict[tuple[str, str], list[Problem]] = {}
    for problem in problems:
        message = "" if problem.code in ALIKE_BY_CODE else problem.message
        alike.setdefault((problem.code, message), []).append(problem)
    for first, *others in alike.values():
        files = {p.where.file for p in others} - {first.where.file}
        if not files:
            yield from (first, *others)
            continue
        more = f"{count(len(files), 'more log')} of this bundle"
        yield replace(first, message=f"{first.message} (the same in {more})")


# --- figures, made once for the contents of a log and everything that it is reduced by -----------------------------


@dataclass(frozen=True, kw_only=True)
class Reducer:
    """Reduces bundles of one archive; what is in the cache is not read or made again."""

    root: Path
    loaded: Loaded
    problems: Problems
    cache: Cache

    def runs(self, bundle_id: str) -> _KeyedRuns:
        """Return a bundle's reduced runs; those that cannot be read are problems and are left out."""
        setup = self.loaded.catalogue.setup(bundle_id)
        bare = replace(setup, bundle=setup.bundle.behind_runs())
        setup_key = self.cache.key("setup", bare)
        reader = LogReader(root=self.root, loaded=self.loaded)
        reduced = [self._run(bare, setup_key, named, reader) for named in named_runs(self.loaded, bundle_id)]
        found = Problems()
        found.extend(p for one in reduced for p in one.cached.problems)
        self.problems.extend(merge_alike(found))
        runs = [one.cached.run for one in reduced if one.cached.run]
        run_keys = tuple(one.key for one in reduced if one.key)
        keys = (setup_key, *run_keys) if setup_key and len(run_keys) == len(reduced) else None
        return _KeyedRuns(given=BundleRuns(setup=bare, runs=runs), keys=keys)

    def combined(self, one: _KeyedRuns, spreads: ArchiveSpreads) -> BundleResult:
        """Return a bundle's figures, with what the whole archive says of scatter: another bundle may change that."""
        setup = one.given.setup
        mine = spreads.of(setup.cooler.kind)
        parts = (one.keys, mine) if one.keys else object()
        return self.cache.object_of("bundle", parts, partial(combine_runs, setup, one.given.runs, mine))

    def _run(self, setup: Setup, setup_key: str | None, named: NamedRun, reader: LogReader) -> _KeyedRun:
        def key_now() -> str | None:
            hashes = [log_hash(self.root, setup.id, name) for name in named.files]
            return self.cache.key("run", (setup_key, named, hashes)) if setup_key else None

        def make() -> CachedRun:
            problems = Problems()
            given = reader.run(setup.id, named, problems)
            point = next(p for p in setup.protocol.points if p.id == named.run.point)
            run = reduce_run(setup, given, point) if given else None
            return CachedRun(run=run, problems=tuple(problems))

        key = key_now()
        return _KeyedRun(key=key, cached=self.cache.run_of(key, make, still=lambda: key_now() == key))


@dataclass(frozen=True, kw_only=True, eq=False)
class _KeyedRuns:
    """The reduced runs of a bundle with their cache keys; None where not all of them have one."""

    given: BundleRuns
    keys: tuple[str, ...] | None


@dataclass(frozen=True, kw_only=True)
class _KeyedRun:
    """A reduced run with its cache key, which stands for everything that it was made from."""

    key: str | None
    cached: CachedRun


def log_hash(root: Path, bundle_id: str, name: str) -> str:
    """Return the hash of a log's content; empty where it cannot be read."""
    relative = f"bundles/{bundle_id}/{name}"
    data = read_bytes(root, relative, Problems(), Span(file=relative))
    return "" if data is None else hashlib.sha256(data).hexdigest()
