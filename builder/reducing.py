"""Runs of bundles into figures, each run made once for its log and everything that it is reduced by."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace
from pathlib import Path

from builder.cache import Kept, KeptRun
from builder.errors import Problems
from builder.figures import BundleResult, RunResult
from builder.gather import Gatherer, NamedRun, log_hash, named_runs, said_once
from builder.model import Bundle
from builder.reduce import Setting, combine_runs, reduce_run, setting_of
from builder.validate import Loaded


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
        runs = tuple(self._runs(setting, found))
        self.problems.extend(said_once(found))
        return combine_runs(setting, runs)

    def _runs(self, setting: Setting, problems: Problems) -> Iterator[RunResult]:
        gatherer = Gatherer(root=self.root, loaded=self.loaded, problems=problems)
        alone = replace(setting, bundle=_alone(setting.bundle))
        for named in named_runs(self.loaded, setting.bundle_id):
            kept = self._run(alone, named, gatherer)
            problems.extend(kept.problems)
            if kept.run:
                yield kept.run

    def _run(self, setting: Setting, named: NamedRun, gatherer: Gatherer) -> KeptRun:
        def parts() -> object:
            hashes = [log_hash(self.root, setting.bundle_id, name) for name in (named.run.log, named.run.frames)]
            return setting, named, hashes

        def make() -> KeptRun:
            problems = Problems()
            given = gatherer.run(setting.bundle_id, named, problems)
            point = next(p for p in setting.protocol.points if p.id == named.run.point)
            run = reduce_run(setting, given, point) if given else None
            return KeptRun(run=run, problems=tuple(problems))

        return self.kept.run_of(parts, make)


def _alone(bundle: Bundle) -> Bundle:
    """Return a bundle less its other runs and what only pages show, so that a change of these leaves a run as it is."""
    shown = {"title": None, "summary": "", "episode": None, "supplied_by": None, "corrections": (), "photos": ()}
    return bundle.model_copy(update={**shown, "mounts": ()})
