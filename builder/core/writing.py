"""Files and folders that appear whole or not at all: made beside their place, and put there by one renaming."""

from __future__ import annotations

import os
import shutil
import tempfile
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path


def write_whole(target: Path, data: bytes, *, mode: int = 0o644, lasting: bool = True) -> None:
    """Write a file, in place of the one that stands there; on any exception that one stays, and nothing is left over.

    `lasting` waits until the disk has the data, so that a power cut leaves the old file or the new one; a file that
    can be made again does without. Raises OSError.
    """
    descriptor, name = tempfile.mkstemp(prefix=f".{target.name[:40]}-new-", dir=target.parent)
    beside = Path(name)
    try:
        with os.fdopen(descriptor, "wb") as file:
            file.write(data)
            if lasting:
                file.flush()
                os.fsync(file.fileno())
        beside.chmod(mode)
        beside.replace(target)
    except BaseException:
        beside.unlink(missing_ok=True)
        raise


@contextmanager
def whole_folder(target: Path, *, replace: bool = False) -> Iterator[Path]:
    """Yield an empty folder that becomes `target` when the block ends without an exception, and is removed otherwise.

    Without `replace`, only a `target` that does not exist is made. With it, a folder that stands there goes once the
    new one has its place; until then it stays as it was.
    """
    target.parent.mkdir(parents=True, exist_ok=True)
    beside = Path(tempfile.mkdtemp(prefix=f".{target.name[:40]}-new-", dir=target.parent))
    made, old = beside / "new", beside / "old"
    try:
        made.mkdir()
        yield made
        if replace and target.exists():
            target.rename(old)
        try:
            made.rename(target)
        except BaseException:
            if old.exists():
                old.rename(target)
            raise
    finally:
        if target.exists() or not old.exists():  # the old one is never lost where it could not be put back
            shutil.rmtree(beside, ignore_errors=True)
