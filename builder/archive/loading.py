"""A whole archive folder as one catalogue, with every problem at once."""

from __future__ import annotations

import json
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import TypeVar

import yaml

from builder.archive.bench import AssumedAccuracy, Bench
from builder.archive.bundle import Bundle
from builder.archive.catalogue import Archive, Card, Catalogue, Cooler
from builder.archive.checks_between_files import (
    Shelved,
    check_bundle_references,
    check_equivalences,
    check_logs,
    check_strays,
)
from builder.archive.checks_within_a_file import check_runs
from builder.archive.fields import Model
from builder.archive.messages import to_model
from builder.archive.protocol import Protocol
from builder.archive.shelf import ARCHIVE_FILE, FOLDERS, Shelf, Shelves, file_of
from builder.archive.yaml_text import YamlDoc, load_yaml
from builder.core.errors import Problem, Problems, Severity, Span, nearest
from builder.core.files import Entry, content_dir, list_folder, themes_dir
from builder.core.words import listing, quoted

M = TypeVar("M", bound=Model)

NO_RUN_YET = "no-run-yet"
_OTHER_NAMES = ("pages", "theme", "ledger.json", "public")


@dataclass(frozen=True, kw_only=True)
class Loaded:
    """A validated archive, and where each of its fields stands."""

    catalogue: Catalogue
    docs: Mapping[tuple[str, str], YamlDoc]

    def where(self, kind: str, id_: str, *trail: str | int) -> Span:
        """Return where a field's value stands: `where("bundle", id, "mounts", 0, "runs", 1, "log")`.

        The nearest place above it where the field is not written; the kind's file name where nothing is known.
        The archive's own id is "archive".
        """
        doc = self.docs.get((kind, id_))
        return doc.value(*trail) if doc else Span(file=file_of(kind, id_))


def load_archive(root: Path, problems: Problems, *, content: Path | None = None) -> Loaded | None:
    """Return the archive in `root`, or None where any error was found; all problems go to `problems`.

    `content` is the folder of default words and protocols; the installed one when absent. Logs are asked only
    whether they can be read.
    """
    found = Problems()
    loaded = load_sound_parts(root, found, content=content)
    problems.extend(found)
    return None if found.has_errors else loaded


def load_sound_parts(
    root: Path, problems: Problems, *, content: Path | None = None, growing: str | None = None
) -> Loaded | None:
    """Return what is sound of the archive in `root`; None only where `archive.yaml` itself is not.

    A bundle is sound when its file, its logs and everything it refers to are, and it has a run. For commands that go on
    to look for more problems; anything published comes from `load_archive`. The logs of the bundle
    `growing` need not exist yet.
    """
    names = list_folder(root, ".", problems)
    if names is None:
        return None
    archive_doc = _archive_file(root, names, problems)
    archive = to_model(archive_doc, Archive, problems) if archive_doc else None
    shelved, bundles = _read_shelves(root, content or content_dir(), problems)
    check_equivalences(shelved.protocols, problems)
    sound = _sound_bundles(root, bundles, shelved, problems, growing)
    _check_names(names, problems)
    if archive is None or archive_doc is None:
        return None
    _check_theme(archive, archive_doc, problems)
    if not bundles.models and not bundles.broken:
        problems.notice("no-bundles", Span(file=FOLDERS["bundle"]), "the archive has no bundles yet")
    return _loaded(archive, archive_doc, shelved, bundles, sound)


def why_not(loaded: Loaded, bundle_id: str, problems: Problems) -> tuple[Problem, ...]:
    """Return why an archive has no sound bundle of a name: its own errors, no run yet, or no such bundle."""
    folder = f"{FOLDERS['bundle']}/{bundle_id}/"
    known = [id_ for kind, id_ in loaded.docs if kind == "bundle"]
    own = tuple(p for p in problems if p.severity is Severity.ERROR and p.where.file.startswith(folder))
    if own:
        return own
    if bundle_id in known:
        hint = 'name a run in bundle.yaml: remove the "# " before its line'
        where = loaded.where("bundle", bundle_id, "mounts")
        return (Problem(code=NO_RUN_YET, where=where, message="the bundle has no run yet", hint=hint),)
    hint = nearest(bundle_id, known) or f"there are: {listing(known)}"
    where = Span(file=bundle_id)
    return (Problem(code="unknown-bundle", where=where, message="there is no bundle of this name", hint=hint),)


def _read_shelves(root: Path, content: Path, problems: Problems) -> tuple[Shelved, Shelf[Bundle]]:
    shelves = Shelves(problems)
    shelved = Shelved(
        cards=shelves.read(root, "card", Card),
        coolers=shelves.read(root, "cooler", Cooler),
        benches=shelves.read(root, "bench", Bench),
        protocols=_protocols(shelves, root, content, problems),
    )
    bundles = shelves.read(root, "bundle", Bundle)
    for kind, shelf in shelved.by_kind.items():
        shelves.settle(kind, shelf.broken)
    return shelved, bundles


def _protocols(shelves: Shelves, root: Path, content: Path, problems: Problems) -> Shelf[Protocol]:
    default = shelves.read(content, "protocol", Protocol, prefix="content/")
    own = shelves.read(root, "protocol", Protocol)
    for id_ in sorted(own.models.keys() & default.models.keys()):
        where = Span(file=f"protocols/{id_}.yaml")
        message = f"protocol {quoted(id_)} comes with Soakbook, and an archive cannot change it"
        problems.error("duplicate-id", where, message, f"rename the file, for example to own-{id_}.yaml")
    return Shelf(
        models={**own.models, **default.models},
        docs={**own.docs, **default.docs},
        broken=own.broken | default.broken,
        unread=own.unread or default.unread,
    )


def _sound_bundles(
    root: Path, bundles: Shelf[Bundle], shelved: Shelved, problems: Problems, growing: str | None
) -> dict[str, Bundle]:
    sound: dict[str, Bundle] = {}
    for id_, doc in bundles.docs.items():
        found = Problems()
        resolves = check_bundle_references(doc, shelved, found)
        check_runs(doc, found)
        if id_ != growing:
            check_logs(root, id_, doc, found)
        bundle = bundles.models.get(id_)
        planned = bundle is not None and not any(mount.runs for mount in bundle.mounts)
        if planned:
            message = "no run yet: the bundle is planned, and is left out until a run is named"
            found.notice(NO_RUN_YET, doc.value("mounts"), message)
        if bundle and not found.has_errors:
            # A log named wrongly leaves its file unused: one cause, one problem.
            check_strays(root, id_, bundle, found)
        if bundle and resolves and not planned and not found.has_errors:
            sound[id_] = bundle
        problems.extend(found)
    return sound


def _archive_file(root: Path, names: Sequence[Entry], problems: Problems) -> YamlDoc | None:
    if any(entry.name == ARCHIVE_FILE for entry in names):
        return load_yaml(root, ARCHIVE_FILE, problems)
    hint = "soakbook start DIR makes an archive; every other command works on one"
    problems.error("missing-file", Span(file=ARCHIVE_FILE), "this folder is no archive: it has no archive.yaml", hint)
    return None


def _check_names(names: Sequence[Entry], problems: Problems) -> None:
    """Report names in the top folder that look like a part of the archive misspelled."""
    expected = (ARCHIVE_FILE, *FOLDERS.values(), *_OTHER_NAMES)
    for entry in names:
        hint = nearest(entry.name.lower(), expected)
        if entry.name not in expected and hint:
            problems.notice("stray-file", Span(file=entry.name), "not used", hint)


def _check_theme(archive: Archive, doc: YamlDoc, problems: Problems) -> None:
    themes = [entry.name for entry in list_folder(themes_dir(), ".", Problems()) or () if entry.is_folder]
    if archive.theme not in themes:
        hint = nearest(archive.theme, themes) or f"themes: {', '.join(themes)}"
        problems.error("missing-reference", doc.value("theme"), f"theme {quoted(archive.theme)} does not exist", hint)


def _loaded(
    archive: Archive, archive_doc: YamlDoc, shelved: Shelved, bundles: Shelf[Bundle], sound: dict[str, Bundle]
) -> Loaded:
    catalogue = Catalogue(
        assumed=assumed_accuracies(),
        archive=archive,
        cards=_in_order(shelved.cards.models),
        coolers=_in_order(shelved.coolers.models),
        benches=_in_order(shelved.benches.models),
        protocols=_in_order(shelved.protocols.models),
        bundles=_in_order(sound),
    )
    docs = {(kind, id_): doc for kind, shelf in shelved.by_kind.items() for id_, doc in shelf.docs.items()}
    docs |= {("bundle", id_): doc for id_, doc in bundles.docs.items()}
    return Loaded(catalogue=catalogue, docs={("archive", "archive"): archive_doc, **docs})


def assumed_accuracies() -> tuple[AssumedAccuracy, ...]:
    """Return what comes with the program for sensors whose bench states no accuracy."""
    text = (content_dir() / "assumed_accuracy.yaml").read_text(encoding="utf-8")
    return tuple(AssumedAccuracy.model_validate_json(json.dumps(line)) for line in yaml.safe_load(text))


def _in_order(models: dict[str, M]) -> dict[str, M]:
    return dict(sorted(models.items()))
