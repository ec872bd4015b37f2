"""A new archive with one example bundle, copied from the content that ships with the program."""

from __future__ import annotations

import json
import shutil
import tempfile
from pathlib import Path

from builder.errors import Problem, SoakbookError, Span
from builder.model import KINDS
from builder.sources import content_dir
from builder.validate import json_schema

SCHEMAS = ".schemas"


def start_archive(folder: Path) -> tuple[str, ...]:
    """Make an archive in `folder` and return the files made, relative to it.

    Raises SoakbookError where the folder exists and is not empty: nothing of the tester's is ever overwritten.
    """
    if folder.exists() and (not folder.is_dir() or any(folder.iterdir())):
        raise SoakbookError([_refusal(folder)])
    template = content_dir() / "starter"
    folder.parent.mkdir(parents=True, exist_ok=True)
    with tempfile.TemporaryDirectory(prefix=f".{folder.name}-new-", dir=folder.parent) as temporary:
        made = Path(temporary) / "archive"
        shutil.copytree(template, made, ignore=shutil.ignore_patterns("public", ".*"))
        made.chmod(0o755)
        write_schemas(made)
        if folder.exists():
            folder.rmdir()
        made.rename(folder)
    return tuple(sorted(p.relative_to(folder).as_posix() for p in folder.rglob("*") if p.is_file()))


def write_schemas(folder: Path) -> tuple[str, ...]:
    """Write the JSON Schemas of all kinds of files into `.schemas/` of an archive and return their names.

    They are made by the program, so older ones are replaced.
    """
    schemas = folder / SCHEMAS
    schemas.mkdir(exist_ok=True)
    for kind in KINDS:
        text = json.dumps(json_schema(kind), ensure_ascii=False, indent=2)
        (schemas / f"{kind}.json").write_text(text + "\n", encoding="utf-8")
    return tuple(f"{SCHEMAS}/{kind}.json" for kind in KINDS)


def _refusal(folder: Path) -> Problem:
    what = "holds files already" if folder.is_dir() else "is a file"
    return Problem(
        code="folder-not-empty",
        where=Span(file=folder.name or str(folder)),
        message=f"the folder {what}, and a new archive would mix with them",
        hint="name a folder that does not exist yet",
    )
