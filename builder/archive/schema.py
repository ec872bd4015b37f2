"""JSON Schemas of the files of an archive, for editors."""

from __future__ import annotations

from typing import Any

from builder.archive.catalogue import FIELD_WORDS, KINDS

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
