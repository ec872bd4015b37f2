"""Reads the logs that bundles name, once each, and cuts them into runs."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass, field, replace
from pathlib import Path

from builder.errors import Problem, Problems, Span
from builder.logs import FrameTable, LogTable, cut_log, read_frames, read_log
from builder.model import Bench, Run
from builder.reduce.inputs import RunInput
from builder.sources import read_bytes
from builder.validate import Loaded


@dataclass(kw_only=True)
class Gatherer:
    """Reads the logs of one archive; a log that several runs are cut from is read once.

    `files` lists every log and frame file read so far, relative to the archive.
    """

    root: Path
    loaded: Loaded
    problems: Problems
    files: list[str] = field(default_factory=list)
    _tables: dict[tuple[str, str], LogTable | None] = field(default_factory=dict)

    def bundle(self, bundle_id: str, *, only: str | None = None) -> tuple[RunInput, ...]:
        """Return the bundle's runs that can be read; what cannot is a problem. `only` keeps one run, as `m1/stock`."""
        bundle = self.loaded.catalogue.bundles[bundle_id]
        bench = self.loaded.catalogue.benches[bundle.bench]
        inputs = []
        outer, self.problems = self.problems, Problems()
        for number, mount in enumerate(bundle.mounts, start=1):
            for index, run in enumerate(mount.runs):
                if only is not None and only != f"m{number}/{run.point}":
                    continue
                where = self.loaded.where("bundle", bundle_id, "mounts", number - 1, "runs", index, "log")
                found = self._run(bundle_id, bench, number, run, where)
                if found:
                    inputs.append(found)
        outer.extend(_said_once(self.problems))
        self.problems = outer
        return tuple(inputs)

    def _run(self, bundle_id: str, bench: Bench, mount: int, run: Run, where: Span) -> RunInput | None:
        whole = self._table(bundle_id, bench, run.log, where)
        table = self._cut(whole, run, where) if whole else None
        frames = self._frames(bundle_id, bench, run, where)
        if table is None or (run.frames and frames is None):
            return None
        return RunInput(mount=mount, run=run, table=table, frames=frames)

    def _table(self, bundle_id: str, bench: Bench, log: str, where: Span) -> LogTable | None:
        relative = f"bundles/{bundle_id}/{log}"
        key = (relative, bundle_id)
        if key not in self._tables:
            data = read_bytes(self.root, relative, self.problems, where)
            self.files.append(relative)
            table = None
            if data is not None:
                table = read_log(data, file=relative, readers=bench.readers, problems=self.problems)
            self._tables[key] = table
        return self._tables[key]

    def _cut(self, table: LogTable, run: Run, where: Span) -> LogTable | None:
        if run.from_ is None and run.to is None:
            return table
        return cut_log(table, run.from_, run.to, where=where, problems=self.problems)

    def _frames(self, bundle_id: str, bench: Bench, run: Run, where: Span) -> FrameTable | None:
        if run.frames is None:
            return None
        relative = f"bundles/{bundle_id}/{run.frames}"
        data = read_bytes(self.root, relative, self.problems, where)
        self.files.append(relative)
        if data is None:
            return None
        return read_frames(data, file=relative, readers=bench.readers, problems=self.problems, skip=run.skip_frames)


def _said_once(problems: Iterable[Problem]) -> Iterator[Problem]:
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
