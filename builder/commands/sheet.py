"""A session before it begins: the bundle file and the run sheet, written into a new folder of the archive."""

from __future__ import annotations

import datetime as dt
import tempfile
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path

import yaml
from jinja2 import Environment, FileSystemLoader, StrictUndefined
from markupsafe import Markup

from builder.archive import Loaded, load_sound_parts
from builder.archive.bundle import Bundle, Pad
from builder.archive.catalogue import Catalogue, Setting
from builder.archive.fields import ID_LENGTH
from builder.commands.schema import SCHEMAS, write_schemas
from builder.core.errors import Problem, Problems, Severity, SoakbookError, Span, listing, nearest
from builder.core.files import content_dir
from builder.sheet import Assembly, Session, SheetPlan, assembly_from, bundle_skeleton, pad_fit, sheet_plan
from builder.site import read_words
from builder.site.theme import printable

# --- The run sheet as one HTML file that needs nothing beside it


_FOLDER = "sheet"


def read_assembly(content: Path) -> Assembly:
    """Return the parts and steps that come with the program."""
    return assembly_from(yaml.safe_load((content / "assembly.yaml").read_text(encoding="utf-8")))


def render_sheet(plan: SheetPlan, content: Path) -> bytes:
    """Return the run sheet as UTF-8: its style is inside, since it is printed from a folder and never published."""
    environment = Environment(
        loader=FileSystemLoader(content / _FOLDER),
        undefined=StrictUndefined,
        autoescape=True,
        trim_blocks=True,
        lstrip_blocks=True,
        finalize=printable,
    )
    style = Markup((content / _FOLDER / "sheet.css").read_text(encoding="utf-8").strip())  # noqa: S704 - our own file
    text = environment.get_template("run-sheet.html").render(sheet=plan, style=style)
    return (text.strip() + "\n").encode()


BUNDLE_FILE = "bundle.yaml"
SHEET_FILE = "run-sheet.html"
_FOLDERS = {"card": "cards", "cooler": "coolers", "bench": "benches", "protocol": "protocols"}


@dataclass(frozen=True, kw_only=True)
class Wanted:
    """What the tester asks for; what is None is taken from the archive."""

    card: str
    cooler: str
    protocol: str
    bench: str | None = None
    tested: dt.date
    start: dt.time | None = None
    mounts: int | None = None
    pads: tuple[Pad, ...] = ()


@dataclass(frozen=True, kw_only=True)
class Prepared:
    """What was written: the bundle's id, its two files, and what is worth knowing."""

    bundle: str
    bundle_file: Path
    sheet: Path
    remarks: tuple[str, ...]


def prepare_session(root: Path, wanted: Wanted) -> Prepared:
    """Write the bundle file and the run sheet of a session; nothing that exists is ever replaced.

    Raises SoakbookError where the archive cannot be read, lacks what is asked for, or holds the bundle already.
    """
    problems = Problems()
    loaded = load_sound_parts(root, problems)
    if loaded is None:
        raise SoakbookError(problems)
    bench = _bench(loaded, wanted)
    names = {"card": wanted.card, "cooler": wanted.cooler, "protocol": wanted.protocol, "bench": bench.id}
    _require(names, loaded.catalogue, problems)
    bundle_id = _free_id(root, wanted)
    pads = _pads(loaded.catalogue, wanted)
    setting = _setting(loaded.catalogue, bundle_id, names, wanted.tested)
    mounts = wanted.mounts or setting.protocol.mounts
    session = Session(setting=setting, mounts=mounts, start=wanted.start, pads=pads.pads)
    folder = root / "bundles" / bundle_id
    _write(folder, _files(root, session))
    if not (root / SCHEMAS).exists():  # the bundle file names one of them
        write_schemas(root)
    warnings = (f"pad on {pad.where}: {fit}" for pad in pads.pads if (fit := pad_fit(pad).warning))
    return Prepared(
        bundle=bundle_id,
        bundle_file=folder / BUNDLE_FILE,
        sheet=folder / SHEET_FILE,
        remarks=tuple(r for r in (bench.remark, pads.remark, *warnings) if r),
    )


def _files(root: Path, session: Session) -> dict[str, bytes]:
    content = content_dir()
    assembly = read_assembly(content)
    cautions = read_words(root, content, ()).cautions
    plan = sheet_plan(session, assembly, cautions)
    return {
        BUNDLE_FILE: bundle_skeleton(session).encode(),
        SHEET_FILE: render_sheet(plan, content),
    }


def _write(folder: Path, files: Mapping[str, bytes]) -> None:
    """Write a folder whole or not at all: it is made beside its place and renamed."""
    folder.parent.mkdir(parents=True, exist_ok=True)
    with tempfile.TemporaryDirectory(prefix=".new-", dir=folder.parent) as temporary:
        made = Path(temporary) / "bundle"
        made.mkdir()
        for name, data in files.items():
            (made / name).write_bytes(data)
        if folder.exists() or folder.is_symlink():
            raise SoakbookError([_taken(folder.name)])
        made.rename(folder)


def _setting(catalogue: Catalogue, bundle_id: str, names: Mapping[str, str], tested: dt.date) -> Setting:
    # Built without validation: a bundle without runs is no result yet, and nothing here reads them.
    bundle = Bundle.model_construct(
        card=names["card"],
        cooler=names["cooler"],
        bench=names["bench"],
        protocol=names["protocol"],
        tested=tested,
        mounts=(),
    )
    return Setting(
        bundle_id=bundle_id,
        bundle=bundle,
        card=catalogue.cards[names["card"]],
        cooler=catalogue.coolers[names["cooler"]],
        bench=catalogue.benches[names["bench"]],
        protocol=catalogue.protocols[names["protocol"]],
    )


@dataclass(frozen=True, kw_only=True)
class _Bench:
    id: str
    remark: str = ""


@dataclass(frozen=True, kw_only=True)
class _Pads:
    pads: tuple[Pad, ...] = ()
    remark: str = ""


def _bench(loaded: Loaded, wanted: Wanted) -> _Bench:
    """Return the bench asked for, the only one, or that of the latest bundle, with what to say of the choice."""
    benches = loaded.catalogue.benches
    if wanted.bench is not None:
        return _Bench(id=wanted.bench)
    if len(benches) == 1:
        return _Bench(id=next(iter(benches)))
    latest = max(loaded.catalogue.bundles.items(), key=lambda item: (item[1].tested, item[0]), default=None)
    if latest is None:
        hint = f"benches: {listing(benches)}" if benches else "write benches/my-bench.yaml first"
        raise SoakbookError([_problem("bench-not-named", "benches", "which bench? Name one with --bench", hint)])
    return _Bench(id=latest[1].bench, remark=f"bench {latest[1].bench}, as in the latest bundle, {latest[0]}")


def _pads(catalogue: Catalogue, wanted: Wanted) -> _Pads:
    """Return the pads asked for, or those of the latest bundle of the same cooler on the same card."""
    if wanted.pads:
        return _Pads(pads=wanted.pads)
    same = [
        (bundle.tested, id_, bundle.assembly.pads)
        for id_, bundle in catalogue.bundles.items()
        if (bundle.card, bundle.cooler) == (wanted.card, wanted.cooler) and bundle.assembly.pads
    ]
    if not same:
        return _Pads()
    _, id_, pads = max(same, key=lambda item: item[:2])
    return _Pads(pads=pads, remark=f"pads as in {id_}")


def _require(names: Mapping[str, str], catalogue: Catalogue, problems: Problems) -> None:
    found = Problems()
    for kind, name in names.items():
        known: Mapping[str, object] = getattr(catalogue, _FOLDERS[kind])
        if name not in known:
            found.extend(_unknown(kind, name, known, problems))
    if found.has_errors:
        raise SoakbookError(found)


def _unknown(kind: str, name: str, known: Mapping[str, object], problems: Problems) -> Sequence[Problem]:
    """Return the errors of the file that is named, or that there is none."""
    files = {f"{prefix}{_FOLDERS[kind]}/{name}.yaml" for prefix in ("", "content/")}
    own = [p for p in problems if p.severity is Severity.ERROR and p.where.file in files]
    hint = nearest(name, known) or (f"there are: {listing(known)}" if known else f"write {_FOLDERS[kind]}/ first")
    return own or [_problem(f"unknown-{kind}", name, f"there is no {kind} of this name", hint)]


def _free_id(root: Path, wanted: Wanted) -> str:
    """Return `cooler-on-card`, with the month where that is taken."""
    plain = f"{wanted.cooler}-on-{wanted.card}"
    ids = [_fitting(plain, ""), _fitting(plain, f"-{wanted.tested:%Y-%m}")]
    for id_ in ids:
        folder = root / "bundles" / id_
        if not folder.exists() and not folder.is_symlink():
            return id_
    raise SoakbookError([_taken(ids[-1])])


def _fitting(plain: str, end: str) -> str:
    return plain[: ID_LENGTH - len(end)].rstrip("-") + end


def _taken(bundle_id: str) -> Problem:
    hint = "rename that folder, or plan the session with another --date"
    return _problem("bundle-exists", f"bundles/{bundle_id}", "this bundle exists, and nothing is overwritten", hint)


def _problem(code: str, where: str, message: str, hint: str) -> Problem:
    return Problem(code=code, where=Span(file=where), message=message, hint=hint)
