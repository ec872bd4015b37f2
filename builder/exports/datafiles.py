"""Every data file of an archive."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass

from builder.exports.descriptor import FIGURES, LOG
from builder.exports.figure_rows import HEADER, archive_rows, figure_rows
from builder.exports.files import DataFile, json_bytes
from builder.exports.logs import log_bytes
from builder.exports.records import archive_record, result_record
from builder.exports.tables import csv_bytes
from builder.figures import RunResult
from builder.model import Catalogue
from builder.views.subject import Subject


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
    logs = dict(_logs(subject))
    record = result_record(subject, logs=_addresses(logs), budget=True)
    table = csv_bytes(HEADER, figure_rows(subject))
    figures = (
        DataFile(
            path=f"{_stem(subject)}.csv",
            data=table,
            label="Figures",
            holds="Every figure of every test point and run, one a row.",
            bundle=subject.id,
            schema=FIGURES,
        ),
        DataFile(
            path=f"{_stem(subject)}.json",
            data=json_bytes(record),
            label="Figures with uncertainty budgets",
            holds="Every figure with its uncertainty budget, verdicts, changes from stock and lines.",
            bundle=subject.id,
        ),
    )
    return ResultFiles(figures=figures, logs=logs)


def archive_files(catalogue: Catalogue, subjects: Sequence[Subject], own: Mapping[str, ResultFiles]) -> list[DataFile]:
    """Return the data files that hold every result."""
    results = (result_record(s, logs=_addresses(own[s.id].logs), budget=False) for s in subjects)
    return [
        DataFile(
            path="archive.csv",
            data=csv_bytes(HEADER, archive_rows(subjects)),
            label="All figures as a table",
            holds="Every figure of every result, one a row.",
            schema=FIGURES,
        ),
        DataFile(
            path="archive.json",
            data=json_bytes(archive_record(catalogue, results)),
            label="The whole archive as a record",
            holds="Cards, coolers, protocols and every result with its figures, without budgets and logs.",
        ),
    ]


def _stem(subject: Subject) -> str:
    # An id holds no underscore, so these names stay free.
    return f"{subject.id}_" if subject.id in ("archive", "datapackage") else subject.id


def _addresses(logs: Mapping[str, DataFile]) -> dict[str, str]:
    return {run: file.path for run, file in logs.items()}


def _logs(subject: Subject) -> Iterator[tuple[str, DataFile]]:
    for point in subject.result.points:
        for run in point.runs:
            if file := _log(subject, run, point.name):
                yield run.id, file


def _log(subject: Subject, run: RunResult, point: str) -> DataFile | None:
    data = log_bytes(run)
    if data is None:
        return None
    return DataFile(
        path=f"logs/{subject.id}/m{run.mount}-{run.point}.csv",
        data=data,
        label=f"Log of mount {run.mount}, {point}",
        holds="The run's readings in standard units.",
        bundle=subject.id,
        log=True,
        schema=LOG,
    )
