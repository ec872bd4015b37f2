"""What a bundle lacks before it is published: runs, mounts, disclosure, checks, and an ambient inside the band."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterator, Mapping
from dataclasses import dataclass

from builder.archive import Loaded
from builder.archive.bench import Accuracy
from builder.archive.catalogue import Setup
from builder.archive.protocol import Required
from builder.core.errors import Problem, Problems, Severity, Span
from builder.core.quantity import SYMBOLS, format_number
from builder.core.results import BundleResult, Quantity, RunResult
from builder.sheet.sheet_contents import power_limit_trouble
from builder.sheet.steps import not_ticked, pad_fit

SUPPLIED_BY = "maker sample, bought, loan or own work"


def readiness(loaded: Loaded, results: Mapping[str, BundleResult]) -> tuple[Problem, ...]:
    """Return what bundles lack, as notices, or as errors where their protocol requires it; pads only as notices."""
    problems = Problems()
    for bundle_id, result in results.items():
        setup = loaded.catalogue.setup(bundle_id)
        problems.extend(_Readiness(loaded=loaded, result=result, setup=setup).lacking())
    problems.extend(_assumed(loaded, results))
    problems.extend(_not_there_yet(loaded, results))
    return tuple(problems)


def _assumed(loaded: Loaded, results: Mapping[str, BundleResult]) -> Iterator[Problem]:
    """Yield one notice for each bench with sensors whose accuracy is assumed, for they state none and are used."""
    by_bench: dict[str, dict[Quantity, str]] = {}
    for bundle_id, result in results.items():
        setup = loaded.catalogue.setup(bundle_id)
        used = {q for point in result.points for run in point.runs for q in run.traces}
        for quantity in (q for q in Quantity if q in used):
            if (accuracy := setup.accuracy(quantity)).assumed:
                by_bench.setdefault(setup.bundle.bench, {})[quantity] = _half_width(quantity, accuracy)
    for bench, found in sorted(by_bench.items()):
        said = ", ".join(f"{quantity} {half_width}" for quantity, half_width in found.items())
        message = f"no accuracy is stated, so one is assumed: {said}"
        hint = "state what the sensor's maker states: accuracy, or accuracy_pct, in its line below sensors"
        yield _problem("accuracy-assumed", "notice", loaded.where("bench", bench, "sensors"), message, hint)


def _not_there_yet(loaded: Loaded, results: Mapping[str, BundleResult]) -> Iterator[Problem]:
    """Yield one warning for each quantity of a bench whose only sensors are dated after tests that read it."""
    early: dict[tuple[str, Quantity], dt.date] = {}
    for bundle_id, result in results.items():
        setup = loaded.catalogue.setup(bundle_id)
        read = {q for mount in setup.bundle.mounts for run in mount.runs for q in run.readings or ()}
        used = {q for point in result.points for run in point.runs for q in run.traces} | read
        dated = {s.quantity for s in setup.bench.sensors if s.from_}
        for quantity in (q for q in Quantity if q in used & dated and setup.sensor(q) is None):
            key = (setup.bundle.bench, quantity)
            early[key] = min(early.get(key, dt.date.max), setup.bundle.tested)
    for (bench, quantity), tested in sorted(early.items()):
        sensors = loaded.catalogue.benches[bench].sensors
        index = min((i for i, s in enumerate(sensors) if s.quantity is quantity), key=lambda i: str(sensors[i].from_))
        message = (
            f"{quantity} was read on {tested.isoformat()}, and its first sensor counts from {sensors[index].from_}: "
            "an accuracy is assumed before that"
        )
        hint = "remove from where the sensor was there already, or list the one before it"
        where = loaded.where("bench", bench, "sensors", index, "from")
        yield Problem(code="no-sensor-yet", where=where, message=message, hint=hint, severity=Severity.WARNING)


def _half_width(quantity: Quantity, accuracy: Accuracy) -> str:
    unit = "K" if quantity.unit == "degC" else SYMBOLS[quantity.unit]
    return f"±{accuracy.pct:g} %" if accuracy.pct else f"±{accuracy.absolute:g} {unit}"


@dataclass(frozen=True, kw_only=True)
class _Readiness:
    """One bundle, and what it lacks."""

    loaded: Loaded
    result: BundleResult
    setup: Setup

    def lacking(self) -> Iterator[Problem]:
        yield from self._points()
        yield from self._remount()
        yield from self._disclosure()
        yield from self._checks()
        yield from self._ambient()
        yield from self._limits()
        yield from self._pads()

    def _where(self, *trail: str | int) -> Span:
        return self.loaded.where("bundle", self.setup.id, *trail)

    def _points(self) -> Iterator[Problem]:
        protocol = self.setup.protocol
        run = {r.point for mount in self.setup.bundle.mounts for r in mount.runs}
        left = [p for p in protocol.points if p.id not in run and not power_limit_trouble(self.setup.card, p)]
        needed = ", ".join(p.id for p in left if p.required)
        optional = ", ".join(p.id for p in left if not p.required)
        where = self._where("mounts")
        if needed:
            message = f"no run yet at {needed}" + (f"; optional: {optional}" if optional else "")
            yield _problem("no-run-yet", protocol.require.points, where, message)
        elif optional:
            yield _problem("no-run-yet", "notice", where, f"no run yet at optional {optional}")

    def _remount(self) -> Iterator[Problem]:
        asked, made = self.setup.protocol.mounts, self.result.mounts
        if made < asked:
            message = f"the protocol asks for {asked} mounts, and there {'is' if made == 1 else 'are'} {made}"
            hint = "take the cooler off and put it on again; a remount is a new entry below mounts"
            required = self.setup.protocol.require.remount
            yield _problem("remount-missing", required, self._where("mounts"), message, hint)

    def _disclosure(self) -> Iterator[Problem]:
        if self.setup.bundle.supplied_by is None:
            message = "it does not say where the cooler came from"
            required = self.setup.protocol.require.disclosure
            yield _problem("disclosure-missing", required, self._where(), message, f"write supplied_by: {SUPPLIED_BY}")

    def _checks(self) -> Iterator[Problem]:
        missing = not_ticked(self.setup.cooler.kind, self.setup.bundle.assembly.checks)
        if missing:
            message = f"not ticked: {', '.join(missing)}"
            hint = "tick them on the run sheet, then write them below assembly.checks"
            required = self.setup.protocol.require.checks
            yield _problem("check-not-ticked", required, self._where("assembly", "checks"), message, hint)

    def _ambient(self) -> Iterator[Problem]:
        band, required = self.setup.protocol.ambient, self.setup.protocol.require.ambient_band
        for run in (run for point in self.result.points for run in point.runs if run.ambient_in_band is False):
            found = format_number(run.figures["ambient_temperature"].estimate.value, 1)
            message = f"{run.id}: ambient {found} °C is outside the band of {band.min_c:g} to {band.max_c:g} °C"
            hint = "the run compares with nothing; run it again in a room inside the band"
            yield _problem("ambient-outside-band", required, self._run(run), message, hint)

    def _run(self, run: RunResult) -> Span:
        runs = self.setup.bundle.mounts[run.mount - 1].runs
        index = next(i for i, given in enumerate(runs) if given.point == run.point)
        return self._where("mounts", run.mount - 1, "runs", index, "point")

    def _limits(self) -> Iterator[Problem]:
        for run in (run for point in self.result.points for run in point.runs):
            if over := run.over_limit:
                yield Problem(
                    code="limit-not-applied",
                    where=self._run(run),
                    message=f"{run.id} {over.text}",
                    hint="the run compares with nothing; set the limit and run it again, or name the test point it was",
                    severity=Severity.WARNING,
                )

    def _pads(self) -> Iterator[Problem]:
        for index, pad in enumerate(self.setup.bundle.assembly.pads):
            if warning := pad_fit(pad).warning:
                where = self._where("assembly", "pads", index, "gap_mm")
                hint = "common practice, no source; the maker's figure counts"
                yield _problem("pad-compression", "notice", where, f"pad on {pad.where}: {warning}", hint)


def _problem(code: str, required: Required, where: Span, message: str, hint: str = "") -> Problem:
    return Problem(code=code, where=where, message=message, hint=hint, severity=Severity(required))
