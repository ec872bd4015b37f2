"""Which model stands at a trail, and what its fields are called in YAML."""

from __future__ import annotations

import types
import typing
from typing import Any

from builder.model import Model
from builder.sources import Trail


def model_at(top: type[Model], trail: Trail) -> type[Model] | None:
    """Return the model whose fields stand at a trail below `top`, or None where there is none."""
    annotation: Any = top
    for step in trail:
        annotation = _below(annotation, step)
        if annotation is None:
            return None
    return _model_in(annotation)


def field_names(model: type[Model]) -> tuple[str, ...]:
    """Return a model's field names as they are spelled in YAML."""
    return tuple(info.alias or name for name, info in model.model_fields.items())


def _below(annotation: Any, step: str | int) -> Any:  # noqa: ANN401 - annotations are any object
    model = _model_in(annotation)
    if model is not None:
        named = {info.alias or name: info.annotation for name, info in model.model_fields.items()}
        return named.get(str(step))
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
