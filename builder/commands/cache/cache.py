"""Values under keys, in memory and in a store: each is made again only where something that it depends on changed."""

from __future__ import annotations

import io
import json
from collections.abc import Callable
from dataclasses import dataclass, field
from pathlib import Path
from types import GenericAlias
from typing import Any, TypeVar, cast
from zipfile import BadZipFile

import numpy as np
from pydantic import ConfigDict, TypeAdapter

from builder.commands.cache.keys import UnknownDependencyError, digest, program_version
from builder.commands.cache.store import Store, open_store, state_folder
from builder.core.errors import Problem
from builder.core.results import RunResult

T = TypeVar("T")


@dataclass(frozen=True, kw_only=True)
class CachedRun:
    """A run's figures, None where it cannot be read, with what was said of its log."""

    run: RunResult | None
    problems: tuple[Problem, ...]


@dataclass(kw_only=True)
class Cache:
    """Gives what is asked for, from the cache or newly made; `made` counts what was made, by kind.

    A key stands for everything that a value is made from: the program's `version`, the kind of value, and its parts.
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

    def key(self, kind: str, parts: object) -> str | None:
        """Return the key of something; None where nothing is cached, or what it depends on is unknown."""
        if self.store is None and not self.in_memory:
            return None
        try:
            return digest((self.version, kind, parts))
        except UnknownDependencyError:
            return None

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
        """Return the value that `make` gives for these parts; it is cached in memory alone."""
        key = self.key(kind, parts) if self.in_memory else None
        if key is None:
            return make()
        found = self._recall(key)
        if found is None:
            found = self._make(kind, make)
        self._remember(key, found)
        return cast("T", found)

    def run_of(self, key: str | None, make: Callable[[], CachedRun], *, still: Callable[[], bool]) -> CachedRun:
        """Return the figures of a run under its key.

        A log may be growing: what was made is cached only where the key is `still` that of the log afterwards.
        """
        if key is None:
            return self._make("run", make)
        found = self._recall(key)
        if not isinstance(found, CachedRun):
            data = self.store.get(key) if self.store else None
            try:
                found = decode(CachedRun, data) if data else None
            except ValueError:
                found = None
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

    def _make(self, kind: str, make: Callable[[], T]) -> T:
        self.made[kind] = self.made.get(kind, 0) + 1
        return make()

    def _recall(self, key: str) -> object:
        return self._young.get(key, self._old.get(key))

    def _remember(self, key: str, found: object) -> None:
        if self.in_memory:
            self._young[key] = found


def open_cache(root: Path, *, in_memory: bool = False) -> Cache:
    """Return the cache of an archive, with its own store where that can be used."""
    return Cache(store=open_store(root, state_folder()), version=program_version(), in_memory=in_memory)


# --- values as bytes and back: JSON with arrays beside it, validated by the types of the fields, and never run


def encode(value: object) -> bytes:
    """Return a value of dataclasses, enumerations, mappings, tuples, arrays and plain values as bytes.

    JSON holds an array's place in the file, so that one that several fields share is there once.
    """
    arrays: dict[int, np.ndarray] = {}

    def place(part: object) -> dict[str, int]:
        if not isinstance(part, np.ndarray):
            raise TypeError(f"{type(part).__name__} cannot be cached")
        arrays.setdefault(id(part), part)
        return {"array": list(arrays).index(id(part))}

    plain = _adapter(type(value)).dump_python((value,), mode="json", fallback=place)
    record = json.dumps(plain, ensure_ascii=False).encode("utf-8", "surrogatepass")
    out = io.BytesIO()
    np.savez(out, np.frombuffer(record, dtype=np.uint8), *arrays.values())
    return out.getvalue()


def decode(kind: type[T], data: bytes) -> T:
    """Return the value of a type that `encode` made the bytes from. Raises ValueError for any other bytes."""
    try:
        with np.load(io.BytesIO(data), allow_pickle=False) as file:
            record, *arrays = (file[f"arr_{place}"] for place in range(len(file.files)))

        def placed(part: dict[str, Any]) -> object:
            return arrays[part["array"]] if part.keys() == {"array"} else part

        plain = json.loads(record.tobytes().decode("utf-8", "surrogatepass"), object_hook=placed)
        (value,) = _adapter(kind).validate_python(plain)
    except (KeyError, TypeError, IndexError, OSError, EOFError, BadZipFile) as problem:
        raise ValueError(f"not what was cached: {problem}") from problem
    return cast("T", value)


def _adapter(kind: object) -> TypeAdapter[Any]:
    if kind not in _ADAPTERS:
        # Around the value stands a tuple, since the library takes no configuration, and so no arrays, for a dataclass.
        wrapped: Any = GenericAlias(tuple, (kind,))
        _ADAPTERS[kind] = TypeAdapter(wrapped, config=ConfigDict(arbitrary_types_allowed=True))
    return _ADAPTERS[kind]


_ADAPTERS: dict[object, TypeAdapter[Any]] = {}
