"""Results as records of names and values: what `--json` prints, and what the JSON files of the site hold."""

from __future__ import annotations

import json
import math
from collections.abc import Iterable, Mapping
from typing import Any, TypeAlias

from builder.archive.catalogue import Catalogue
from builder.archive.protocol import Protocol
from builder.comparison import ByPsi, Direct, HeadToHead, NotComparable, Subject
from builder.core.quantity import Estimate
from builder.core.results import (
    Bend,
    BundleResult,
    Component,
    Figure,
    PointResult,
    PowerLine,
    PowerSweep,
    RunResult,
)
from builder.site.tables import lean

Record: TypeAlias = dict[str, Any]


def json_bytes(record: Any) -> bytes:  # noqa: ANN401 - whatever JSON holds
    """Return a record as compact JSON, floats to seven digits. Raises ValueError where one is not finite."""
    text = json.dumps(_lean(record), ensure_ascii=False, allow_nan=False, separators=(",", ":"))
    return f"{text}\n".encode()


def _lean(value: Any) -> Any:  # noqa: ANN401 - whatever JSON holds
    if isinstance(value, float):
        return lean(value)
    if isinstance(value, dict):
        return {key: _lean(item) for key, item in value.items()}
    return [_lean(item) for item in value] if isinstance(value, list | tuple) else value


def bundle_record(result: BundleResult, *, budget: bool = False) -> Record:
    """Return a bundle's figures: test points with figures and changes, runs with verdicts, lines, warnings.

    Every estimate has value, unit, u (standard, k = 1), dof (null where infinite) and U95 (expanded, 95 %).
    """
    return {
        "bundle": result.bundle,
        "mounts": result.mounts,
        "warnings": list(result.warnings),
        "points": [_point(p, budget=budget) for p in result.points],
        "notes": list(result.notes),
        "sweep": _sweep(result.sweep) if result.sweep else None,
        "lines": {kind: _line(line) for kind, line in result.lines.items()},
    }


def _point(point: PointResult, *, budget: bool) -> Record:
    return {
        "point": point.point,
        "name": point.name,
        "verdict": str(point.verdict),
        "mount_note": point.mount_note,
        "figures": _figures(point.figures, budget=budget),
        "changes": {
            kind: {"absolute": _optional(change.absolute), "percent": _optional(change.percent)}
            for kind, change in point.changes.items()
        },
        "runs": [run_record(run, budget=budget) for run in point.runs],
    }


def run_record(run: RunResult, *, budget: bool = False) -> Record:
    """Return one run: verdict, window, remaining approach and figures."""
    settlement = run.settlement
    window = settlement.window
    return {
        "run": run.id,
        "log": run.log or None,
        **({"joined": [str(quantity) for quantity in run.joined]} if run.joined else {}),
        "settlement": {
            "verdict": str(settlement.verdict),
            "message": settlement.message,
            "window_s": [window.start_s, window.end_s] if window else None,
            "remaining": _optional(settlement.remaining),
            "half_width_K": settlement.half_width,
            "limit_K": settlement.limit_k,
            "tau_s": settlement.tau_s,
            "notes": list(settlement.notes),
        },
        "ambient_in_band": run.ambient_in_band,
        "over_limit_W": run.over_limit.limit_w if run.over_limit else None,
        "figures": _figures(run.figures, budget=budget),
        "warnings": list(run.warnings),
        "repairs": list(run.repairs),
    }


def _figures(figures: Mapping[str, Figure], *, budget: bool) -> Record:
    return {kind: _figure(figure, budget=budget) for kind, figure in figures.items()}


def _figure(figure: Figure, *, budget: bool) -> Record:
    record = {**_estimate(figure.estimate), "samples": figure.samples}
    if figure.definition:
        record["definition"] = figure.definition
    if figure.note:
        record["note"] = figure.note
    if budget:
        record["budget"] = [_component(component) for component in figure.budget]
    return record


def _component(component: Component) -> Record:
    return {
        "component": component.name,
        "type": component.kind,
        "u": component.u,
        "unit": component.unit,
        "dof": _finite(component.dof),
        "sensitivity": component.sensitivity,
        "contribution": component.contribution,
    }


def _estimate(estimate: Estimate) -> Record:
    return {
        "value": estimate.value,
        "unit": estimate.unit,
        "u": estimate.u,
        "dof": _finite(estimate.dof),
        "U95": estimate.expanded(),
    }


def _optional(estimate: Estimate | None) -> Record | None:
    return _estimate(estimate) if estimate else None


def _finite(value: float) -> float | None:
    return value if math.isfinite(value) else None


def _sweep(sweep: PowerSweep) -> Record:
    return {
        "points": list(sweep.points),
        "most_efficient": sweep.best,
        "efficiency": _estimate(sweep.best_efficiency),
        "fastest": sweep.top,
        "last_tenth": _optional(sweep.last_tenth),
        "lowest_share": sweep.lowest_share,
    }


def _bend(bend: Bend) -> Record:
    """Return the second-order term: coefficient · (power² - q1 · power - q0), independent of the rest."""
    return {"coefficient": _estimate(bend.coefficient), "q1_W": bend.q1, "q0_W2": bend.q0}


def _line(line: PowerLine) -> Record:
    return {
        "intercept": _estimate(line.intercept),
        "slope": _estimate(line.slope),
        "covariance": line.covariance,
        "bend": _bend(line.bend) if line.bend else None,
        "slope_with_instruments": _estimate(line.stated_slope),
        "lack_of_fit_K": line.lack_of_fit,
        "range_W": [line.low_w, line.high_w],
        "points": list(line.points),
        "fits": line.fits,
        "chi2_p": line.chi2_p,
    }


def pair_record(found: HeadToHead) -> Record:
    """Return two results side by side: every figure with the difference, or the reasons why they do not compare."""
    how = found.comparability
    return {
        "a": {"bundle": found.a.bundle, "point": found.a.point},
        "b": {"bundle": found.b.bundle, "point": found.b.point},
        "comparable": "no" if isinstance(how, NotComparable) else "by psi" if isinstance(how, ByPsi) else "yes",
        "reasons": [{"code": r.code, "text": r.text} for r in (() if isinstance(how, Direct) else how.reasons)],
        "figures": [
            {
                "figure": row.kind,
                "a": _optional(row.a),
                "b": _optional(row.b),
                "bounds": [str(row.a_bound), str(row.b_bound)],
                "difference": _optional(row.difference),
                "standing": str(row.standing),
                "p": row.p,
                "text": row.text,
            }
            for row in found.rows
        ],
    }


# --- What is published: results with what was tested and how, and the whole archive


# The name of a raw log and what was mended in it may repeat words of its file, which is not published.
_NOT_PUBLISHED = frozenset({"log", "repairs"})
_EPISODE = {"number", "title", "url", "published"}
_CARD = {"name", "maker", "board_power_w", "power_limit_pct", "memory_type", "memory_gb", "core_clock_mhz"}
_COOLER = {"name", "kind", "maker", "model_code", "materials", "slots", "mass_g", "released"}


def result_record(subject: Subject, *, logs: Mapping[str, str], budget: bool) -> Record:
    """Return one result: what was tested and how, then its figures. `logs` are the published ones by run."""
    bundle = subject.bundle
    figures = bundle_record(subject.result, budget=budget)
    figures.pop("bundle")
    for point in figures["points"]:
        point["runs"] = [_published_run(run, logs) for run in point["runs"]]
    return {
        "bundle": subject.id,
        "title": subject.title,
        "card": {"id": bundle.card, "name": subject.card.name, "sample": bundle.card_sample},
        "cooler": {"id": bundle.cooler, "name": subject.cooler.name, "kind": str(subject.cooler.kind)},
        "bench": {"id": bundle.bench, "name": subject.bench.name},
        "protocol": {"id": bundle.protocol, "name": subject.protocol.name, "version": subject.protocol.version},
        "tested": bundle.tested.isoformat(),
        "supplied_by": str(bundle.supplied_by) if bundle.supplied_by else None,
        "episode": bundle.episode.model_dump(mode="json", include=_EPISODE, exclude_none=True)
        if bundle.episode
        else None,
        "corrections": [c.model_dump(mode="json") for c in bundle.corrections],
        **figures,
    }


def _published_run(run: Record, logs: Mapping[str, str]) -> Record:
    kept = {key: value for key, value in run.items() if key not in _NOT_PUBLISHED}
    return {**kept, "log": logs.get(run["run"])}


def archive_record(catalogue: Catalogue, results: Iterable[Record]) -> Record:
    """Return the whole archive: what it is, the things that results name, and every result without its budgets."""
    archive = catalogue.archive
    return {
        "channel": archive.channel,
        "title": archive.title,
        "url": archive.base_url,
        "notice": archive.notice,
        "licence": archive.licence.model_dump(mode="json") if archive.licence else None,
        "reference": archive.reference.model_dump(mode="json"),
        "cards": {key: card.model_dump(mode="json", include=_CARD) for key, card in catalogue.cards.items()},
        "coolers": {key: c.model_dump(mode="json", include=_COOLER) for key, c in catalogue.coolers.items()},
        "protocols": {key: _protocol(protocol) for key, protocol in catalogue.protocols.items()},
        "results": list(results),
    }


def _protocol(protocol: Protocol) -> Record:
    points = [{"id": p.id, "name": p.name, "role": str(p.role)} for p in protocol.points]
    return {"name": protocol.name, "version": protocol.version, "points": points}
