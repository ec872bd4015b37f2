"""The model library's errors in this project's words: what was expected, what was found, and what comes nearest."""

from __future__ import annotations

import json
import re
import types
import typing
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from typing import Any, TypeVar

from pydantic import ValidationError
from pydantic.fields import FieldInfo
from pydantic_core import ErrorDetails

from builder.archive.fields import (
    ID_LENGTH,
    ID_PATTERN,
    LANGUAGE_PATTERN,
    LINE_PATTERN,
    MOMENT_PATTERN,
    PAGE_PATTERN,
    URL_PATTERN,
    Model,
    id_hint,
)
from builder.archive.yaml_text import PROBLEMS_PER_FILE, Json, Trail, YamlDoc
from builder.core.errors import Problem, Problems, closest, nearest
from builder.core.words import count, listed, listing, quoted

M = TypeVar("M", bound=Model)

CHOICES_SHOWN = 8


def to_model(doc: YamlDoc, model: type[M], problems: Problems) -> M | None:
    """Return the document as a model, or None with every reason why not in `problems`."""
    try:
        result = model.model_validate_json(json.dumps(doc.data), by_alias=True, by_name=False)
    except ValidationError as error:
        problems.extend(_translated(doc, model, error))
        return None
    return None if doc.broken else result


@dataclass(frozen=True, kw_only=True)
class _Case:
    """One error of the model library, with the document it came from."""

    doc: YamlDoc
    top: type[Model]
    kind: str
    trail: Trail
    value: Json
    context: Mapping[str, Any]
    is_key: bool

    def problem(self, code: str, message: str, hint: str = "") -> Problem:
        where = self.doc.where if self.is_key else self.doc.value
        return Problem(code=code, where=where(*self.trail), message=message, hint=hint)

    @property
    def siblings(self) -> dict[str, FieldInfo]:
        """The fields that may stand beside this one, and this one."""
        model = model_at(self.top, self.trail[:-1])
        return fields_of(model) if model else {}

    @property
    def field(self) -> str:
        """The name of the field, or of the list that holds the item."""
        return _last_name(self.trail)

    @property
    def owner(self) -> str:
        """The field that a text belongs to; for a name, the field that holds it."""
        return _last_name(self.trail[:-1]) if self.is_key else self.field

    @property
    def meant(self) -> Trail:
        """The trail of the field that an unknown field most likely is."""
        close = closest(self.field, self.siblings)
        return (*self.trail[:-1], close) if close else ()

    @property
    def echo(self) -> bool:
        """Whether a list is called too short only because its items have problems of their own."""
        return (
            self.kind == "too_short"
            and isinstance(self.value, list | dict)
            and len(self.value) >= self.context["min_length"]
        )


def _last_name(trail: Trail) -> str:
    return next((step for step in reversed(trail) if isinstance(step, str)), "")


def _case(doc: YamlDoc, model: type[Model], detail: ErrorDetails) -> _Case:
    # The library ends the trail of a bad name with this word, which may also be a name that stands in the file.
    is_key = detail["loc"][-1:] == ("[key]",) and detail["loc"] not in doc.keys
    trail = detail["loc"][:-1] if is_key else detail["loc"]
    return _Case(
        doc=doc,
        top=model,
        kind=detail["type"],
        trail=trail,
        value=trail[-1] if is_key else detail["input"],
        context=detail.get("ctx", {}),
        is_key=is_key,
    )


def _translated(doc: YamlDoc, model: type[Model], error: ValidationError) -> list[Problem]:
    cases = [_case(doc, model, detail) for detail in error.errors(include_url=False)]
    misspelled = {case.meant for case in cases[:PROBLEMS_PER_FILE] if case.kind == "extra_forbidden"}
    wanted = [
        case
        for case in cases
        if not (doc.is_broken(case.trail) or case.echo or (case.kind == "missing" and case.trail in misspelled))
    ]
    shown = [_RULES.get(case.kind, _unfitting)(case) for case in wanted[:PROBLEMS_PER_FILE]]
    if len(wanted) > len(shown):
        message = "further problems in this file are not shown"
        shown.append(Problem(code="more-problems", where=doc.where(), message=message, hint="mend these first"))
    return shown


# --- one rule for each kind of error


def _unknown_field(case: _Case) -> Problem:
    hint = nearest(case.field, case.siblings) or f"fields here: {listing(case.siblings, limit=40)}"
    where = case.doc.where(*case.trail)
    return Problem(code="unknown-field", where=where, message=f"{quoted(case.field)} is no field here", hint=hint)


def _missing_field(case: _Case) -> Problem:
    above = _last_name(case.trail[:-1])
    inside = f' of "{above}"' if above else ""
    field = case.siblings.get(case.field)
    words = (field and field.description) or ""
    return Problem(
        code="missing-field",
        where=case.doc.where(*case.trail[:-1]),
        message=f'field "{case.field}"{inside} is missing',
        hint=f"{case.field}: {words[:1].lower()}{words[1:].rstrip('.')}" if words else "",
    )


# What mends a field beyond its rule.
_CURES = {
    "gain": "1 leaves readings as they are; a sensor that reads 2 % too high has a gain of 0.98",
    "sensors": "sensors is a list of instruments; words on them are sensor_notes",
}


def _typed(expected: str, mended: Callable[[Json], str] = lambda _: "") -> Callable[[_Case], Problem]:
    """Return the rule for a value of another type; `mended` says how a value is to be written."""

    def rule(case: _Case) -> Problem:
        cure = _CURES.get(case.field, "") if isinstance(case.value, str) else ""
        hint = "give a value, or remove the line" if case.value is None else cure or mended(case.value)
        return case.problem("wrong-type", f'"{case.field}": expected {expected}, found {found(case.value)}', hint)

    return rule


def _as_text(value: Json) -> str:
    return "" if isinstance(value, dict | list) else f"put quotes around it: '{found(value)}'"


def _as_list(value: Json) -> str:
    return "" if isinstance(value, dict) else f"write it as a list: [{found(value)}]"


def _as_number(value: Json) -> str:
    text = value if isinstance(value, str) else ""
    if re.fullmatch(r"[-+]?[0-9.]+", text):
        return "remove the quotes"
    return f"use a decimal point: {text.replace(',', '.')}" if re.fullmatch(r"[-+]?[0-9]+,[0-9]+", text) else ""


def _as_switch(value: Json) -> str:
    written = {"yes": "write true", "on": "write true", "no": "write false", "off": "write false"}
    return written.get(value.lower(), "") if isinstance(value, str) else ""


def _ranged(words: str, key: str) -> Callable[[_Case], Problem]:
    def rule(case: _Case) -> Problem:
        limit = f"{case.context[key]:g}"
        message = f'"{case.field}": expected a number {words} {limit}, found {found(case.value)}'
        return case.problem("bad-value", message, _CURES.get(case.field, ""))

    return rule


def _too_long(case: _Case) -> Problem:
    limit, length = case.context["max_length"], len(str(case.value))
    message = f'"{case.owner}": expected at most {count(limit, "character")}, found {length}'
    return case.problem("bad-id" if limit == ID_LENGTH else "bad-value", message)


def _empty(case: _Case) -> Problem:
    return case.problem("bad-value", f'"{case.owner}": expected text, found none', "give a value, or remove the line")


def _too_few(case: _Case) -> Problem:
    size = len(case.value) if isinstance(case.value, list | dict) else 0
    expected = count(case.context["min_length"], "item")
    return case.problem("bad-value", f'"{case.field}": expected at least {expected}, found {size or "none"}')


_PATTERNS = {
    URL_PATTERN: "a web address as https://video.example/31",
    MOMENT_PATTERN: "a time in the video as 6:40 or 1:06:40",
    PAGE_PATTERN: "the address of a page below the site, as results/x.html",
    LANGUAGE_PATTERN: "a language tag as en or pt-BR",
    LINE_PATTERN: "text on one line",
}


def _pattern(case: _Case) -> Problem:
    pattern, text = case.context["pattern"], str(case.value)
    if pattern == ID_PATTERN:
        return case.problem("bad-id", f'"{case.owner}": expected an id, found {found(text)}', id_hint(text))
    return case.problem("bad-value", f'"{case.owner}": expected {_PATTERNS[pattern]}, found {found(text)}')


def _choice(case: _Case) -> Problem:
    choices = re.findall(r"'([^']*)'", case.context["expected"])
    few = len(choices) <= CHOICES_SHOWN
    expected = listed(choices, last="or") if few else f"one of {len(choices)} words"
    hint = nearest(str(case.value), choices)
    if not hint and not few:
        hint = "use " + listed(sorted(choices), last="or")
    return case.problem("bad-choice", f'"{case.owner}": expected {expected}, found {found(case.value)}', hint)


def _date(case: _Case) -> Problem:
    text = case.value if isinstance(case.value, str) else ""
    hint = ""
    if re.fullmatch(r"[0-9]{4}-[0-9]{2}-[0-9]{2}", text):
        hint = "no such day in the calendar" if text[:2] in ("19", "20") else "years go from 1900 to 2099"
    return case.problem("bad-date", f'"{case.field}": expected a date as 2026-04-18, found {found(case.value)}', hint)


def _cut(case: _Case) -> Problem:
    message = f'"{case.field}": expected seconds, or a date and time as 2026-04-18 14:05:00, found {found(case.value)}'
    clock = re.fullmatch(r"([0-9]{1,4}):([0-5][0-9])", str(case.value))
    hint = f"{clock.group()} is {int(clock[1]) * 60 + int(clock[2])} seconds" if clock else ""
    return case.problem("bad-date" if isinstance(case.value, str) else "wrong-type", message, hint)


def _clock(case: _Case) -> Problem:
    message = f'"{case.field}": expected a date and time as 2026-04-18 14:05:10, found {found(case.value)}'
    return case.problem("bad-date" if isinstance(case.value, str) else "wrong-type", message)


def _repeated(case: _Case) -> Problem:
    """Return the problem of a test point listed twice, the only check that the models make over several fields."""
    listed = case.doc.data.get("points")
    ids = [point.get("id") for point in listed if isinstance(point, dict)] if isinstance(listed, list) else []
    second = next((i for i, name in enumerate(ids) if name in ids[:i]), None)
    if second is None:
        return _unfitting(case)
    first = case.doc.value("points", ids.index(ids[second]), "id")
    message = f"test point {found(ids[second])} is listed twice, first on line {first.line}"
    where = case.doc.value("points", second, "id")
    return Problem(code="duplicate-id", where=where, message=message, hint="give one of them another id")


def _unfitting(case: _Case) -> Problem:
    return case.problem("bad-value", f'"{case.field}": the value does not fit, found {found(case.value)}')


_RULES: Mapping[str, Callable[[_Case], Problem]] = {
    "extra_forbidden": _unknown_field,
    "missing": _missing_field,
    "string_type": _typed("text", _as_text),
    "int_type": _typed("a whole number", _as_number),
    "float_type": _typed("a number", _as_number),
    "bool_type": _typed("true or false", _as_switch),
    "tuple_type": _typed("a list", _as_list),
    "dict_type": _typed("fields"),
    "model_type": _typed("fields"),
    "date_type": _date,
    "bad_date": _date,
    "bad_cut": _cut,
    "bad_clock": _clock,
    "bad_reading": _typed("a number", _as_number),
    "greater_than": _ranged("above", "gt"),
    "greater_than_equal": _ranged("of at least", "ge"),
    "less_than_equal": _ranged("of at most", "le"),
    "string_too_long": _too_long,
    "string_too_short": _empty,
    "too_short": _too_few,
    "string_pattern_mismatch": _pattern,
    "enum": _choice,
    "literal_error": _choice,
    "value_error": _repeated,
}


# --- which model stands at a trail, and how a value is shown


def model_at(top: type[Model], trail: Trail) -> type[Model] | None:
    """Return the model whose fields stand at a trail below `top`, or None where there is none."""
    annotation: Any = top
    for step in trail:
        annotation = _below(annotation, step)
        if annotation is None:
            return None
    return _model_in(annotation)


def fields_of(model: type[Model]) -> dict[str, FieldInfo]:
    """Return a model's fields by their names as they are spelled in YAML."""
    return {info.alias or name: info for name, info in model.model_fields.items()}


def _below(annotation: Any, step: str | int) -> Any:  # noqa: ANN401 - annotations are any object
    model = _model_in(annotation)
    if model is not None:
        field = fields_of(model).get(str(step))
        return field and field.annotation
    for part in _parts(annotation):
        arguments = typing.get_args(part)
        if typing.get_origin(part) in (tuple, dict):
            return arguments[0] if typing.get_origin(part) is tuple else arguments[1]
    return None


def _model_in(annotation: Any) -> type[Model] | None:  # noqa: ANN401 - annotations are any object
    found = (part for part in _parts(annotation) if isinstance(part, type) and issubclass(part, Model))
    return next(found, None)


def _parts(annotation: Any) -> tuple[Any, ...]:  # noqa: ANN401 - annotations are any object
    """Return the members of a union, or the annotation alone."""
    is_union = typing.get_origin(annotation) in (typing.Union, types.UnionType)
    return typing.get_args(annotation) if is_union else (annotation,)


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
