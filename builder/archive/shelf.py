"""The documents of one kind: each file of its folder as a model, under the id that its name gives."""

from __future__ import annotations

from collections.abc import Mapping
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

ARCHIVE_FILE = "archive.yaml"
FOLDERS: Mapping[str, str] = {
    "card": "cards",
    "cooler": "coolers",
    "bench": "benches",
    "protocol": "protocols",
    "bundle": "bundles",
}


def file_of(kind: str, id_: str) -> str:
    """Return the file of a document, as problems name it; `archive.yaml` for the archive itself."""
    if kind not in FOLDERS:
        return ARCHIVE_FILE
    return f"{FOLDERS[kind]}/{id_}/bundle.yaml" if kind == "bundle" else f"{FOLDERS[kind]}/{id_}.yaml"


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


class Shelves:
    """Reads folders of documents; a document in the wrong folder counts as reported for its true kind as well."""

    def __init__(self, problems: Problems) -> None:
        self.problems = problems
        self.misplaced: set[tuple[str, str]] = set()

    def read(self, root: Path, kind: str, model: type[M], *, prefix: str = "") -> Shelf[M]:
        """Return the documents of one kind below `root`; `prefix` goes before their names in problems."""
        entries = list_folder(root, FOLDERS[kind], self.problems)
        shelf: Shelf[M] = Shelf(unread=entries is None)
        for entry in entries or ():
            id_ = self._id(kind, entry, Span(file=f"{prefix}{FOLDERS[kind]}/{entry.name}"), shelf.broken)
            if id_ is None or not _UNREADABLE.isdisjoint(id_):
                continue
            file = file_of(kind, id_)
            doc = load_yaml(root, file, self.problems, shown=prefix + file)
            if doc is None or self._is_misplaced(kind, id_, doc):
                shelf.broken.add(id_)
                continue
            shelf.docs[id_] = doc
            result = self._sound(model, doc)
            if result is None or not is_id(id_):
                shelf.broken.update({id_, suggested_id(id_)})
            else:
                shelf.models[id_] = result
        return shelf

    def settle(self, kind: str, broken: set[str]) -> None:
        """Add to a kind's `broken` ids those whose files stand in other kinds' folders, once all folders are read."""
        broken.update(id_ for misplaced_kind, id_ in self.misplaced if misplaced_kind == kind)

    def _sound(self, model: type[M], doc: YamlDoc) -> M | None:
        found = Problems()
        result = to_model(doc, model, found)
        if result is not None:
            check_alone(result, doc, found)
        self.problems.extend(found)
        return None if found.has_errors else result

    def _is_misplaced(self, kind: str, id_: str, doc: YamlDoc) -> bool:
        true_kind = _true_kind(kind, doc)
        if true_kind == kind:
            return False
        self.misplaced.add((true_kind, id_))
        article = "an" if true_kind == "archive" else "a"
        message = f"this file stands in {FOLDERS[kind]}, but its fields are those of {article} {true_kind}"
        self.problems.error("wrong-folder", doc.where(), message, f"move it to {file_of(true_kind, id_)}")
        return True

    def _id(self, kind: str, entry: Entry, where: Span, broken: set[str]) -> str | None:
        """Return the id that a name gives, reported where it is a bad one, or None for what is no document."""
        stem, dot, extension = entry.name.rpartition(".")
        if kind == "bundle":
            stem = entry.name
            if not entry.is_folder:
                self.problems.notice("stray-file", where, "not used: a bundle is a folder that holds bundle.yaml")
                return None
        elif entry.is_folder or extension.lower() not in ("yaml", "yml"):
            self.problems.notice("stray-file", where, f"not used: {FOLDERS[kind]} holds files that end in .yaml")
            return None
        elif f"{dot}{extension}" != ".yaml":
            message = f"expected .yaml, found .{extension}"
            self.problems.error("wrong-extension", where, message, f"rename it to {stem}.yaml")
            broken.add(stem)
            return None
        if not is_id(stem):
            message = f"the name {quoted(stem)} cannot be an id"
            if len(stem) > ID_LENGTH:
                message = f"expected at most {ID_LENGTH} characters, found {len(stem)}"
            renamed = "folder" if entry.is_folder else "file"
            self.problems.error("bad-id", where, message, f"rename the {renamed}: {id_hint(stem)}")
        return stem


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
