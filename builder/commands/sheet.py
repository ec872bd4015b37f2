"""`soakbook sheet`: a session before it begins, which is a new bundle file and the run sheet to print beside it."""

from __future__ import annotations

import datetime as dt
from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import yaml
from jinja2 import Environment, FileSystemLoader, StrictUndefined
from markupsafe import Markup

from builder.archive import Loaded, load_sound_parts
from builder.archive.bundle import Bundle, Pad
from builder.archive.catalogue import Catalogue, Setup
from builder.archive.fields import ID_LENGTH
from builder.commands.schema import SCHEMAS, write_schemas
from builder.core.errors import Problem, Problems, SoakbookError, Span, errors_among, nearest
from builder.core.files import content_dir
from builder.core.words import listing
from builder.core.writing import whole_folder
from builder.sheet import Assembly, Session, SheetPlan, assembly_from, bundle_skeleton, pad_fit, sheet_plan
from builder.site import read_words
from builder.site.theme import printable

BUNDLE_FILE = "bundle.yaml"
SHEET_FILE = "run-sheet.html"
FOLDERS = {"card": "cards", "cooler": "coolers", "bench": "benches", "protocol": "protocols"}


@dataclass(frozen=True, kw_only=True)
class SessionRequest:
    """What the tester asks for; what is None or empty is taken from the archive."""

    card: str
    cooler: str
    protocol: str
    bench: str | None = None
    tested: dt.date
    start: dt.time | None = None
    mounts: int | None = None
    pads: tuple[Pad, ...] = ()


@dataclass(frozen=True, kw_only=True)
class PreparedSession:
    """What was written: the bundle's id, its two files, and what is worth knowing."""

    bundle: str
    bundle_file: Path
    sheet: Path
    remarks: tuple[str, ...]


def prepare_session(root: Path, request: SessionRequest) -> PreparedSession:
    """Write the bundle file and the run sheet of a session; nothing that exists is ever replaced.

    Raises SoakbookError where the archive cannot be read, lacks what is asked for, or holds the bundle already.
    """
    problems = Problems()
    loaded = load_sound_parts(root, problems)
    if loaded is None:
        raise SoakbookError(problems)
    bench = _choose_bench(loaded, request)
    names = {"card": request.card, "cooler": request.cooler, "protocol": request.protocol, "bench": bench.id}
    _require(names, loaded.catalogue, problems)
    bundle_id = _free_id(root, request)
    pads = _choose_pads(loaded.catalogue, request)
    setup = _setup(loaded.catalogue, bundle_id, names, request.tested)
    mounts = request.mounts or setup.protocol.mounts
    session = Session(setup=setup, mounts=mounts, start=request.start, pads=pads.pads)
    content = content_dir()
    plan = sheet_plan(session, read_assembly(content), read_words(root, content, ()).cautions)
    folder = root / "bundles" / bundle_id
    files = {BUNDLE_FILE: bundle_skeleton(session).encode(), SHEET_FILE: render_sheet(plan, content)}
    _write_new_folder(folder, files)
    if not (root / SCHEMAS).exists():  # the bundle file names one of them
        write_schemas(root)
    warnings = (f"pad on {pad.where}: {fit}" for pad in pads.pads if (fit := pad_fit(pad).warning))
    return PreparedSession(
        bundle=bundle_id,
        bundle_file=folder / BUNDLE_FILE,
        sheet=folder / SHEET_FILE,
        remarks=tuple(r for r in (bench.remark, pads.remark, *warnings) if r),
    )


def read_assembly(content: Path) -> Assembly:
    """Return the parts and steps that come with the program."""
    return assembly_from(yaml.safe_load((content / "assembly.yaml").read_text(encoding="utf-8")))


def render_sheet(plan: SheetPlan, content: Path) -> bytes:
    """Return the run sheet as one HTML file in UTF-8 with its style inside: it is printed, and never published."""
    folder = content / "sheet"
    environment = Environment(
        loader=FileSystemLoader(folder),
        undefined=StrictUndefined,
        autoescape=True,
        trim_blocks=True,
        lstrip_blocks=True,
        finalize=printable,
    )
    style = Markup((folder / "sheet.css").read_text(encoding="utf-8").strip())  # noqa: S704 - our own file
    text = environment.get_template("run-sheet.html").render(sheet=plan, style=style)
    return (text.strip() + "\n").encode()


def _write_new_folder(folder: Path, files: Mapping[str, bytes]) -> None:
    with whole_folder(folder) as made:
        for name, data in files.items():
            (made / name).write_bytes(data)
        if folder.exists() or folder.is_symlink():
            raise SoakbookError([_bundle_exists(folder.name)])


# --- what the request leaves open, and what must exist -------------------------------------------------------------


@dataclass(frozen=True, kw_only=True)
class _ChosenBench:
    id: str
    remark: str = ""


@dataclass(frozen=True, kw_only=True)
class _ChosenPads:
    pads: tuple[Pad, ...] = ()
    remark: str = ""


def _setup(catalogue: Catalogue, bundle_id: str, names: Mapping[str, str], tested: dt.date) -> Setup:
    # Built without validation: a bundle without runs is no result yet, and nothing here reads them.
    declared: dict[str, Any] = {**names, "tested": tested, "mounts": ()}
    return catalogue.setup_of(bundle_id, Bundle.model_construct(**declared))


def _choose_bench(loaded: Loaded, request: SessionRequest) -> _ChosenBench:
    """Return the bench asked for, the only one, or that of the latest bundle, with what to say of the choice."""
    benches = loaded.catalogue.benches
    if request.bench is not None:
        return _ChosenBench(id=request.bench)
    if len(benches) == 1:
        return _ChosenBench(id=next(iter(benches)))
    latest = max(loaded.catalogue.bundles.items(), key=lambda item: (item[1].tested, item[0]), default=None)
    if latest is None:
        hint = f"benches: {listing(benches)}" if benches else "write benches/my-bench.yaml first"
        raise SoakbookError([_problem("bench-not-named", "benches", "which bench? Name one with --bench", hint)])
    return _ChosenBench(id=latest[1].bench, remark=f"bench {latest[1].bench}, as in the latest bundle, {latest[0]}")


def _choose_pads(catalogue: Catalogue, request: SessionRequest) -> _ChosenPads:
    """Return the pads asked for, or those of the latest bundle of the same cooler on the same card."""
    if request.pads:
        return _ChosenPads(pads=request.pads)
    same = [
        (bundle.tested, id_, bundle.assembly.pads)
        for id_, bundle in catalogue.bundles.items()
        if (bundle.card, bundle.cooler) == (request.card, request.cooler) and bundle.assembly.pads
    ]
    if not same:
        return _ChosenPads()
    _, id_, pads = max(same, key=lambda item: item[:2])
    return _ChosenPads(pads=pads, remark=f"pads as in {id_}")


def _require(names: Mapping[str, str], catalogue: Catalogue, problems: Problems) -> None:
    found = Problems()
    for kind, name in names.items():
        known: Mapping[str, object] = getattr(catalogue, FOLDERS[kind])
        if name not in known:
            found.extend(_unknown(kind, name, known, problems))
    if found.has_errors:
        raise SoakbookError(found)


def _unknown(kind: str, name: str, known: Mapping[str, object], problems: Problems) -> list[Problem]:
    """Return the errors of the file that is named, or that there is none."""
    files = {f"{prefix}{FOLDERS[kind]}/{name}.yaml" for prefix in ("", "content/")}
    own = [p for p in errors_among(problems) if p.where.file in files]
    hint = nearest(name, known) or (f"there are: {listing(known)}" if known else f"write {FOLDERS[kind]}/ first")
    return own or [_problem(f"unknown-{kind}", name, f"there is no {kind} of this name", hint)]


def _free_id(root: Path, request: SessionRequest) -> str:
    """Return `cooler-on-card`, with the month where that is taken."""
    name = f"{request.cooler}-on-{request.card}"
    ids = [name[: ID_LENGTH - len(end)].rstrip("-") + end for end in ("", f"-{request.tested:%Y-%m}")]
    for id_ in ids:
        folder = root / "bundles" / id_
        if not folder.exists() and not folder.is_symlink():
            return id_
    raise SoakbookError([_bundle_exists(ids[-1])])


def _bundle_exists(bundle_id: str) -> Problem:
    hint = "rename that folder, or plan the session with another --date"
    return _problem("bundle-exists", f"bundles/{bundle_id}", "this bundle exists, and nothing is overwritten", hint)


def _problem(code: str, where: str, message: str, hint: str) -> Problem:
    return Problem(code=code, where=Span(file=where), message=message, hint=hint)
