"""Results and the whole archive as records for JSON."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from typing import Any, TypeAlias

from builder.model import Archive, Bundle, Card, Catalogue, Cooler, Protocol
from builder.records import bundle_record
from builder.views.subject import Subject

Record: TypeAlias = dict[str, Any]

# The name of a raw log and what was mended in it may repeat words of its file, which is not published.
_NOT_PUBLISHED = frozenset({"log", "repairs"})


def result_record(subject: Subject, *, logs: Mapping[str, str], budget: bool) -> Record:
    """Return one result: what was tested and how, then its figures. `logs` are the published ones by run."""
    figures = bundle_record(subject.result, budget=budget)
    figures.pop("bundle")
    for point in figures["points"]:
        point["runs"] = [_published_run(run, logs) for run in point["runs"]]
    return {"bundle": subject.id, "title": subject.title, **_tested(subject), **figures}


def _published_run(run: Record, logs: Mapping[str, str]) -> Record:
    kept = {key: value for key, value in run.items() if key not in _NOT_PUBLISHED}
    return {**kept, "log": logs.get(run["run"])}


def _tested(subject: Subject) -> Record:
    bundle = subject.bundle
    return {
        "card": {"id": bundle.card, "name": subject.card.name, "sample": bundle.card_sample},
        "cooler": {"id": bundle.cooler, "name": subject.cooler.name, "kind": str(subject.cooler.kind)},
        "bench": {"id": bundle.bench, "name": subject.bench.name},
        "protocol": {"id": bundle.protocol, "name": subject.protocol.name, "version": subject.protocol.version},
        "tested": bundle.tested.isoformat(),
        "supplied_by": str(bundle.supplied_by) if bundle.supplied_by else None,
        "episode": _episode(bundle),
        "corrections": [c.model_dump(mode="json") for c in bundle.corrections],
    }


def _episode(bundle: Bundle) -> Record | None:
    if bundle.episode is None:
        return None
    return bundle.episode.model_dump(mode="json", include={"number", "title", "url", "published"}, exclude_none=True)


def archive_record(catalogue: Catalogue, results: Iterable[Record]) -> Record:
    """Return the whole archive: what it is, the things that results name, and every result without its budgets."""
    return {
        **_about(catalogue.archive),
        "cards": {key: _card(card) for key, card in catalogue.cards.items()},
        "coolers": {key: _cooler(cooler) for key, cooler in catalogue.coolers.items()},
        "protocols": {key: _protocol(protocol) for key, protocol in catalogue.protocols.items()},
        "results": list(results),
    }


def _about(archive: Archive) -> Record:
    return {
        "channel": archive.channel,
        "title": archive.title,
        "url": archive.base_url,
        "notice": archive.notice,
        "licence": archive.licence.model_dump(mode="json") if archive.licence else None,
        "reference": archive.reference.model_dump(mode="json"),
    }


def _card(card: Card) -> Record:
    fields = {"name", "maker", "board_power_w", "power_limit_pct", "memory_type", "memory_gb", "core_clock_mhz"}
    return card.model_dump(mode="json", include=fields)


def _cooler(cooler: Cooler) -> Record:
    fields = {"name", "kind", "maker", "model_code", "materials", "slots", "mass_g", "released"}
    return cooler.model_dump(mode="json", include=fields)


def _protocol(protocol: Protocol) -> Record:
    points = [{"id": p.id, "name": p.name, "role": str(p.role)} for p in protocol.points]
    return {"name": protocol.name, "version": protocol.version, "points": points}
