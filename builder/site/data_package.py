"""Data files for programs: of each result, of the whole archive, and the Data Package that describes them."""

from __future__ import annotations

import hashlib
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from itertools import chain

from builder.archive.catalogue import Archive
from builder.comparison import Subject, Tested
from builder.core.results import RunResult
from builder.core.words import listed
from builder.pages.home import site_title
from builder.pages.page import DataEntry
from builder.site.addresses import base_of
from builder.site.records import Record, archive_record, json_bytes, result_record
from builder.site.tables import (
    FIELDS,
    HEADER,
    LOG_FIELDS,
    OWN_FIELDS,
    OWN_HEADER,
    Field,
    csv_bytes,
    figure_rows,
    log_bytes,
    own_cooler_rows,
)

FOLDER = "data"
FIGURES, LOG, OWN_COOLER = "figures", "log", "own-cooler"  # the schemas of columns


@dataclass(frozen=True, kw_only=True)
class DataFile:
    """A data file: its address below the folder of data files, its bytes, and what it is and holds.

    `log` tells the log of a run from figures; `schema` is the id of the schema of its columns, empty for JSON.
    """

    path: str
    data: bytes
    label: str
    holds: str
    log: bool = False
    schema: str = ""

    @property
    def href(self) -> str:
        """Return its address from the site's root."""
        return f"{FOLDER}/{self.path}"

    @property
    def sha256(self) -> str:
        """Return the hash of its bytes, as hexadecimal digits."""
        return hashlib.sha256(self.data).hexdigest()

    @property
    def media_type(self) -> str:
        """Return its type by name: `text/csv` or `application/json`."""
        return "text/csv" if self.path.endswith(".csv") else "application/json"

    @property
    def entry(self) -> DataEntry:
        """Return what pages say of it."""
        size = len(self.data)
        return DataEntry(href=self.href, label=self.label, holds=self.holds, size=size, log=self.log)


# --- The files of a result and of the archive


@dataclass(frozen=True, kw_only=True)
class ResultFiles:
    """The data files of one result: its figures, and its logs by run (`m1/stock`)."""

    figures: tuple[DataFile, ...]
    logs: Mapping[str, DataFile]

    @property
    def all(self) -> tuple[DataFile, ...]:
        """Return all of them, figures first."""
        return (*self.figures, *self.logs.values())


def result_files(subject: Subject) -> ResultFiles:
    """Return the data files of one result."""
    runs = ((point.name, run) for point in subject.result.points for run in point.runs)
    logs = {run.id: file for name, run in runs if (file := _log(subject, run, name))}
    # An id holds no underscore, so these names stay free.
    stem = f"{subject.id}_" if subject.id in ("archive", "datapackage", "own-cooler") else subject.id
    table = DataFile(
        path=f"{stem}.csv",
        data=csv_bytes(HEADER, figure_rows(subject)),
        label="Figures",
        holds="Every figure of every test point and run, one a row.",
        schema=FIGURES,
    )
    record = DataFile(
        path=f"{stem}.json",
        data=json_bytes(result_record(subject, logs=_paths(logs), budget=True)),
        label="Figures with uncertainty budgets",
        holds="Every figure with its uncertainty budget, verdicts, changes from stock and lines.",
    )
    return ResultFiles(figures=(table, record), logs=logs)


def _log(subject: Subject, run: RunResult, point: str) -> DataFile | None:
    data = log_bytes(run)
    if data is None:
        return None
    return DataFile(
        path=f"logs/{subject.id}/m{run.mount}-{run.point}.csv",
        data=data,
        label=f"Log of mount {run.mount}, {point}",
        holds=_readings(run),
        log=True,
        schema=LOG,
    )


def _readings(run: RunResult) -> str:
    said = "The run's readings in standard units"
    if not run.joined:
        return f"{said}."
    names = listed(str(quantity).replace("_", " ") for quantity in run.joined)
    return f"{said}; {names} from another log, interpolated at the times of the card's."


def archive_files(tested: Tested, subjects: Sequence[Subject], own: Mapping[str, ResultFiles]) -> tuple[DataFile, ...]:
    """Return the data files that hold every result; `own` are the files of each result by its id."""
    results = (result_record(s, logs=_paths(own[s.id].logs), budget=False) for s in subjects)
    table = DataFile(
        path="archive.csv",
        data=csv_bytes(HEADER, chain.from_iterable(map(figure_rows, subjects))),
        label="All figures as a table",
        holds="Every figure of every result, one a row.",
        schema=FIGURES,
    )
    record = DataFile(
        path="archive.json",
        data=json_bytes(archive_record(tested.catalogue, results)),
        label="The whole archive as a record",
        holds="Cards, coolers, protocols and every result with its figures, without budgets and logs.",
    )
    against = DataFile(
        path="own-cooler.csv",
        data=csv_bytes(OWN_HEADER, chain.from_iterable(own_cooler_rows(s, tested) for s in subjects)),
        label="Every result against its card's own cooler",
        holds="How core and memory differ from the card's own cooler at each test point, one a row.",
        schema=OWN_COOLER,
    )
    return (table, record, against)


def _paths(logs: Mapping[str, DataFile]) -> dict[str, str]:
    return {run: file.path for run, file in logs.items()}


# --- The Data Package (v2) descriptor of the data files, and the schemas of their columns


PROFILE = "https://datapackage.org/profiles/2.0/datapackage.json"
SCHEMA_PROFILE = "https://datapackage.org/profiles/2.0/tableschema.json"
DESCRIPTOR = "datapackage.json"


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


def schema_files() -> dict[str, bytes]:
    """Return the Table Schemas that the descriptor refers to, by address from the site's root."""
    return {
        f"{FOLDER}/{_schema_path(FIGURES)}": json_bytes(_schema(FIELDS)),
        f"{FOLDER}/{_schema_path(OWN_COOLER)}": json_bytes(_schema(OWN_FIELDS)),
        # A log has the columns that its bench measures: some of these, by name.
        f"{FOLDER}/{_schema_path(LOG)}": json_bytes({**_schema(LOG_FIELDS), "fieldsMatch": ["superset"]}),
    }


def _schema_path(schema: str) -> str:
    return f"schemas/{schema}.json"


def _schema(fields: Sequence[Field]) -> Record:
    return {"$schema": SCHEMA_PROFILE, "fields": [_field(field) for field in fields], "missingValues": [""]}


def _field(field: Field) -> Record:
    unit = {"unit": field.unit} if field.unit else {}
    return {"name": field.name, "type": field.type, **unit, "description": field.description}
