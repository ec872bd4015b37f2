"""How values and choices are spelled in problems."""

from __future__ import annotations

import json
import re
import unicodedata
from collections.abc import Iterable

from builder.model import ID_LENGTH, ID_PATTERN
from builder.sources import Json

_SHOWN = 40
_ID = re.compile(ID_PATTERN)


def found(value: Json) -> str:
    """Return a value as problems show it: numbers plain, text quoted and cut short, the rest by kind.

    >>> found("2026-02-30"), found(True), found([1]), found({}), found(None)
    ('"2026-02-30"', 'true', 'a list', 'fields', 'nothing')
    """
    if value is None:
        return "nothing"
    if isinstance(value, list):
        return "a list"
    if isinstance(value, dict):
        return "fields"
    if isinstance(value, str):
        return quoted(value)
    return json.dumps(value)


def quoted(text: str) -> str:
    """Return a text in quotes on one line, cut after 40 characters."""
    flat = re.sub(r"\s", " ", text)
    return f'"{flat}"' if len(flat) <= _SHOWN else f'"{flat[:_SHOWN]}…"'


def either(choices: Iterable[str]) -> str:
    """Return the choices in their own order as `a, b or c`.

    >>> either(["air", "stock", "hybrid"])
    'air, stock or hybrid'
    """
    names = list(choices)
    return " or ".join([", ".join(names[:-1]), names[-1]]) if len(names) > 1 else "".join(names)


def count(number: int, noun: str) -> str:
    """Return `1 item`, `3 items`."""
    return f"{number:g} {noun}" if number == 1 else f"{number:g} {noun}s"


def is_id(text: str) -> bool:
    """Whether a text can be an id: small letters, digits and single hyphens, at most 64 characters."""
    return len(text) <= ID_LENGTH and _ID.fullmatch(text) is not None


def suggested_id(text: str) -> str:
    """Return a good id made from any text, or an empty text where nothing of it can be kept.

    >>> suggested_id("Fenwick Slab / S"), suggested_id("Čáp_2"), suggested_id("برج")
    ('fenwick-slab-s', 'cap-2', '')
    """
    letters = (c for c in unicodedata.normalize("NFKD", text) if not unicodedata.combining(c))
    plain = "".join(letters).lower()
    return re.sub(r"[^a-z0-9]+", "-", plain)[: ID_LENGTH + 1].strip("-")[:ID_LENGTH].strip("-")


def id_hint(text: str) -> str:
    """Return the hint for a bad id: a good one made from it, or the rule where none can be made."""
    good = suggested_id(text)
    return f'use "{good}"' if good else "use small letters a to z, digits and single hyphens"
