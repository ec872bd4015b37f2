"""What was made is kept in memory and in a store, and made again only where something that it depends on changed."""

from __future__ import annotations

import dataclasses
import io
import json
import types
import typing
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field
from enum import Enum
from functools import cache
from pathlib import Path
from typing import Any, TypeVar, cast
from zipfile import BadZipFile

import numpy as np

from builder.commands.cache.keys import UnknownDependencyError, digest, program_version
from builder.commands.cache.store import Store, open_store, state_folder
from builder.core.errors import Problem
from builder.core.results import RunResult

T = TypeVar("T")

# --- Figures of a bundle as bytes and back: JSON and arrays, read by the types of the fields and never run


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


@dataclass(frozen=True, kw_only=True)
class KeptRun:
    """A run's figures, None where it cannot be read, with what was said of its log."""

    run: RunResult | None
    problems: tuple[Problem, ...]


@dataclass(kw_only=True)
class Kept:
    """Gives what is asked for, kept or newly made. `made` counts what was made, by kind.

    Without a store and memory, everything is made when it is asked for. With `in_memory`, everything that was used
    since the last `turn` stays at hand, for a process that makes the same site again and again.
    """

    store: Store | None = None
    version: str = ""
    in_memory: bool = False
    made: dict[str, int] = field(default_factory=dict)
    _young: dict[str, object] = field(default_factory=dict)
    _old: dict[str, object] = field(default_factory=dict)

    def turn(self) -> None:
        """Begin a new round: what was not used in the last one is forgotten, and `made` counts from 0."""
        self._old, self._young, self.made = self._young, {}, {}

    def bytes_of(self, kind: str, parts: object, make: Callable[[], bytes]) -> bytes:
        """Return the bytes that `make` gives for these parts; with parts that have no key they are always made."""
        key = self.key(kind, parts)
        if key is None:
            return self._make(kind, make)
        found = self._recall(key)
        if not isinstance(found, bytes):
            found = self.store.get(key) if self.store else None
        if found is None:
            found = self._make(kind, make)
            if self.store:
                self.store.put(key, found)
        self._remember(key, found)
        return found

    def object_of(self, kind: str, parts: object, make: Callable[[], T]) -> T:
        """Return the value that `make` gives for these parts; it is kept in memory alone."""
        key = self.key(kind, parts) if self.in_memory else None
        if key is None:
            return make()
        found = self._recall(key)
        if found is None:
            found = self._make(kind, make)
        self._remember(key, found)
        return cast("T", found)

    def run_of(self, key: str | None, make: Callable[[], KeptRun], *, still: Callable[[], bool]) -> KeptRun:
        """Return the figures of a run under its key.

        A log may be growing: what was made is kept only where the key is `still` that of the log afterwards.
        """
        if key is None:
            return self._make("run", make)
        found = self._recall(key)
        if not isinstance(found, KeptRun):
            found = self._stored_run(key)
        if found is None:
            found = self._make("run", make)
            if not still():
                return found
            if self.store:
                self.store.put(key, encode(found))
        self._remember(key, found)
        return found

    def tidy(self) -> None:
        """Keep the store from growing for ever."""
        if self.store:
            self.store.prune()

    def _stored_run(self, key: str) -> KeptRun | None:
        data = self.store.get(key) if self.store else None
        try:
            return decode(KeptRun, data) if data else None
        except ValueError:
            return None

    def key(self, kind: str, parts: object) -> str | None:
        """Return the key of something; None where nothing is kept, or what it depends on is unknown."""
        if self.store is None and not self.in_memory:
            return None
        try:
            return digest((self.version, kind, parts))
        except UnknownDependencyError:
            return None

    def _make(self, kind: str, make: Callable[[], T]) -> T:
        self.made[kind] = self.made.get(kind, 0) + 1
        return make()

    def _recall(self, key: str) -> object:
        return self._young.get(key, self._old.get(key))

    def _remember(self, key: str, found: object) -> None:
        if self.in_memory:
            self._young[key] = found


def kept_beside(root: Path, *, in_memory: bool = False) -> Kept:
    """Return what is kept of an archive, in its own cache folder where that can be used."""
    return Kept(store=open_store(root, state_folder()), version=program_version(), in_memory=in_memory)
