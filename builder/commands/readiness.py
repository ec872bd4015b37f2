"""What a bundle lacks before it is published: runs, mounts, disclosure, checks, and an ambient inside the band."""

from __future__ import annotations

from collections.abc import Iterator, Mapping

from builder.archive import Loaded
from builder.archive.bundle import Bundle
from builder.archive.catalogue import Setting, setting_of
from builder.archive.protocol import Required
from builder.core.errors import Problem, Problems, Severity, Span
from builder.core.quantity import format_number
from builder.core.results import BundleResult
from builder.sheet.plan import power_limit_trouble
from builder.sheet.steps import not_ticked, pad_fit

FIELDS = "maker sample, bought, loan or own work"


def readiness(loaded: Loaded, results: Mapping[str, BundleResult]) -> tuple[Problem, ...]:
    """Return what bundles lack, as notices, or as errors where their protocol requires it; pads only as notices."""
    problems = Problems()
    for bundle_id, result in results.items():
        _Bundle(loaded, result, setting_of(bundle_id, loaded.catalogue), problems).report()
    return tuple(problems)


class _Bundle:
    """Reports on one bundle."""

    def __init__(self, loaded: Loaded, result: BundleResult, setting: Setting, problems: Problems) -> None:
        self.loaded = loaded
        self.result = result
        self.setting = setting
        self.problems = problems

    @property
    def bundle(self) -> Bundle:
        return self.setting.bundle

    def where(self, *trail: str | int) -> Span:
        return self.loaded.where("bundle", self.setting.bundle_id, *trail)

    def add(self, code: str, required: Required, where: Span, message: str, hint: str) -> None:
        severity = Severity(required)
        self.problems.add(Problem(code=code, where=where, message=message, hint=hint, severity=severity))

    def report(self) -> None:
        self._points()
        self._remount()
        self._disclosure()
        self._checks()
        self._ambient()
        for message, where in self._pads():
            self.problems.notice(
                "pad-compression", where, message, "common practice, no source; the maker's figure counts"
            )

    def _points(self) -> None:
        run = {r.point for mount in self.bundle.mounts for r in mount.runs}
        left = [p for p in self.setting.protocol.points if p.id not in run]
        feasible = [p for p in left if not power_limit_trouble(self.setting.card, p)]
        needed = [p.id for p in feasible if p.required]
        optional = [p.id for p in feasible if not p.required]
        parts = (f"no run yet at {', '.join(needed)}" if needed else "", f"optional: {', '.join(optional)}")
        if needed:
            message = "; ".join(parts if optional else parts[:1])
            self.add("no-run-yet", self.setting.protocol.require.points, self.where("mounts"), message, "")
        elif optional:
            self.add("no-run-yet", "notice", self.where("mounts"), f"no run yet at optional {', '.join(optional)}", "")

    def _remount(self) -> None:
        asked = self.setting.protocol.mounts
        made = self.result.mounts
        if made < asked:
            message = f"the protocol asks for {asked} mounts, and there {'is' if made == 1 else 'are'} {made}"
            hint = "take the cooler off and put it on again; a remount is a new entry below mounts"
            self.add("remount-missing", self.setting.protocol.require.remount, self.where("mounts"), message, hint)

    def _disclosure(self) -> None:
        if self.bundle.supplied_by is None:
            message = "it does not say where the cooler came from"
            hint = f"write supplied_by: {FIELDS}"
            self.add("disclosure-missing", self.setting.protocol.require.disclosure, self.where(), message, hint)

    def _checks(self) -> None:
        missing = not_ticked(self.setting.cooler.kind, self.bundle.assembly.checks)
        if missing:
            message = f"not ticked: {', '.join(missing)}"
            where = self.where("assembly", "checks")
            hint = "tick them on the run sheet, then write them below assembly.checks"
            self.add("check-not-ticked", self.setting.protocol.require.checks, where, message, hint)

    def _ambient(self) -> None:
        band = self.setting.protocol.ambient
        for run in (run for point in self.result.points for run in point.runs if run.ambient_in_band is False):
            found = format_number(run.figures["ambient_temperature"].estimate.value, 1)
            message = f"{run.id}: ambient {found} °C is outside the band of {band.min_c:g} to {band.max_c:g} °C"
            where = self._run_place(run.mount, run.point)
            hint = "the run compares with nothing; run it again in a room inside the band"
            self.add("ambient-outside-band", self.setting.protocol.require.ambient_band, where, message, hint)

    def _run_place(self, mount: int, point: str) -> Span:
        runs = self.bundle.mounts[mount - 1].runs
        index = next(i for i, run in enumerate(runs) if run.point == point)
        return self.where("mounts", mount - 1, "runs", index, "point")

    def _pads(self) -> Iterator[tuple[str, Span]]:
        for index, pad in enumerate(self.bundle.assembly.pads):
            if warning := pad_fit(pad).warning:
                yield f"pad on {pad.where}: {warning}", self.where("assembly", "pads", index, "gap_mm")
