"""What was made is kept in memory and in a store, and made again only where something that it depends on changed."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field
from pathlib import Path
from typing import TypeVar, cast

from builder.cache.codec import decode, encode
from builder.cache.digest import UnknownDependencyError, digest
from builder.cache.store import Store, open_store, state_folder
from builder.cache.version import program_version
from builder.errors import Problem
from builder.figures import RunResult

T = TypeVar("T")


@dataclass(frozen=True, kw_only=True)
class KeptRun:
    """A run's figures, None where it cannot be read, with what was said of its log."""

    run: RunResult | None
    problems: tuple[Problem, ...]


@dataclass(kw_only=True)
class Kept:
    """Gives what is asked for, kept or newly made. `made` counts what was made, by kind.

    With `in_memory`, everything that was used since the last `turn` stays at hand, for a process that makes the same
    site again and again.
    """

    store: Store | None = None
    version: str = ""
    in_memory: bool = False
    made: dict[str, int] = field(default_factory=dict)
    pulse: Callable[[], None] | None = None  # called between steps; may raise to end the work
    _young: dict[str, object] = field(default_factory=dict)
    _old: dict[str, object] = field(default_factory=dict)

    def turn(self) -> None:
        """Begin a new round: what was not used in the last one is forgotten, and `made` counts from 0."""
        self._old, self._young, self.made = self._young, {}, {}

    def between(self) -> None:
        """Raise what the pulse raises; called between two steps of the work."""
        if self.pulse:
            self.pulse()

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
        self.between()
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
        self.between()
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


def kept_nowhere() -> Kept:
    """Return a keeper that keeps nothing: everything is made when it is asked for."""
    return Kept()
