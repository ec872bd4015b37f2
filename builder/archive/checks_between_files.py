"""Checks between files: what a bundle or a protocol names has to exist."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from functools import partial
from pathlib import Path
from typing import TypeAlias
from urllib.parse import unquote

from builder.archive.bench import Bench
from builder.archive.bundle import Bundle
from builder.archive.catalogue import Card, Cooler
from builder.archive.checks_within_a_file import drafts, named_files
from builder.archive.fields import is_id
from builder.archive.protocol import Protocol, TestPoint
from builder.archive.shelf import FOLDERS, Shelf, file_of
from builder.archive.yaml_text import YamlDoc
from builder.core.errors import Problems, Span, nearest
from builder.core.files import file_exists, list_folder, read_bytes
from builder.core.words import listing, quoted

AnyShelf: TypeAlias = Shelf[Card] | Shelf[Cooler] | Shelf[Bench] | Shelf[Protocol]

_WRITTEN_BESIDE = frozenset({"bundle.yaml", "notes.md", "run-sheet.html", "script.md"})


@dataclass(frozen=True, kw_only=True)
class Shelved:
    """Everything that a bundle may refer to."""

    cards: Shelf[Card]
    coolers: Shelf[Cooler]
    benches: Shelf[Bench]
    protocols: Shelf[Protocol]

    @property
    def by_kind(self) -> Mapping[str, AnyShelf]:
        """The shelves by the kind of their files, which is the name of a bundle's field that refers to them."""
        return {"card": self.cards, "cooler": self.coolers, "bench": self.benches, "protocol": self.protocols}


def check_bundle_references(doc: YamlDoc, shelved: Shelved, problems: Problems) -> bool:
    """Report what a bundle file names and the archive lacks; return whether all of it exists and is sound."""
    names = {kind: name for kind in shelved.by_kind if isinstance(name := doc.data.get(kind), str) and is_id(name)}
    sound = [_resolves(kind, name, shelved.by_kind[kind], doc.value(kind), problems) for kind, name in names.items()]
    protocol_id = names.get("protocol", "")
    protocol = shelved.protocols.models.get(protocol_id)
    card = shelved.cards.models.get(names.get("card", ""))
    written = tuple(drafts(doc))
    for draft in written:
        name, where = draft.text("point"), draft.where("point")
        if protocol is None or name is None or not is_id(name):
            continue
        point = protocol.point(name)
        if point is None:
            # What the mount holds already would be refused in its place.
            there = {other.text("point") for other in written if other.mount == draft.mount}
            free = [p.id for p in protocol.points if p.id not in there]
            _report_unknown_point(name, protocol_id, free or [p.id for p in protocol.points], where, problems)
        elif card:
            _check_power_limit(point, card, where, problems)
    return len(sound) == len(shelved.by_kind) and all(sound)


def check_equivalences(protocols: Shelf[Protocol], problems: Problems) -> None:
    """Report declared equivalents that do not exist."""
    for id_, protocol in protocols.models.items():
        for p, point in enumerate(protocol.points):
            for e, other in enumerate(point.equivalent):
                place = partial(protocols.docs[id_].value, "points", p, "equivalent", e)
                if not _resolves("protocol", other.protocol, protocols, place("protocol"), problems):
                    continue
                target = protocols.models[other.protocol]
                if target.point(other.point) is None:
                    known = [known.id for known in target.points]
                    _report_unknown_point(other.point, other.protocol, known, place("point"), problems)


def _resolves(kind: str, id_: str, shelf: AnyShelf, where: Span, problems: Problems) -> bool:
    if id_ in shelf.models:
        return True
    if not shelf.is_reported(id_):
        known = {*shelf.models, *shelf.broken} - {""}
        hint = nearest(id_, sorted(known)) or f"{FOLDERS[kind]}: {listing(known)}"
        hint = hint if known else f"write {file_of(kind, id_)}"
        problems.error("missing-reference", where, f"{kind} {quoted(id_)} does not exist", hint)
    return False


def _report_unknown_point(point: str, id_: str, choices: Sequence[str], where: Span, problems: Problems) -> None:
    hint = nearest(point, choices) or f"test points: {listing(choices, limit=24)}"
    problems.error("unknown-point", where, f"protocol {quoted(id_)} has no test point {quoted(point)}", hint)


def _check_power_limit(point: TestPoint, card: Card, where: Span, problems: Problems) -> None:
    limits, asked = card.power_limit_pct, point.power_limit_pct
    if limits is None or asked is None or limits.min <= asked <= limits.max:
        return
    message = (
        f"test point {quoted(point.id)} asks for a power limit of {asked:g} %, "
        f"and the card takes {limits.min:g} to {limits.max:g} %"
    )
    problems.warning("power-limit-range", where, message, "check power_limit_pct in the card's file")


def check_logs(root: Path, id_: str, doc: YamlDoc, problems: Problems) -> None:
    """Report logs that a bundle file names and that cannot be read."""
    for named in named_files(doc):
        file_exists(root, named.file, problems, named.where, folder=f"{FOLDERS['bundle']}/{id_}")


def check_strays(root: Path, id_: str, bundle: Bundle, problems: Problems) -> None:
    """Report files of a bundle's folder that nothing uses."""
    folder = f"{FOLDERS['bundle']}/{id_}"
    used = _WRITTEN_BESIDE | {file.removeprefix("./").split("/")[0] for file in bundle.files}
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
