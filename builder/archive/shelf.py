"""The documents of one kind: each file of its folder as a model, under the id that its name gives."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass, field
from pathlib import Path
from typing import Generic, TypeVar

from builder.archive.catalogue import KINDS
from builder.archive.checks_within_a_file import check_alone
from builder.archive.fields import ID_LENGTH, Model, id_hint, is_id, suggested_id
from builder.archive.messages import fields_of, to_model
from builder.archive.yaml_text import YamlDoc, load_yaml
from builder.core.errors import Problems, Span
from builder.core.files import Entry, list_folder
from builder.core.words import quoted

M = TypeVar("M", bound=Model)

FOLDERS: Mapping[str, str] = {
    "card": "cards",
    "cooler": "coolers",
    "bench": "benches",
    "protocol": "protocols",
    "bundle": "bundles",
}

# A name with one of these is reported as no id, and would be refused as a path once more.
_UNREADABLE = frozenset("\\\N{REPLACEMENT CHARACTER}")


@dataclass(frozen=True, kw_only=True)
class Shelf(Generic[M]):
    """What was read of one kind, by id: sound models, every file that could be read, and the ids already reported."""

    models: dict[str, M] = field(default_factory=dict)
    docs: dict[str, YamlDoc] = field(default_factory=dict)
    broken: set[str] = field(default_factory=set)
    unread: bool = False

    def is_reported(self, id_: str) -> bool:
        """Whether problems already say why an id has no sound model."""
        return self.unread or id_ in self.broken


@dataclass(frozen=True, kw_only=True)
class _Source:
    """One document to read: its id, and its file as the archive and as problems name it."""

    id: str
    file: str
    shown: str


class Shelves:
    """Reads folders of documents; a document in the wrong folder counts as reported for its true kind as well."""

    def __init__(self, problems: Problems) -> None:
        self.problems = problems
        self.misplaced: set[tuple[str, str]] = set()

    def read(self, root: Path, kind: str, model: type[M], *, prefix: str = "") -> Shelf[M]:
        """Return the documents of one kind below `root`; `prefix` goes before their names in problems."""
        entries = list_folder(root, FOLDERS[kind], self.problems)
        shelf: Shelf[M] = Shelf(unread=entries is None)
        for source in self._sources(entries or (), kind, prefix, shelf.broken):
            self._read_one(root, kind, model, source, shelf)
        return shelf

    def settle(self, kind: str, shelf: Shelf[M]) -> None:
        """Count documents that stand in other kinds' folders as reported; called once all folders are read."""
        shelf.broken.update(id_ for misplaced_kind, id_ in self.misplaced if misplaced_kind == kind)

    def _read_one(self, root: Path, kind: str, model: type[M], source: _Source, shelf: Shelf[M]) -> None:
        doc = load_yaml(root, source.file, self.problems, shown=source.shown)
        if doc is None or self._is_misplaced(kind, source, doc):
            shelf.broken.add(source.id)
            return
        shelf.docs[source.id] = doc
        result = self._sound(model, doc)
        if result is None or not is_id(source.id):
            shelf.broken.update({source.id, suggested_id(source.id)})
        else:
            shelf.models[source.id] = result

    def _is_misplaced(self, kind: str, source: _Source, doc: YamlDoc) -> bool:
        true_kind = _true_kind(kind, doc)
        if true_kind == kind:
            return False
        self.misplaced.add((true_kind, source.id))
        message = f"this file stands in {FOLDERS[kind]}, but its fields are those of {_a(true_kind)}"
        self.problems.error("wrong-folder", doc.where(), message, f"move it to {_home(true_kind, source.id)}")
        return True

    def _sound(self, model: type[M], doc: YamlDoc) -> M | None:
        found = Problems()
        result = to_model(doc, model, found)
        if result is not None:
            check_alone(result, doc, found)
        self.problems.extend(found)
        return None if found.has_errors else result

    def _sources(self, entries: Iterable[Entry], kind: str, prefix: str, broken: set[str]) -> Iterator[_Source]:
        folder = FOLDERS[kind]
        for entry in entries:
            where = Span(file=f"{prefix}{folder}/{entry.name}")
            id_ = self._id(kind, entry, where, broken)
            if id_ is None:
                continue
            self._check_id(id_, where, is_folder=entry.is_folder)
            if not _UNREADABLE.isdisjoint(id_):
                continue
            file = f"{folder}/{entry.name}/bundle.yaml" if kind == "bundle" else f"{folder}/{entry.name}"
            yield _Source(id=id_, file=file, shown=prefix + file)

    def _id(self, kind: str, entry: Entry, where: Span, broken: set[str]) -> str | None:
        """Return the id that a name gives, or None for what is no document."""
        if kind == "bundle":
            if not entry.is_folder:
                self.problems.notice("stray-file", where, "not used: a bundle is a folder that holds bundle.yaml")
            return entry.name if entry.is_folder else None
        stem, dot, extension = entry.name.rpartition(".")
        if entry.is_folder or extension.lower() not in ("yaml", "yml"):
            self.problems.notice("stray-file", where, f"not used: {FOLDERS[kind]} holds files that end in .yaml")
            return None
        if f"{dot}{extension}" != ".yaml":
            self.problems.error(
                "wrong-extension", where, f"expected .yaml, found .{extension}", f"rename it to {stem}.yaml"
            )
            broken.add(stem)
            return None
        return stem

    def _check_id(self, id_: str, where: Span, *, is_folder: bool) -> None:
        if is_id(id_):
            return
        reason = f"expected at most {ID_LENGTH} characters, found {len(id_)}"
        message = reason if len(id_) > ID_LENGTH else f"the name {quoted(id_)} cannot be an id"
        kind = "folder" if is_folder else "file"
        self.problems.error("bad-id", where, message, f"rename the {kind}: {id_hint(id_)}")


def _a(kind: str) -> str:
    return f"an {kind}" if kind == "archive" else f"a {kind}"


def _home(kind: str, id_: str) -> str:
    if kind == "archive":
        return "archive.yaml"
    return f"{FOLDERS[kind]}/{id_}/bundle.yaml" if kind == "bundle" else f"{FOLDERS[kind]}/{id_}.yaml"


def _true_kind(kind: str, doc: YamlDoc) -> str:
    """Return the kind whose fields the document has: its folder's, unless another fits clearly better."""
    names = set(doc.data)
    if _required(KINDS[kind]) <= names:
        return kind
    known = len(names & fields_of(KINDS[kind]).keys())
    others = (
        other
        for other, model in KINDS.items()
        if _required(model) <= names and len(names & fields_of(model).keys()) > known
    )
    return next(others, kind)


def _required(model: type[Model]) -> set[str]:
    return {name for name, field in fields_of(model).items() if field.is_required()}
