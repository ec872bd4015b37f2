"""JSON Schemas of the files of an archive, for editors."""

from __future__ import annotations

from typing import Any

from builder.archive.catalogue import KINDS

DIALECT = "https://json-schema.org/draft/2020-12/schema"


def json_schema(kind: str) -> dict[str, Any]:
    """Return the JSON Schema (2020-12) of one kind of file. Raises KeyError for a kind that does not exist.

    >>> json_schema("card")["required"]
    ['name', 'board_power_w']
    """
    schema = KINDS[kind].model_json_schema(by_alias=True, mode="validation")
    parts = schema.get("$defs", {})
    for part in (schema, *parts.values()):
        # A docstring's first line is for readers of an editor's tooltip, the rest for readers of the code.
        if "description" in part:
            part["description"] = part["description"].split("\n")[0].replace("`", "")
        for name, field in part.get("properties", {}).items():
            # The library leaves out the words of a field that are those of its model too.
            words = field.pop("description", None) or parts[field["$ref"].rpartition("/")[2]]["description"]
            field |= {"title": name, "description": words}
    return {"$schema": DIALECT, **schema, "title": f"Soakbook {kind}"}
