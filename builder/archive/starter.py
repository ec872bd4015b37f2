"""A new archive with one example bundle, copied from the content that ships with the program."""

from __future__ import annotations

import json
import shutil
import tempfile
from pathlib import Path
from typing import Any

from builder.archive.catalogue import FIELD_WORDS, KINDS
from builder.core.errors import Problem, SoakbookError, Span
from builder.core.files import content_dir

# --- JSON Schemas of the files of an archive, for editors


DIALECT = "https://json-schema.org/draft/2020-12/schema"


def json_schema(kind: str) -> dict[str, Any]:
    """Return the JSON Schema (2020-12) of one kind of file. Raises KeyError for a kind that does not exist.

    >>> json_schema("card")["required"]
    ['name', 'board_power_w']
    """
    schema = KINDS[kind].model_json_schema(by_alias=True, mode="validation")
    _describe(KINDS[kind].__name__, schema)
    for name, part in schema.get("$defs", {}).items():
        _describe(name, part)
    return {"$schema": DIALECT, **schema, "title": f"Soakbook {kind}"}


def _describe(model: str, schema: dict[str, Any]) -> None:
    # A docstring's first line is for readers of an editor's tooltip, the rest for readers of the code.
    if "description" in schema:
        schema["description"] = schema["description"].split("\n")[0].replace("`", "")
    for name, field in schema.get("properties", {}).items():
        field["title"] = name
        field["description"] = FIELD_WORDS.get(model, {}).get(name, name)


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
