"""Checks between documents: what a bundle or a protocol names has to exist."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import TypeAlias
from urllib.parse import unquote

from builder.errors import Problems, Span, listing, nearest
from builder.model import Bench, Bundle, Card, Cooler, PointRef, Protocol, TestPoint
from builder.sources import Trail, YamlDoc, file_exists, list_folder, read_bytes
from builder.validate.runs import Draft, drafts
from builder.validate.shelf import FOLDERS, Shelf
from builder.validate.wording import is_id, quoted

AnyShelf: TypeAlias = Shelf[Card] | Shelf[Cooler] | Shelf[Bench] | Shelf[Protocol]

_WRITTEN_BESIDE = frozenset({"bundle.yaml", "notes.md", "run-sheet.html", "script.md"})


@dataclass(frozen=True, kw_only=True)
class Shelved:
    """Everything that a bundle may refer to."""

    cards: Shelf[Card]
    coolers: Shelf[Cooler]
    benches: Shelf[Bench]
    protocols: Shelf[Protocol]


def check_bundle_references(doc: YamlDoc, shelved: Shelved, problems: Problems) -> bool:
    """Report what a bundle file names and the archive lacks; return whether all of it exists and is sound."""
    parts: Mapping[str, AnyShelf] = {
        "card": shelved.cards,
        "cooler": shelved.coolers,
        "bench": shelved.benches,
        "protocol": shelved.protocols,
    }
    names = {kind: doc.data.get(kind) for kind in parts}
    sound = [
        _resolves(kind, name, parts[kind], doc.value(kind), problems)
        for kind, name in names.items()
        if isinstance(name, str) and is_id(name)
    ]
    protocol = shelved.protocols.models.get(str(names["protocol"]))
    card = shelved.cards.models.get(str(names["card"]))
    if protocol:
        for draft in drafts(doc):
            _check_point(draft, str(names["protocol"]), protocol, card, problems)
    return len(sound) == len(parts) and all(sound)


def _resolves(
    kind: str,
    id_: str,
    shelf: AnyShelf,
    where: Span,
    problems: Problems,
) -> bool:
    if id_ in shelf.models:
        return True
    if not shelf.is_reported(id_):
        known = {*shelf.models, *shelf.broken} - {""}
        problems.error("missing-reference", where, f"{kind} {quoted(id_)} does not exist", _offer(kind, id_, known))
    return False


def _offer(kind: str, id_: str, known: set[str]) -> str:
    if not known:
        return f"write {FOLDERS[kind]}/{id_}.yaml"
    return nearest(id_, sorted(known)) or f"{FOLDERS[kind]}: {listing(known)}"


def _check_point(draft: Draft, protocol_id: str, protocol: Protocol, card: Card | None, problems: Problems) -> None:
    name = draft.text("point")
    if name is None or not is_id(name):
        return
    point = protocol.point(name)
    if point is None:
        _report_unknown_point(name, protocol_id, protocol, draft.where("point"), problems)
    elif card:
        _check_power_limit(point, card, draft.where("point"), problems)


def _check_power_limit(point: TestPoint, card: Card, where: Span, problems: Problems) -> None:
    limits, asked = card.power_limit_pct, point.power_limit_pct
    if limits is None or asked is None or limits.min <= asked <= limits.max:
        return
    message = (
        f"test point {quoted(point.id)} asks for a power limit of {asked:g} %, "
        f"and the card takes {limits.min:g} to {limits.max:g} %"
    )
    problems.warning("power-limit-range", where, message, "check power_limit_pct in the card's file")


def _report_unknown_point(point: str, id_: str, protocol: Protocol, where: Span, problems: Problems) -> None:
    known = [p.id for p in protocol.points]
    hint = nearest(point, known) or f"test points: {listing(known, limit=24)}"
    problems.error("unknown-point", where, f"protocol {quoted(id_)} has no test point {quoted(point)}", hint)


def check_equivalences(protocols: Shelf[Protocol], problems: Problems) -> None:
    """Report declared equivalents that do not exist."""
    for id_, protocol in protocols.models.items():
        for p, point in enumerate(protocol.points):
            for e, other in enumerate(point.equivalent):
                _check_equivalent(other, protocols.docs[id_], ("points", p, "equivalent", e), protocols, problems)


def _check_equivalent(
    other: PointRef, doc: YamlDoc, trail: Trail, protocols: Shelf[Protocol], problems: Problems
) -> None:
    if not _resolves("protocol", other.protocol, protocols, doc.value(*trail, "protocol"), problems):
        return
    target = protocols.models[other.protocol]
    if target.point(other.point) is None:
        _report_unknown_point(other.point, other.protocol, target, doc.value(*trail, "point"), problems)


def check_logs(root: Path, id_: str, doc: YamlDoc, problems: Problems) -> None:
    """Report logs that a bundle file names and that cannot be read."""
    for draft in drafts(doc):
        for field in ("log", "frames"):
            file = draft.text(field)
            if file is not None:
                file_exists(root, file, problems, draft.where(field), folder=f"{FOLDERS['bundle']}/{id_}")


def check_strays(root: Path, id_: str, bundle: Bundle, problems: Problems) -> None:
    """Report files of a bundle's folder that nothing uses."""
    folder = f"{FOLDERS['bundle']}/{id_}"
    runs = [run for mount in bundle.mounts for run in mount.runs]
    named = [file for run in runs for file in (run.log, run.frames) if file]
    named += [photo.file for photo in bundle.photos]
    used = _WRITTEN_BESIDE | {file.removeprefix("./").split("/")[0] for file in named}
    notes = _notes(root, folder)
    for entry in list_folder(root, folder, problems) or ():
        if entry.name not in used and entry.name not in notes:
            where = Span(file=f"{folder}/{entry.name}")
            problems.notice("stray-file", where, "not used: no run of bundle.yaml names it")


def _notes(root: Path, folder: str) -> str:
    """Return the bundle's notes, which may name photos, with names as the file system has them."""
    file, unreported = f"{folder}/notes.md", Problems()
    there = file_exists(root, file, unreported, Span(file=file))
    data = read_bytes(root, file, unreported, Span(file=file)) if there else None
    return unquote(data.decode("utf-8", "replace")) if data else ""
