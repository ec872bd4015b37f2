"""Checks between documents: what a bundle or a protocol names has to exist."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path

from builder.errors import Problems, Span, listing, nearest
from builder.model import Bench, Bundle, Card, Cooler, Protocol
from builder.sources import YamlDoc, file_exists, list_folder
from builder.validate.runs import placed_runs
from builder.validate.shelf import FOLDERS, Shelf
from builder.validate.wording import quoted

_WRITTEN_BESIDE = frozenset({"bundle.yaml", "notes.md", "script.md"})


@dataclass(frozen=True, kw_only=True)
class Shelved:
    """Everything that a bundle may refer to."""

    cards: Shelf[Card]
    coolers: Shelf[Cooler]
    benches: Shelf[Bench]
    protocols: Shelf[Protocol]


def check_bundle_references(bundle: Bundle, doc: YamlDoc, shelved: Shelved, problems: Problems) -> bool:
    """Report what a bundle names and the archive lacks; return whether all of it exists and is sound."""
    parts: Mapping[str, Shelf[Card] | Shelf[Cooler] | Shelf[Bench] | Shelf[Protocol]] = {
        "card": shelved.cards,
        "cooler": shelved.coolers,
        "bench": shelved.benches,
        "protocol": shelved.protocols,
    }
    sound = [_resolves(kind, getattr(bundle, kind), shelf, doc.value(kind), problems) for kind, shelf in parts.items()]
    protocol = shelved.protocols.models.get(bundle.protocol)
    if protocol:
        _check_points(bundle, doc, protocol, shelved.cards.models.get(bundle.card), problems)
    return all(sound)


def _resolves(
    kind: str,
    id_: str,
    shelf: Shelf[Card] | Shelf[Cooler] | Shelf[Bench] | Shelf[Protocol],
    where: Span,
    problems: Problems,
) -> bool:
    if id_ in shelf.models:
        return True
    if id_ not in shelf.broken:
        known = {*shelf.models, *shelf.broken} - {""}
        problems.error("missing-reference", where, f"{kind} {quoted(id_)} does not exist", _offer(kind, id_, known))
    return False


def _offer(kind: str, id_: str, known: set[str]) -> str:
    if not known:
        return f"write {FOLDERS[kind]}/{id_}.yaml"
    return nearest(id_, sorted(known)) or f"{FOLDERS[kind]}: {listing(known)}"


def _check_points(bundle: Bundle, doc: YamlDoc, protocol: Protocol, card: Card | None, problems: Problems) -> None:
    for placed in placed_runs(bundle):
        where = doc.value(*placed.trail, "point")
        point = protocol.point(placed.run.point)
        if point is None:
            _report_unknown_point(placed.run.point, bundle.protocol, protocol, where, problems)
        elif card and card.power_limit_pct and point.power_limit_pct is not None:
            limits = card.power_limit_pct
            if not limits.min <= point.power_limit_pct <= limits.max:
                message = (
                    f"test point {quoted(point.id)} asks for a power limit of {point.power_limit_pct:g} %, "
                    f"and the card takes {limits.min:g} to {limits.max:g} %"
                )
                problems.warning(
                    "power-limit-range", where, message, f"check power_limit_pct of the card {bundle.card}"
                )


def _report_unknown_point(point: str, id_: str, protocol: Protocol, where: Span, problems: Problems) -> None:
    known = [p.id for p in protocol.points]
    hint = nearest(point, known) or f"test points: {listing(known, limit=24)}"
    problems.error("unknown-point", where, f"protocol {quoted(id_)} has no test point {quoted(point)}", hint)


def check_equivalences(protocols: Shelf[Protocol], problems: Problems) -> None:
    """Report declared equivalents that do not exist."""
    for id_, protocol in protocols.models.items():
        doc = protocols.docs[id_]
        for p, point in enumerate(protocol.points):
            for e, other in enumerate(point.equivalent):
                trail = ("points", p, "equivalent", e)
                where = doc.value(*trail, "protocol")
                if not _resolves("protocol", other.protocol, protocols, where, problems):
                    continue
                target = protocols.models[other.protocol]
                if target.point(other.point) is None:
                    _report_unknown_point(other.point, other.protocol, target, doc.value(*trail, "point"), problems)


def check_bundle_files(root: Path, id_: str, bundle: Bundle, doc: YamlDoc, problems: Problems) -> None:
    """Report logs that cannot be read, and files of the bundle's folder that nothing uses."""
    folder = f"{FOLDERS['bundle']}/{id_}"
    used = set(_WRITTEN_BESIDE)
    for placed in placed_runs(bundle):
        for field, file in (("log", placed.run.log), ("frames", placed.run.frames)):
            if file is not None:
                used.add(file.removeprefix("./").split("/")[0])
                file_exists(root, file, problems, doc.value(*placed.trail, field), folder=folder)
    for entry in list_folder(root, folder, problems):
        if entry.name not in used:
            where = Span(file=f"{folder}/{entry.name}")
            problems.notice("stray-file", where, "not used: no run of bundle.yaml names it")
