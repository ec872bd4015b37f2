"""`soakbook schema`: JSON Schemas of an archive's files, with which an editor completes fields and marks mistakes."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

from builder.archive import json_schema
from builder.archive.catalogue import KINDS
from builder.core.writing import write_whole

SCHEMAS = ".schemas"


def schemas(kind: str | None = None) -> dict[str, Any]:
    """Return the schema of one kind of file, or those of all kinds by name."""
    return json_schema(kind) if kind else {name: json_schema(name) for name in KINDS}


def write_schemas(archive: Path) -> tuple[str, ...]:
    """Write the schemas of all kinds into `.schemas/` of an archive and return their names, relative to the archive.

    The files of an archive name their schemas there. They are made by the program, so older ones are replaced.
    """
    folder = archive / SCHEMAS
    folder.mkdir(exist_ok=True)
    for kind, schema in schemas().items():
        text = json.dumps(schema, ensure_ascii=False, indent=2)
        write_whole(folder / f"{kind}.json", f"{text}\n".encode())
    return tuple(f"{SCHEMAS}/{kind}.json" for kind in KINDS)
