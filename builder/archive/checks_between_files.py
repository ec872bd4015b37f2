"""Checks between documents: what a bundle or a protocol names has to exist."""

from __future__ import annotations

import datetime as dt
import json
import math
from collections import defaultdict
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import TypeAlias
from urllib.parse import unquote

from pydantic import ValidationError

from builder.archive.bench import Bench
from builder.archive.bundle import Bundle, Run
from builder.archive.catalogue import Card, Cooler
from builder.archive.fields import is_id
from builder.archive.protocol import PointRef, Protocol, TestPoint
from builder.archive.shelf import FOLDERS, Shelf
from builder.archive.yaml_text import Json, Trail, YamlDoc
from builder.core.errors import Problems, Span, nearest
from builder.core.files import file_exists, list_folder, read_bytes
from builder.core.words import listing, quoted

# --- Checks over the runs of one bundle: cuts, repeated runs, and one stretch of a log used twice


@dataclass(frozen=True, kw_only=True)
class Draft:
    """A run as it is written, sound or not: problems elsewhere in its bundle must not hide its own.

    `name` is how problems call it, as `m1/stock`; `run` is None where the run itself is not sound.
    """

    doc: YamlDoc
    trail: Trail
    name: str
    raw: dict[str, Json]
    run: Run | None

    @property
    def mount(self) -> str | int:
        """The index of the mount that the run belongs to."""
        return self.trail[1]

    def text(self, field: str) -> str | None:
        """Return a field's text, or None where it holds none or was already reported."""
        value = self.raw.get(field)
        is_sound = isinstance(value, str) and value and not self.doc.is_broken((*self.trail, field))
        return value if isinstance(value, str) and is_sound else None

    def where(self, field: str) -> Span:
        """Return where a field's value stands."""
        return self.doc.value(*self.trail, field)


def drafts(doc: YamlDoc) -> Iterator[Draft]:
    """Return every run that a bundle file lists, in file order."""
    for m, mount in _items(doc.data.get("mounts")):
        for r, raw in _items(mount.get("runs")):
            name = f"m{m + 1}/{raw.get('point')}"
            yield Draft(doc=doc, trail=("mounts", m, "runs", r), name=name, raw=raw, run=_run(raw))


def _items(value: Json) -> Iterator[tuple[int, dict[str, Json]]]:
    if isinstance(value, list):
        yield from ((i, item) for i, item in enumerate(value) if isinstance(item, dict))


def _run(raw: dict[str, Json]) -> Run | None:
    try:
        return Run.model_validate_json(json.dumps(raw), by_alias=True, by_name=False)
    except ValidationError:
        return None


def check_runs(doc: YamlDoc, problems: Problems) -> None:
    """Report cuts out of order, a test point run twice in one mount, and runs that share a stretch of a log."""
    written = tuple(drafts(doc))
    for draft in written:
        if draft.run:
            _check_cut(draft, draft.run, problems)
    repeated = _check_repeats(written, problems)
    for field in ("log", "frames"):
        _check_shared([d for d in written if d.trail not in repeated], field, problems)


def _check_cut(draft: Draft, run: Run, problems: Problems) -> None:
    start, end = run.from_, run.to
    if start is None or end is None:
        return
    if _clock(start) != _clock(end):
        message = '"to": expected the same kind of time as "from", found another'
        hint = "give both in seconds, or both as date and time, with a zone on both or on neither"
        problems.error("bad-value", draft.where("to"), message, hint)
    elif _seconds(start) >= _seconds(end):
        message = f'"to": expected a time after "from", {_shown(start)}, found {_shown(end)}'
        problems.error("bad-value", draft.where("to"), message)


def _shown(cut: float | dt.datetime) -> str:
    return str(cut) if isinstance(cut, dt.datetime) else f"{cut:g} s"


def _check_repeats(written: tuple[Draft, ...], problems: Problems) -> set[Trail]:
    first: dict[tuple[str | int, str], Draft] = {}
    repeated: set[Trail] = set()
    for draft in written:
        point = draft.text("point")
        known = first.setdefault((draft.mount, point), draft) if point else draft
        if known is not draft:
            repeated.add(draft.trail)
            message = f"{draft.name} is a run already, on line {known.where('point').line}"
            problems.error("duplicate-run", draft.where("point"), message, "a remount is a new entry below mounts")
    return repeated


@dataclass(frozen=True, kw_only=True)
class _Stretch:
    """The part of a log that a run takes, in seconds on its own clock; without cuts it is on every clock."""

    draft: Draft
    clock: str
    start: float
    end: float


def _check_shared(written: list[Draft], field: str, problems: Problems) -> None:
    by_file: dict[str, list[_Stretch]] = defaultdict(list)
    for draft in written:
        file, stretch = draft.text(field), _stretch(draft)
        if file is not None and stretch:
            by_file[file.removeprefix("./")].append(stretch)
    for stretches in by_file.values():
        # Cuts of different kinds cannot be compared before the log is read.
        clocks = {s.clock for s in stretches if s.clock != "every"} or {"every"}
        for clock in sorted(clocks):
            _check_overlaps([s for s in stretches if s.clock in (clock, "every")], field, problems)


def _check_overlaps(stretches: list[_Stretch], field: str, problems: Problems) -> None:
    in_time = sorted(stretches, key=lambda s: s.start)
    reach = in_time[0]
    for stretch in in_time[1:]:
        if stretch.start < reach.end:
            first, second = sorted((reach.draft, stretch.draft), key=lambda d: (d.mount, d.trail[3]))
            line = first.where(field).line
            message = (
                f'"{second.text(field)}" is used by {first.name} too, on line {line}, for the same stretch of time'
            )
            hint = "name another file, or cut the runs apart with from and to"
            problems.error("overlapping-runs", second.where(field), message, hint)
        reach = max(reach, stretch, key=lambda s: s.end)


def _stretch(draft: Draft) -> _Stretch | None:
    """Return the stretch of a sound run, or None where its cuts were reported."""
    if draft.run is None:
        return None
    start, end = draft.run.from_, draft.run.to
    clocks = {_clock(cut) for cut in (start, end) if cut is not None}
    first = -math.inf if start is None else _seconds(start)
    last = math.inf if end is None else _seconds(end)
    if len(clocks) > 1 or first >= last:
        return None
    return _Stretch(draft=draft, clock="".join(clocks) or "every", start=first, end=last)


def _clock(cut: float | dt.datetime) -> str:
    if isinstance(cut, dt.datetime):
        return "local" if cut.tzinfo is None else "zoned"
    return "elapsed"


def _seconds(cut: float | dt.datetime) -> float:
    """Return seconds that order cuts of one clock; a local time is taken as if it were UTC."""
    if isinstance(cut, dt.datetime):
        return (cut if cut.tzinfo else cut.replace(tzinfo=dt.UTC)).timestamp()
    return cut


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
