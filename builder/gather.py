"""Reads the logs that bundles name, once each, and cuts them into runs."""

from __future__ import annotations

import hashlib
from collections.abc import Iterable, Iterator
from dataclasses import dataclass, field, replace
from pathlib import Path

from builder.errors import Problem, Problems, Span
from builder.logs import FrameTable, LogTable, cut_log, read_frames, read_log
from builder.model import Bench, Run
from builder.reduce.inputs import RunInput
from builder.sources import read_bytes
from builder.validate import Loaded


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
