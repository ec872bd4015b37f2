"""Reading inside one folder: paths that lead out, and files that cannot be read, become problems."""

from __future__ import annotations

import os
import re
import stat
from dataclasses import dataclass
from pathlib import Path

from builder.core.errors import Problems, Span, nearest

BYTES_LIMIT = 256_000_000

_DRIVE = re.compile(r"^[A-Za-z]:")
_UNPRINTABLE = re.compile("[\x00-\x1f\x7f-\x9f\ud800-\udfff]")


@dataclass(frozen=True, kw_only=True)
class Entry:
    """One name in a folder of the archive."""

    name: str
    is_folder: bool


def content_dir() -> Path:
    """Return the folder of default words and protocols: the installed copy, else the checkout's."""
    return _beside_package("content")


def themes_dir() -> Path:
    """Return the folder of themes: the installed copy, else the checkout's."""
    return _beside_package("themes")


def _beside_package(name: str) -> Path:
    package = Path(__file__).resolve().parents[1]
    installed = package / f"_{name}"
    return installed if installed.is_dir() else package.parent / name


def list_folder(root: Path, relative: str, problems: Problems) -> tuple[Entry, ...] | None:
    """Return a folder's entries by name, less hidden ones; empty where the folder does not exist.

    None, with one problem, where it leads out of `root` or cannot be listed.
    """
    where = Span(file=relative)
    folder = root / relative
    if not os.path.lexists(folder):
        return ()
    if not _stays_inside(root, folder):
        problems.error("path-outside", where, "the folder is a link that leads out of the archive")
        return None
    try:
        paths = sorted(path for path in folder.iterdir() if not path.name.startswith("."))
    except NotADirectoryError:
        problems.error("not-a-folder", where, "expected a folder, found a file")
        return None
    except OSError as error:
        problems.error("unreadable-file", where, f"the folder cannot be read: {_reason(error)}")
        return None
    return tuple(Entry(name=_printable(path.name), is_folder=path.is_dir()) for path in paths)


def read_bytes(root: Path, relative: str, problems: Problems, where: Span, *, limit: int = BYTES_LIMIT) -> bytes | None:
    """Return a file's bytes, or None with one problem at `where`.

    `relative` is a path below `root` with forward slashes. Refused: a path or link that leads out of `root`,
    a missing file, a folder or device, a file that cannot be read or holds more than `limit` bytes.
    """
    fault = _fault(root, "", relative, limit)
    if fault is None:
        try:
            return (root / relative).read_bytes()
        except OSError as error:
            fault = _unreadable(relative, error)
    problems.error(fault.code, where, fault.message, fault.hint)
    return None


def file_exists(root: Path, relative: str, problems: Problems, where: Span, *, folder: str = "") -> bool:
    """Return whether `read_bytes` would find a file; else one problem at `where` says why not.

    `folder`, below `root`, is where `relative` starts; problems then name the file without it.
    """
    fault = _fault(root, folder, relative, BYTES_LIMIT)
    if fault:
        problems.error(fault.code, where, fault.message, fault.hint)
    return fault is None


@dataclass(frozen=True, kw_only=True)
class _Fault:
    """Why a file that may be read cannot be."""

    code: str
    message: str
    hint: str = ""


def _fault(root: Path, folder: str, relative: str, limit: int) -> _Fault | None:
    refusal = _refusal(relative)
    if refusal:
        hint = "name a file below this folder, with forward slashes"
        return _Fault(code="path-outside", message=f'"{_printable(relative)}" {refusal}', hint=hint)
    path = root / folder / relative
    if not _stays_inside(root, path):
        return _Fault(code="path-outside", message=f'"{relative}" is a link that leads out of the archive')
    try:
        return _status_fault(path.stat(), relative, limit)
    except (FileNotFoundError, NotADirectoryError):
        return _Fault(code="missing-file", message=f'"{relative}" does not exist', hint=_nearest_file(path))
    except OSError as error:
        return _unreadable(relative, error)


def _status_fault(status: os.stat_result, shown: str, limit: int) -> _Fault | None:
    if not stat.S_ISREG(status.st_mode):
        kind = "a folder" if stat.S_ISDIR(status.st_mode) else "no ordinary file"
        return _Fault(code="not-a-file", message=f'"{shown}" is {kind}')
    if status.st_size > limit:
        size = f"{status.st_size / 1e6:.1f} MB"
        return _Fault(code="too-large", message=f'expected at most {limit / 1e6:g} MB, found {size} in "{shown}"')
    return None


def _unreadable(shown: str, error: OSError) -> _Fault:
    return _Fault(code="unreadable-file", message=f'"{shown}" cannot be read: {_reason(error)}')


def _refusal(relative: str) -> str:
    """Return why a path is refused before the file system is asked, or an empty text."""
    if not relative.strip():
        return "is no file name"
    if _UNPRINTABLE.search(relative):
        return "holds a character that no file name should have"
    if "\\" in relative:
        return "holds a backslash"
    if relative.startswith("/") or _DRIVE.match(relative):
        return "is an absolute path"
    if ".." in relative.split("/"):
        return "leads out of its folder"
    return ""


def _stays_inside(root: Path, path: Path) -> bool:
    # realpath, since Path.resolve raises on a loop of links; a loop then fails as unreadable.
    inside = os.path.realpath(root)
    target = os.path.realpath(path)
    return target == inside or target.startswith(inside.rstrip(os.sep) + os.sep)


def _nearest_file(path: Path) -> str:
    try:
        names = sorted(_printable(entry.name) for entry in path.parent.iterdir())
    except OSError:
        return f'the folder "{path.parent.name}" does not exist either'
    return nearest(path.name, names)


def _printable(name: str) -> str:
    return _UNPRINTABLE.sub("\N{REPLACEMENT CHARACTER}", name)


def _reason(error: OSError) -> str:
    return (error.strerror or type(error).__name__).lower()
