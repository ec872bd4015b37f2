"""What changed in the folders that a site is made from."""

from __future__ import annotations

import os
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field
from pathlib import Path
from typing import TypeAlias

from builder.commands.staging import MARKER

State: TypeAlias = "tuple[int, int, int]"  # time of change, size and identity of a file
Snapshot: TypeAlias = Mapping[str, State]


@dataclass(kw_only=True)
class Watched:
    """The folders of an archive and of the program's own words and themes; hidden names and published sites are not."""

    archive: Path
    others: tuple[Path, ...] = ()
    _last: Snapshot = field(default_factory=dict)

    def changes(self) -> tuple[Path, ...]:
        """Return the files that were made, changed or removed since the last call."""
        now = {**_snapshot(self.archive), **{k: v for folder in self.others for k, v in _snapshot(folder).items()}}
        last, self._last = self._last, now
        changed = [name for name in now.keys() | last.keys() if now.get(name) != last.get(name)]
        return tuple(Path(name) for name in sorted(changed))


def _snapshot(folder: Path) -> Snapshot:
    return dict(_files(folder))


def _files(folder: Path) -> Iterator[tuple[str, State]]:
    try:
        with os.scandir(folder) as entries:
            found = [entry for entry in entries if not entry.name.startswith(".")]
    except OSError:
        return
    if any(entry.name == MARKER for entry in found):
        return
    for entry in found:
        try:
            if entry.is_dir(follow_symlinks=False):
                yield from _files(Path(entry.path))
            else:
                status = entry.stat()
                yield entry.path, (status.st_mtime_ns, status.st_size, status.st_ino)
        except OSError:
            continue
