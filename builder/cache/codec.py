"""Figures of a bundle as bytes and back: JSON and arrays, read by the types of the fields and never run."""

from __future__ import annotations

import dataclasses
import io
import json
import types
import typing
from collections.abc import Mapping, Sequence
from enum import Enum
from functools import cache
from typing import Any, TypeVar
from zipfile import BadZipFile

import numpy as np

T = TypeVar("T")


class _Writer:
    """Turns values into JSON; an array is kept once however often it is named."""

    def __init__(self) -> None:
        self.arrays: list[np.ndarray] = []
        self.places: dict[int, int] = {}

    def plain(self, value: object) -> object:
        if isinstance(value, np.ndarray):
            place = self.places.setdefault(id(value), len(self.arrays))
            if place == len(self.arrays):
                self.arrays.append(value)
            return place
        if isinstance(value, Enum):
            return value.value
        if dataclasses.is_dataclass(value):
            return [self.plain(getattr(value, field.name)) for field in dataclasses.fields(value)]
        if isinstance(value, Mapping):
            return [[self.plain(key), self.plain(item)] for key, item in value.items()]
        if isinstance(value, tuple | list):
            return [self.plain(item) for item in value]
        return value


def encode(value: object) -> bytes:
    """Return a value of dataclasses, enumerations, mappings, tuples, arrays and plain values as bytes."""
    writer = _Writer()
    record = json.dumps(writer.plain(value), ensure_ascii=False).encode("utf-8", "surrogatepass")
    out = io.BytesIO()
    np.savez(out, np.frombuffer(record, dtype=np.uint8), *writer.arrays)
    return out.getvalue()


def decode(kind: type[T], data: bytes) -> T:
    """Return the value of a type that `encode` made the bytes from. Raises ValueError for any other bytes."""
    try:
        with np.load(io.BytesIO(data), allow_pickle=False) as archive:
            record, *arrays = (archive[f"arr_{place}"] for place in range(len(archive.files)))
        raw = json.loads(record.tobytes().decode("utf-8", "surrogatepass"))
        found: T = _Reader(arrays).read(kind, raw)
    except (KeyError, TypeError, IndexError, OSError, EOFError, BadZipFile) as problem:
        raise ValueError(f"not what was kept: {problem}") from problem
    return found


class _Reader:
    def __init__(self, arrays: Sequence[np.ndarray]) -> None:
        self.arrays = arrays

    def read(self, kind: Any, raw: Any) -> Any:  # noqa: ANN401 - annotations are any object, and so is what they hold
        if raw is None:
            return None
        origin, inside = typing.get_origin(kind), typing.get_args(kind)
        if origin is None:
            return self._single(kind, raw)
        if origin in (typing.Union, types.UnionType):
            return self.read(next(part for part in inside if part is not type(None)), raw)
        if origin is tuple:
            return self._tuple(inside, raw)
        if issubclass(origin, Mapping):
            return {self.read(inside[0], key): self.read(inside[1], item) for key, item in raw}
        return self.arrays[raw]

    def _single(self, kind: type[Any], raw: Any) -> Any:  # noqa: ANN401 - as above
        if dataclasses.is_dataclass(kind):
            hints = _hints(kind)
            return kind(**{name: self.read(hint, part) for (name, hint), part in zip(hints, raw, strict=True)})
        return kind(raw) if issubclass(kind, Enum) else raw

    def _tuple(self, inside: tuple[Any, ...], raw: Any) -> tuple[Any, ...]:  # noqa: ANN401 - as above
        if len(inside) == 2 and inside[1] is Ellipsis:  # noqa: PLR2004 - as in tuple[int, ...]
            return tuple(self.read(inside[0], item) for item in raw)
        return tuple(self.read(part, item) for part, item in zip(inside, raw, strict=True))


@cache
def _hints(kind: type) -> tuple[tuple[str, Any], ...]:
    hints = typing.get_type_hints(kind)
    return tuple((field.name, hints[field.name]) for field in dataclasses.fields(kind))
