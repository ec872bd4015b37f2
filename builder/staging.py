"""A new site is written beside the old one and takes its place only when it is whole."""

from __future__ import annotations

import os
import shutil
import tempfile
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path

from builder.errors import Problem, SoakbookError, Span

MARKER = "site.json"  # every published site holds it: only a folder with it is ever replaced


@dataclass(frozen=True, kw_only=True)
class Staged:
    """A folder to write the new site into."""

    folder: Path

    def write(self, relative: str, data: bytes) -> None:
        """Write one file of the site; raises ValueError for a path that leaves the site."""
        target = self.folder / relative
        if ".." in Path(relative).parts or Path(relative).is_absolute():
            raise ValueError(f"{relative} leaves the site")
        target.parent.mkdir(parents=True, exist_ok=True)
        target.write_bytes(data)


@contextmanager
def staged_site(out: Path) -> Iterator[Staged]:
    """Yield a folder for the new site and swap it into `out` when the block ends without an exception.

    On any exception the old site stays as it was and the half-made one is removed. Raises SoakbookError where `out`
    holds something that is not a site of this program.
    """
    check_target(out)
    out.parent.mkdir(parents=True, exist_ok=True)
    folder = Path(tempfile.mkdtemp(prefix=f".{out.name}-new-", dir=out.parent))
    try:
        yield Staged(folder=folder)
        if not (folder / MARKER).is_file():
            raise ValueError(f"a site without {MARKER} is not whole")
        _make_readable(folder)
        _swap(folder, out)
    finally:
        shutil.rmtree(folder, ignore_errors=True)


def check_target(out: Path) -> None:
    """Raise SoakbookError where publishing into `out` would replace something that is not a published site."""
    if not out.exists() and not out.is_symlink():
        return
    if out.is_symlink() or not out.is_dir():
        raise SoakbookError([_refusal(out, "is not a folder")])
    if any(out.iterdir()) and not (out / MARKER).is_file():
        raise SoakbookError([_refusal(out, "holds files that are not a published site")])


def _refusal(out: Path, why: str) -> Problem:
    return Problem(
        code="target-not-a-site",
        where=Span(file=out.name),
        message=f"{why}, so it is left alone",
        hint="choose another folder with --out, or move what is there",
    )


def _make_readable(folder: Path) -> None:
    """Permissions that any web server can read, whatever the umask was."""
    for path in [folder, *folder.rglob("*")]:
        path.chmod(0o755 if path.is_dir() else 0o644)


def _swap(folder: Path, out: Path) -> None:
    if not out.exists():
        folder.rename(out)
        return
    old = Path(tempfile.mkdtemp(prefix=f".{out.name}-old-", dir=out.parent))
    out.rename(old / out.name)
    try:
        folder.rename(out)
    except BaseException:
        os.replace(old / out.name, out)  # noqa: PTH105 - a folder goes back onto a free name
        raise
    finally:
        if out.exists():
            shutil.rmtree(old, ignore_errors=True)
