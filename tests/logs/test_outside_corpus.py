"""The delimited-text layer against a corpus from outside: npm csv-spectrum, each file with its JSON."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from builder.logs.table import names_of, rows, sniff

CORPUS = Path(__file__).resolve().parent.parent / "node_modules" / "csv-spectrum"
# The corpus's own list; a missing file fails its test, and one more than these fails the first.
NAMES = (
    "comma_in_quotes", "empty", "empty_crlf", "escaped_quotes", "json", "location_coordinates", "newlines",
    "newlines_crlf", "quotes_and_newlines", "simple", "simple_crlf", "utf8",
)  # fmt: skip


def test_the_corpus_is_whole() -> None:
    assert sorted(path.stem for path in (CORPUS / "csvs").glob("*.csv")) == sorted(NAMES)


# The corpus contradicts itself here: the CSV has the first number and the JSON the second, and the JSON is no list.
CONTRADICTION = {"location_coordinates": {"Contact Phone Number": ("2095257564", "1234567890")}}


@pytest.mark.parametrize("name", NAMES)
def test_a_file_of_the_corpus_agrees_with_its_json(name: str) -> None:
    text = (CORPUS / "csvs" / f"{name}.csv").read_bytes().decode("utf-8")
    header, *body = (row.cells for row in rows(text, sniff(text)))
    expected = json.loads((CORPUS / "json" / f"{name}.json").read_text(encoding="utf-8"))
    found = [dict(zip(names_of(header), cells, strict=True)) for cells in body]
    for column, (in_csv, in_json) in CONTRADICTION.get(name, {}).items():
        assert (found[0][column], expected[column]) == (in_csv, in_json)
        expected = [expected | {column: in_csv}]
    assert found == expected
