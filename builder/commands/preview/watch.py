"""What changed in the folders that a site is made from."""

from __future__ import annotations

import os
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field
from pathlib import Path
from typing import TypeAlias

from builder.commands.staging import MARKER

State: TypeAlias = "tuple[int, int, int]"  # size, time of change and identity of a file
Snapshot: TypeAlias = Mapping[str, State]


@dataclass(kw_only=True)
class WatchedFolders:
    """The folders of an archive and of the program's own words and themes; hidden names and published sites are not."""

    archive: Path
    others: tuple[Path, ...] = ()
    _last: Snapshot = field(default_factory=dict)
    _emptied: frozenset[str] = frozenset()

    def changes(self) -> tuple[Path, ...]:
        """Return the files that were made, changed or removed since the last call.

        An editor may empty a file a moment before it writes it anew: a file that was emptied is told one call later.
        """
        now = {name: state for folder in (self.archive, *self.others) for name, state in _files(folder)}
        emptied = {n for n, (size, *_) in now.items() if not size and self._last.get(n, (0,))[0]} - self._emptied
        now.update({name: self._last[name] for name in emptied})
        last, self._last, self._emptied = self._last, now, frozenset(emptied)
        changed = [name for name in now.keys() | last.keys() if now.get(name) != last.get(name)]
        return tuple(Path(name) for name in sorted(changed))


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
                yield entry.path, (status.st_size, status.st_mtime_ns, status.st_ino)
        except OSError:
            continue
