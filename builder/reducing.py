"""Runs of bundles into figures, each run made once for its log and everything that it is reduced by."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace
from functools import partial
from pathlib import Path

from builder.cache import Kept, KeptRun
from builder.errors import Problems
from builder.figures import BundleResult
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
