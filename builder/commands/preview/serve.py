"""The preview as a whole: a server on loopback, and a thread that makes the site again at every change."""

from __future__ import annotations

import asyncio
import signal
import tempfile
import threading
import time
import traceback
from collections.abc import Callable, Iterable
from dataclasses import dataclass, field
from pathlib import Path
from typing import TypeAlias

from builder.commands.cache.cache import Cache, open_cache
from builder.commands.preview.planned_site import InterruptedWorkError, PlannedSite, planned_site
from builder.commands.preview.served_site import ServedSite
from builder.commands.preview.watch import WatchedFolders
from builder.commands.preview.web import Web, listen
from builder.core.errors import Problem, SoakbookError
from builder.core.files import content_dir, themes_dir
from builder.site.theme import problems_page

LOOK_S = 0.1  # between looks at the folders
QUIET_S = 1.5  # without a change before the rest of the site is made
AFTER_S = 5.0  # for the thread to end


@dataclass(frozen=True, kw_only=True)
class Message:
    """Something to tell the person at the terminal."""

    text: str
    problems: tuple[Problem, ...] = ()


Say: TypeAlias = Callable[[Message], None]


@dataclass(kw_only=True)
class Preview:
    """The thread's work: the site that is served follows what is in the folders."""

    root: Path
    served: ServedSite
    cache: Cache
    say: Say
    stop: threading.Event = field(default_factory=threading.Event)
    _site: PlannedSite | None = None  # None while the archive has problems
    _fresh: set[str] = field(default_factory=set)  # pages that are served as they are now
    _rest_at: float | None = None  # when the rest of the site is to be made; None when it is whole
    _pending: tuple[Path, ...] = ()

    def __post_init__(self) -> None:
        self._folders = WatchedFolders(archive=self.root, others=(content_dir(), themes_dir()))

    def run(self) -> None:
        """Follow the folders until `stop` is set."""
        self._folders.changes()
        self._try(self._read_archive)
        while not self.stop.wait(LOOK_S):
            self._try(self._turn)

    def _turn(self) -> None:
        pending, self._pending = self._pending, ()
        changed = tuple(sorted({*pending, *self._folders.changes()}))
        if changed:
            self.say(Message(text=f"changed: {_names(self.root, changed)}"))
        if changed and self._site and all(map(self._is_static, changed)):
            self.served.update(self._site.static())
        elif changed:
            self._read_archive()
        elif self._site and self._rest_at is not None:
            self._make_more(self._site, self._rest_at)

    def _read_archive(self) -> None:
        began = time.monotonic()
        first_time = self._site is None and self.served.empty
        self._site, self._rest_at = None, None
        self._fresh.clear()
        self._site = planned_site(self.root, self.cache)
        self._rest_at = time.monotonic() if first_time else time.monotonic() + QUIET_S
        if not first_time:
            self._make_pages(self._site, self.served.pages_in_view(), began)

    def _make_more(self, site: PlannedSite, rest_at: float) -> None:
        stale = self.served.pages_in_view() - self._fresh
        if stale and not self.served.empty:
            self._make_pages(site, stale, time.monotonic())
        elif time.monotonic() >= rest_at:
            self._make_rest(site)

    def _make_pages(self, site: PlannedSite, pages: Iterable[str], began: float) -> None:
        for page in sorted(pages):
            self._fresh.add(page)
            if files := tuple(site.page(page)):
                self.served.update(files)
                self.say(Message(text=f"{page} in {time.monotonic() - began:.1f} s"))

    def _make_rest(self, site: PlannedSite) -> None:
        began = time.monotonic()
        try:
            files = site.whole(interrupted=self._interrupted)
        except InterruptedWorkError:
            return
        self._rest_at = None
        written = self.served.replace(files)
        self.say(Message(text=f"{written} of {len(files)} files new in {time.monotonic() - began:.1f} s"))

    def _is_static(self, path: Path) -> bool:
        own = [folder for folder in (self.root / "theme", themes_dir()) if path.is_relative_to(folder)]
        return any("static" in path.relative_to(folder).parts[:2] for folder in own)

    def _interrupted(self) -> bool:
        """Whether the work on the rest should end: something changed, or a page is asked for that is not made yet."""
        self._pending = self._pending or self._folders.changes()
        asked = not self.served.empty and bool(self.served.pages_in_view() - self._fresh)
        return bool(self._pending) or asked or self.stop.is_set()

    def _try(self, step: Callable[[], None]) -> None:
        """Take a step; what goes wrong becomes the page that is shown, until something changes."""
        try:
            step()
        except SoakbookError as trouble:
            self._fail("The archive has problems", trouble.problems, "")
        except Exception:  # noqa: BLE001 - the preview outlives a defect, and shows it whole
            self._fail("This is a defect in Soakbook, or in a template", (), traceback.format_exc())

    def _fail(self, title: str, problems: tuple[Problem, ...], detail: str) -> None:
        self._site, self._rest_at = None, None
        lead = "The site comes back by itself as soon as this is mended."
        self.served.show_notice(problems_page(content_dir(), title=title, lead=lead, problems=problems, detail=detail))
        self.say(Message(text=detail or title, problems=problems))


def _names(root: Path, changed: tuple[Path, ...]) -> str:
    names = [path.relative_to(root) if path.is_relative_to(root) else path.name for path in changed[:3]]
    more = f" and {len(changed) - 3} more" if len(changed) > 3 else ""  # noqa: PLR2004 - the three that are named
    return ", ".join(map(str, names)) + more


def preview_site(root: Path, *, port: int, say: Say) -> None:
    """Serve the site of an archive on loopback until the process is interrupted; nothing is written but its cache.

    Raises SoakbookError where no port is free.
    """
    waiting = problems_page(
        content_dir(), title="The site is being made", lead="This page shows it by itself as soon as it is there."
    )
    with tempfile.TemporaryDirectory(prefix="soakbook-preview-", ignore_cleanup_errors=True) as folder:
        web = Web()
        served = ServedSite(folder=Path(folder), notice=waiting, reload=web.reload, open_pages=web.open_pages)
        web.site = served
        preview = Preview(root=root, served=served, cache=open_cache(root, in_memory=True), say=say)
        asyncio.run(_serve(web, preview, port))


async def _serve(web: Web, preview: Preview, port: int) -> None:
    ended = asyncio.Event()
    loop = asyncio.get_running_loop()
    for number in (signal.SIGINT, signal.SIGTERM):
        loop.add_signal_handler(number, ended.set)
    listening = listen(web, port)
    if listening.port != port:
        preview.say(
            Message(text=f"port {port} is taken by another program; port {listening.port} is free and used instead")
        )
    preview.say(Message(text=f"http://127.0.0.1:{listening.port}/ shows the site of {preview.root}. Ctrl-C ends it."))
    worker = threading.Thread(target=preview.run, daemon=True)
    worker.start()
    await ended.wait()
    preview.stop.set()
    listening.server.stop()
    await asyncio.to_thread(worker.join, AFTER_S)
