"""Cache keys: a digest of all that a value is made from, the same in every process; and of the program itself."""

from __future__ import annotations

import dataclasses
import datetime as dt
import hashlib
import re
import sys
from collections.abc import Callable, Mapping
from decimal import Decimal
from enum import Enum
from functools import cache, partial
from importlib import metadata
from pathlib import Path, PurePath
from types import FunctionType
from typing import Any, TypeAlias

import numpy as np
from pydantic import BaseModel

Out: TypeAlias = list[bytes]
Feeder: TypeAlias = Callable[[Out, Any], None]  # adds the bytes that stand for a value


class UnknownDependencyError(TypeError):
    """A value of a type whose content no rule here can read: what is made from it cannot be cached."""


def digest(value: object) -> str:
    """Return 64 hexadecimal digits that two values share only where they hold the same.

    The order of a mapping counts, since pages show it; that of a set does not. Raises UnknownDependencyError.
    """
    out: Out = []
    _feed(out, value)
    return hashlib.sha256(b"".join(out)).hexdigest()


def _feed(out: Out, value: object) -> None:
    kind = type(value)
    feeder = _FEEDERS.get(kind)
    if feeder is None:
        feeder = _FEEDERS[kind] = _feeder(kind)
    feeder(out, value)


def _tagged(out: Out, tag: str, data: bytes) -> None:
    # With its length, so that no two rows of values run into the same bytes.
    out.append(f"{tag}:{len(data)}:".encode())
    out.append(data)


def _text(kind: type) -> Feeder:
    tag = _name(kind)
    return lambda out, value: _tagged(out, tag, str(value).encode("utf-8", "surrogatepass"))


def _items(out: Out, values: tuple[object, ...] | list[object]) -> None:
    _tagged(out, "items", str(len(values)).encode())
    for value in values:
        _feed(out, value)


def _set(out: Out, values: frozenset[object]) -> None:
    _tagged(out, "set", "".join(sorted(map(digest, values))).encode())


def _mapping(out: Out, values: Mapping[object, object]) -> None:
    _tagged(out, "mapping", str(len(values)).encode())
    for key, value in values.items():
        _feed(out, key)
        _feed(out, value)


def _array(out: Out, value: np.ndarray) -> None:
    if value.dtype.hasobject:
        raise UnknownDependencyError("an array of objects")
    _tagged(out, f"array {value.dtype.str} {value.shape}", value.tobytes())


def _partial(out: Out, value: partial[object]) -> None:
    for part in (value.func, value.args, value.keywords):
        _feed(out, part)


def _function(out: Out, value: FunctionType) -> None:
    if value.__closure__ or "<" in value.__qualname__:
        raise UnknownDependencyError(f"the function {value.__qualname__}")
    _tagged(out, "function", f"{value.__module__}.{value.__qualname__}".encode())


def _record(kind: type, names: tuple[str, ...]) -> Feeder:
    tag = _name(kind)

    def feed(out: Out, value: object) -> None:
        _tagged(out, tag, str(len(names)).encode())
        for name in names:
            _tagged(out, "field", name.encode())
            _feed(out, getattr(value, name))

    return feed


def _name(kind: type) -> str:
    return f"{kind.__module__}.{kind.__qualname__}"


_FEEDERS: dict[type, Feeder] = {
    type(None): lambda out, _: out.append(b"none;"),
    bool: lambda out, value: out.append(b"true;" if value else b"false;"),
    float: lambda out, value: _tagged(out, "float", value.hex().encode()),
    bytes: lambda out, value: _tagged(out, "bytes", value),
    tuple: _items,
    list: _items,
    set: _set,
    frozenset: _set,
    partial: _partial,
    FunctionType: _function,
}


def _feeder(kind: type) -> Feeder:
    if dataclasses.is_dataclass(kind):
        return _record(kind, tuple(field.name for field in dataclasses.fields(kind)))
    if issubclass(kind, BaseModel):
        return _record(kind, tuple(kind.model_fields))
    if issubclass(kind, (str, int, Enum, dt.date, dt.time, dt.timedelta, dt.tzinfo, PurePath, Decimal)):
        return _text(kind)
    if issubclass(kind, np.generic):
        return lambda out, value: _feed(out, value.item())
    for base, feeder in ((np.ndarray, _array), (Mapping, _mapping), (tuple, _items)):
        if issubclass(kind, base):
            return feeder
    raise UnknownDependencyError(_name(kind))


# --- what the program itself is: its code, and the libraries that figures and pages come out of


@cache
def program_version() -> str:
    """Return a digest of this package's code, the libraries' versions and Python's, read once in a process."""
    package = Path(__file__).resolve().parents[2]
    state = hashlib.sha256("\n".join([sys.version, *libraries()]).encode())
    for path in sorted(package.rglob("*.py")):
        state.update(f"{path.relative_to(package).as_posix()} ".encode())
        state.update(hashlib.sha256(path.read_bytes()).digest())
    return state.hexdigest()


def libraries() -> tuple[str, ...]:
    """Return what the installed package needs and what that needs in turn, as `name version`, sorted.

    A checkout that is not installed cannot say what it needs: then everything that is installed counts.
    """
    try:
        waiting = [*_requirements("soakbook"), "tzdata"]  # time zones, which the standard library reads
    except metadata.PackageNotFoundError:
        return tuple(sorted({f"{found.name} {found.version}" for found in metadata.distributions()}))
    versions: dict[str, str] = {}
    while waiting:
        name = waiting.pop()
        if name in versions:
            continue
        try:
            versions[name] = metadata.version(name)
            waiting += _requirements(name)
        except metadata.PackageNotFoundError:
            versions[name] = "none"  # needed on other systems only
    return tuple(sorted(f"{name} {version}" for name, version in versions.items()))


def _requirements(distribution: str) -> list[str]:
    """Return the names of what a distribution needs, less what it needs for extras alone."""
    lines = [line for line in metadata.requires(distribution) or () if not re.search(r"\bextra\s*==", line)]
    return [re.split(r"[^\w.-]", line, maxsplit=1)[0].lower() for line in lines]
