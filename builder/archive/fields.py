"""Kinds of values that the models of an archive's files are made of, and the base of these models."""

from __future__ import annotations

import datetime as dt
import re
import unicodedata
from decimal import Decimal
from typing import Annotated, TypeAlias

from pydantic import (
    BaseModel,
    BeforeValidator,
    ConfigDict,
    Field,
    GetCoreSchemaHandler,
    StringConstraints,
    WithJsonSchema,
)
from pydantic_core import CoreSchema, PydanticCustomError, core_schema

ID_LENGTH = 64
ID_PATTERN = r"^[a-z0-9]+(?:-[a-z0-9]+)*$"
LINE_PATTERN = r"^[^\x00-\x1f\x7f-\x9f\u2028\u2029]*$"  # one line, no control characters
URL_PATTERN = r"""^https?://[^\s<>"'\\^`{|}/?#\[\]@:]+(?::[0-9]{1,5})?(?:[/?#][^\s<>"'\\^`{|}]*)?$"""
MOMENT_PATTERN = r"^(?:[0-9]{1,2}:)?[0-5]?[0-9]:[0-5][0-9]$"
MOMENT_URL_PATTERN = r"^\{url\}[^\s<>\"'\\^`{|}]*\{seconds\}[^\s<>\"'\\^`{|}]*$"
PAGE_PATTERN = r"^(?:[A-Za-z0-9_-][A-Za-z0-9._-]*/)*[A-Za-z0-9_-][A-Za-z0-9._-]*$"
LANGUAGE_PATTERN = r"^[a-z]{2,3}(-[A-Za-z0-9]{2,8})*$"

Id: TypeAlias = Annotated[str, StringConstraints(pattern=ID_PATTERN, max_length=ID_LENGTH)]
Name: TypeAlias = Annotated[
    str, StringConstraints(pattern=LINE_PATTERN, min_length=1, max_length=120, strip_whitespace=True)
]
Text: TypeAlias = Annotated[str, StringConstraints(max_length=4000, strip_whitespace=True)]
Url: TypeAlias = Annotated[str, StringConstraints(pattern=URL_PATTERN, max_length=500)]
LogPath: TypeAlias = Annotated[str, StringConstraints(pattern=LINE_PATTERN, min_length=1, max_length=200)]
PageAddress: TypeAlias = Annotated[str, StringConstraints(pattern=PAGE_PATTERN, max_length=200)]
MomentUrl: TypeAlias = Annotated[str, StringConstraints(pattern=MOMENT_URL_PATTERN, max_length=120)]
Moment: TypeAlias = Annotated[str, StringConstraints(pattern=MOMENT_PATTERN)]
Positive: TypeAlias = Annotated[float, Field(gt=0, allow_inf_nan=False)]
NonNegative: TypeAlias = Annotated[float, Field(ge=0, allow_inf_nan=False)]
Finite: TypeAlias = Annotated[float, Field(allow_inf_nan=False)]
Celsius: TypeAlias = Annotated[float, Field(ge=-50, le=200, allow_inf_nan=False)]


_READING = re.compile(r"[-+]?(?:[0-9]{1,12}(?:\.[0-9]{0,9})?|\.[0-9]{1,9})")
_DAY = re.compile(r"(?:19|20)[0-9]{2}-[0-9]{2}-[0-9]{2}")
_INSTANT = re.compile(
    _DAY.pattern + r"[T ][0-9]{2}:[0-9]{2}(?::[0-9]{2}(?:\.[0-9]{1,6})?)?(?:Z|[+-][0-9]{2}:[0-9]{2})?"
)


def _day(value: object) -> object:
    # Parsed here, since the library would read a text of digits as seconds since 1970.
    if not isinstance(value, str):
        return value
    try:
        return dt.date.fromisoformat(value if _DAY.fullmatch(value) else "")
    except ValueError:
        raise PydanticCustomError("bad_date", "expected a date that exists, as 2026-04-18") from None


def _cut(value: object) -> object:
    if value is None or isinstance(value, dt.datetime):
        return value
    if isinstance(value, int | float) and not isinstance(value, bool):
        return value
    text = value if isinstance(value, str) and _INSTANT.fullmatch(value) else ""
    try:
        return dt.datetime.fromisoformat(text)
    except ValueError:
        raise PydanticCustomError("bad_cut", "expected seconds, or a date and time as 2026-04-18 14:05:00") from None


def _clock(value: object) -> object:
    text = value if isinstance(value, str) and _INSTANT.fullmatch(value) else ""
    try:
        return value if isinstance(value, dt.datetime) else dt.datetime.fromisoformat(text)
    except ValueError:
        raise PydanticCustomError("bad_clock", "expected a date and time as 2026-04-18 14:05:10") from None


def _reading(value: object) -> object:
    if isinstance(value, Decimal):
        return value
    text = str(value) if isinstance(value, int | float | str) and not isinstance(value, bool) else ""
    if _READING.fullmatch(text):
        return Decimal(text)
    raise PydanticCustomError("bad_reading", "expected a number")


class _OrNothing:
    """Lets a list be nothing, which reads as an empty one: so does a list of which every line is still a comment."""

    def __get_pydantic_core_schema__(self, source: object, handler: GetCoreSchemaHandler) -> CoreSchema:
        nullable = core_schema.nullable_schema(handler(source))
        return core_schema.no_info_after_validator_function(lambda value: value or (), nullable)


# A number with the digits that it was written with, which say how fine the display was.
Reading: TypeAlias = Annotated[Decimal, BeforeValidator(_reading), WithJsonSchema({"type": "number"})]
Day: TypeAlias = Annotated[dt.date, BeforeValidator(_day)]
Cut: TypeAlias = Annotated[Finite | dt.datetime, BeforeValidator(_cut)]
Clock: TypeAlias = Annotated[dt.datetime, BeforeValidator(_clock)]


class Model(BaseModel):
    """Base of all models: frozen, strict, unknown fields refused, sequences are tuples.

    The text below a field is its description in JSON Schemas and in the hint of a missing field.
    """

    model_config = ConfigDict(frozen=True, extra="forbid", strict=True, use_attribute_docstrings=True)


class Link(Model):
    """A link that a page shows."""

    label: Name
    """Text of the link."""
    url: Url
    """Address that starts with https:// or http://."""


class DatedNote(Model):
    """Something that happened on a day."""

    date: Day
    """The day."""
    text: Text
    """What happened; plain text."""


# --- what can be an id, and what one is offered instead


def is_id(text: str) -> bool:
    """Whether a text can be an id: small letters, digits and single hyphens, at most 64 characters."""
    return len(text) <= ID_LENGTH and re.fullmatch(ID_PATTERN, text) is not None


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
