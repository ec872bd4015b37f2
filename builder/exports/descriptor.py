"""The Data Package (v2) descriptor of the data files, and the schemas of their columns."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from typing import Any, TypeAlias

from builder.exports import figure_rows, logs
from builder.exports.addresses import base_of
from builder.exports.files import FOLDER, DataFile, json_bytes
from builder.exports.tables import Field
from builder.model import Archive
from builder.views.home import site_title

Record: TypeAlias = dict[str, Any]

PROFILE = "https://datapackage.org/profiles/2.0/datapackage.json"
SCHEMA_PROFILE = "https://datapackage.org/profiles/2.0/tableschema.json"
DESCRIPTOR = "datapackage.json"
FIGURES, LOG = "figures", "log"


def schema_files() -> dict[str, bytes]:
    """Return the Table Schemas that the descriptor refers to, by address from the site's root."""
    return {
        f"{FOLDER}/{_schema_path(FIGURES)}": json_bytes(_schema(figure_rows.FIELDS)),
        # A log has the columns that its bench measures: some of these, by name.
        f"{FOLDER}/{_schema_path(LOG)}": json_bytes({**_schema(logs.FIELDS), "fieldsMatch": ["superset"]}),
    }


def _schema_path(schema: str) -> str:
    return f"schemas/{schema}.json"


def _schema(fields: Sequence[Field]) -> Record:
    return {"$schema": SCHEMA_PROFILE, "fields": [_field(field) for field in fields], "missingValues": [""]}


def _field(field: Field) -> Record:
    unit = {"unit": field.unit} if field.unit else {}
    return {"name": field.name, "type": field.type, **unit, "description": field.description}


def descriptor_file(archive: Archive, files: Iterable[DataFile]) -> DataFile:
    """Return the descriptor of all data files, with byte counts and hashes."""
    return DataFile(
        path=DESCRIPTOR,
        data=json_bytes(_package(archive, files)),
        label="Description of these files",
        holds="Columns, types, units, sizes and hashes of all files, as a Data Package.",
    )


def _package(archive: Archive, files: Iterable[DataFile]) -> Record:
    base = base_of(archive).url
    record: Record = {"$schema": PROFILE, "name": "cooler-tests", "title": site_title(archive)}
    if archive.summary:
        record["description"] = archive.summary
    if base:
        record |= {"id": f"{base}{FOLDER}/{DESCRIPTOR}", "homepage": base}
    if archive.licence:
        record["licenses"] = [{"path": archive.licence.url, "title": archive.licence.name}]
    source = {"title": archive.channel, **({"path": base} if base else {})}
    record |= {"contributors": [{**source, "roles": ["creator"]}], "sources": [source]}
    record["resources"] = [_resource(file) for file in files]
    return record


def _resource(file: DataFile) -> Record:
    ending = file.path.rpartition(".")[2]
    table = {"type": "table", "schema": _schema_path(file.schema)} if file.schema else {}
    return {
        "name": file.path.replace("/", "."),
        "path": file.path,
        "title": file.label,
        "description": file.holds,
        "format": ending,
        "mediatype": file.media_type,
        "encoding": "utf-8",
        "bytes": len(file.data),
        "hash": f"sha256:{file.sha256}",
        **table,
    }
