"""What the preview shows: files in a folder of its own, or a notice in place of every page."""

from __future__ import annotations

import hashlib
from collections.abc import Callable, Iterable
from dataclasses import dataclass, field
from pathlib import Path

from builder.commands.preview.planned_site import File
from builder.core.writing import write_whole

HOME = "index.html"


@dataclass(frozen=True, kw_only=True)
class Answer:
    """What a request gets: bytes and status; `page` says that a reload script belongs in it."""

    data: bytes
    status: int
    page: bool


@dataclass(kw_only=True)
class ServedSite:
    """The site as it is served; `notice` stands in place of every page while there is no site, or it has problems.

    `reload` tells browsers which pages changed, with None for all; `open_pages` gives the pages that they show.
    """

    folder: Path
    notice: bytes | None
    reload: Callable[[frozenset[str] | None], None]
    open_pages: Callable[[], frozenset[str]]
    _hashes: dict[str, bytes] = field(default_factory=dict)
    _asked: str = HOME
    _revision: int = 0
    _changed_all: int = 0  # the revision that changed every page
    _changed: dict[str, int] = field(default_factory=dict)
    _given: dict[str, int] = field(default_factory=dict)  # the revision at which a page was last given

    @property
    def empty(self) -> bool:
        """Whether no site was made yet."""
        return not self._hashes

    def pages_in_view(self) -> frozenset[str]:
        """Return the pages to make first: those that browsers show, and the one that was asked for last."""
        return self.open_pages() | {self._asked}

    def update(self, files: Iterable[File]) -> int:
        """Show new versions of some files, and return how many differ."""
        changed = frozenset(file.path for file in files if self._write(file))
        self._tell(changed)
        return len(changed)

    def replace(self, files: Iterable[File]) -> int:
        """Show a whole site; files that it does not have are removed."""
        every = list(files)
        gone = self._hashes.keys() - {file.path for file in every}
        for path in gone:
            (self.folder / path).unlink(missing_ok=True)
            del self._hashes[path]
        changed = frozenset(file.path for file in every if self._write(file))
        self._tell(changed | gone)
        return len(changed)

    def show_notice(self, notice: bytes) -> None:
        """Show a notice in place of every page."""
        if notice != self.notice:
            self.notice = notice
            self._tell_all()

    def is_stale(self, page: str) -> bool:
        """Return whether a page changed after it was last given: then the browser that shows it was not told."""
        return max(self._changed_all, self._changed.get(page, 0)) > self._given.get(page, 0)

    def answer(self, path: str) -> Answer:
        """Return what the address `path`, without its leading slash, shows."""
        asked = f"{path}{HOME}" if path == "" or path.endswith("/") else path
        page = asked.endswith(".html")
        self._given[asked] = self._revision
        if page and self.notice is not None:
            self._asked = asked
            return Answer(data=self.notice, status=503, page=True)
        if asked in self._hashes:
            self._asked = asked if page else self._asked
            return Answer(data=(self.folder / asked).read_bytes(), status=200, page=page)
        missing = self.folder / "404.html"
        return Answer(data=missing.read_bytes() if missing.is_file() else b"", status=404, page=True)

    def _write(self, file: File) -> bool:
        value = hashlib.sha256(file.data).digest()
        if self._hashes.get(file.path) == value:
            return False
        target = self.folder / file.path
        target.parent.mkdir(parents=True, exist_ok=True)
        write_whole(target, file.data, lasting=False)
        self._hashes[file.path] = value
        return True

    def _tell(self, changed: frozenset[str]) -> None:
        if self.notice is not None:
            self.notice = None
            self._tell_all()
        elif any(not path.endswith(".html") for path in changed):
            self._tell_all()
        elif changed:
            self._revision += 1
            self._changed.update(dict.fromkeys(changed, self._revision))
            self.reload(changed)

    def _tell_all(self) -> None:
        self._revision += 1
        self._changed_all = self._revision
        self.reload(None)
