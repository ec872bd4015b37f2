"""JSON Schemas: valid by the 2020-12 metaschema (as the jsonschema library has it), and no stricter than the models."""

from __future__ import annotations

import copy
import datetime as dt
import json
from collections.abc import Iterator
from typing import Any

import jsonschema
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from pydantic import ValidationError

from builder.archive import json_schema
from builder.archive.catalogue import KINDS

DRAFT = jsonschema.Draft202012Validator


def models() -> Iterator[dict[str, Any]]:
    for kind in KINDS:
        schema = json_schema(kind)
        yield schema
        yield from schema.get("$defs", {}).values()


@pytest.mark.parametrize("kind", KINDS)
def test_a_schema_is_valid_by_the_metaschema(kind: str) -> None:
    schema = json_schema(kind)
    assert schema["$schema"] == "https://json-schema.org/draft/2020-12/schema"
    assert schema["title"] == f"Soakbook {kind}"
    DRAFT.check_schema(schema)
    json.dumps(schema, allow_nan=False)


def test_every_field_has_words_of_its_own() -> None:
    fields = [(name, field) for model in models() for name, field in model.get("properties", {}).items()]
    assert len(fields) > 150
    assert [name for name, field in fields if field["description"] == name] == []
    assert [field["description"] for _, field in fields if not field["description"].endswith(".")] == []


def test_every_model_and_field_has_a_title_and_a_description() -> None:
    for model in models():
        assert model["title"]
        assert model["description"]
        for name, field in model.get("properties", {}).items():
            assert field["title"] == name


def test_unknown_fields_are_refused_everywhere() -> None:
    assert all(model["additionalProperties"] is False for model in models() if model.get("type") == "object")


def test_fields_have_their_names_in_yaml() -> None:
    run = json_schema("bundle")["$defs"]["Run"]["properties"]
    assert "from" in run
    assert "from_" not in run
    assert {part.get("type") for part in run["from"]["anyOf"]} == {"number", "string", "null"}


def test_dates_and_choices_are_described() -> None:
    assert json_schema("bundle")["properties"]["tested"]["format"] == "date"
    assert json_schema("cooler")["$defs"]["CoolerKind"]["enum"] == ["water block", "air", "stock", "hybrid"]


def test_a_kind_that_does_not_exist_has_no_schema() -> None:
    with pytest.raises(KeyError):
        json_schema("episode")


BUNDLE: dict[str, Any] = {
    "card": "orrery-780",
    "cooler": "fenwick-slab",
    "bench": "open-frame",
    "protocol": "soak-10",
    "tested": "2026-04-18",
    "supplied_by": "loan",
    "episode": {
        "number": 31,
        "title": "x",
        "url": "https://video.example/31",
        "moments": [{"at": "6:40", "label": "x"}],
    },
    "assembly": {"pads": [{"where": "memory", "thickness_mm": 1.5}], "checks": {"bled": True}},
    "mounts": [
        {"runs": [{"point": "stock", "log": "a.csv", "from": 3, "to": "2026-04-18T10:00:00Z", "skip_frames": 2}]}
    ],
    "corrections": [{"date": "2026-05-01", "figure": "stock/core_rise", "was": "1", "now": "2", "reason": "x"}],
}
VALUES: st.SearchStrategy[Any] = st.sampled_from(
    [None, True, 0, -1, 3, 2.5, 1e9, "", "x", "a b", "2026-02-30", "6:40", "loan", "https://a.example/b", [], {}, ["x"]]
)


def trails(value: Any, trail: tuple[Any, ...] = ()) -> Iterator[tuple[Any, ...]]:  # noqa: ANN401 - JSON-like data
    yield trail
    items = value.items() if isinstance(value, dict) else enumerate(value) if isinstance(value, list) else ()
    for key, child in items:
        yield from trails(child, (*trail, key))


TRAILS = [trail for trail in trails(BUNDLE) if trail]


def changed(trail: tuple[Any, ...], value: Any) -> dict[str, Any]:  # noqa: ANN401 - JSON-like data
    result = copy.deepcopy(BUNDLE)
    inner: Any = result
    for key in trail[:-1]:
        inner = inner[key]
    inner[trail[-1]] = value
    return result


def test_the_example_is_accepted_by_model_and_schema() -> None:
    bundle = KINDS["bundle"].model_validate_json(json.dumps(BUNDLE), by_alias=True, by_name=False)
    assert bundle.model_dump()["tested"] == dt.date(2026, 4, 18)
    DRAFT(json_schema("bundle")).validate(BUNDLE)


@settings(max_examples=200, deadline=None)
@given(st.sampled_from(TRAILS), VALUES)
def test_an_editor_never_marks_what_the_model_accepts(trail: tuple[Any, ...], value: Any) -> None:  # noqa: ANN401
    data = changed(trail, value)
    try:
        KINDS["bundle"].model_validate_json(json.dumps(data), by_alias=True, by_name=False)
    except ValidationError:
        return
    DRAFT(SCHEMA).validate(data)


SCHEMA = json_schema("bundle")
