"""The first line of files made by the program names a schema, which is there and fits them.

`# $schema: PATH` in a comment at the head is what editors read; from memory of their manuals, no standard has it.
"""

from __future__ import annotations

import datetime as dt
import json
import re
import shutil
from pathlib import Path

import jsonschema
import pytest
import yaml

from builder.commands.sheet import SessionRequest, prepare_session
from builder.commands.start import start_archive

LINE = re.compile(r"# \$schema: (\S+)\n")
WANTED = SessionRequest(
    card="example-card", cooler="example-tower", protocol="soak-10", tested=dt.date(2026, 12, 1), start=dt.time(10, 30)
)


@pytest.fixture
def archive(tmp_path: Path) -> Path:
    start_archive(tmp_path / "archive")
    return tmp_path / "archive"


def schema_of(file: Path) -> Path:
    line = LINE.match(file.read_text(encoding="utf-8"))
    assert line, f"{file.name} begins with no line for editors"
    return file.parent / line[1]


def fits(file: Path) -> bool:
    schema = json.loads(schema_of(file).read_text(encoding="utf-8"))
    # Days are dates for YAML and text for JSON Schema.
    record = json.loads(json.dumps(yaml.safe_load(file.read_text(encoding="utf-8")), default=str))
    jsonschema.validate(record, schema)
    return True


def test_every_file_of_a_new_archive_names_the_schema_that_it_fits(archive: Path) -> None:
    files = sorted(archive.rglob("*.yaml"))
    assert len(files) == 5
    assert all(fits(file) for file in files)


def test_a_planned_bundle_names_the_schema_that_it_fits(archive: Path) -> None:
    assert fits(prepare_session(archive, WANTED).bundle_file)


def test_the_schemas_are_made_where_an_archive_has_none(archive: Path) -> None:
    shutil.rmtree(archive / ".schemas")
    assert fits(prepare_session(archive, WANTED).bundle_file)


def test_schemas_that_are_there_stay_as_they_are(archive: Path) -> None:
    (archive / ".schemas" / "card.json").write_text("{}\n", encoding="utf-8")
    prepare_session(archive, WANTED)
    assert (archive / ".schemas" / "card.json").read_text(encoding="utf-8") == "{}\n"
