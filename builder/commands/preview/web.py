"""The server of the preview: loopback only, for requests that name loopback, with a reload script in its own copy."""

from __future__ import annotations

import asyncio
import mimetypes
from dataclasses import dataclass, field
from pathlib import PurePosixPath
from urllib.parse import unquote, urlsplit

from livereload.handlers import LiveReloadHandler, LiveReloadJSHandler
from tornado.escape import json_decode
from tornado.httpserver import HTTPServer
from tornado.web import Application, HTTPError, RequestHandler

from builder.commands.preview.served_site import HOME, ServedSite
from builder.core.errors import Problem, SoakbookError, Span

LOOPBACK = "127.0.0.1"
NAMES = frozenset({LOOPBACK, "localhost"})
PORTS = 50  # tried above the one that is asked for
SCRIPT = b'<script src="/livereload.js"></script>'
HEAD_END = b"</head>"
FAVICON = "favicon.ico"  # browsers ask for it by themselves
NOT_FOUND = 404


class Browser(LiveReloadHandler):  # type: ignore[misc] # the library has no types
    """The connection that a page in a browser holds open."""

    def initialize(self, web: Web) -> None:
        """Take what all handlers share."""
        self.web = web
        self.page = ""

    def prepare(self) -> None:
        """Refuse a connection that names another host, as for files."""
        _require_local(self)

    def check_origin(self, origin: str) -> bool:
        """Return whether the page comes from this server, so that no other site learns of changes."""
        return bool(urlsplit(origin).netloc == self.request.host)

    def on_message(self, message: str) -> None:
        """Answer the script's greeting, and note which page it stands in."""
        super().on_message(message)
        content = json_decode(message)
        if isinstance(content, dict) and content.get("command") == "info":
            path = unquote(urlsplit(str(content.get("url", ""))).path).lstrip("/")
            self.page = f"{path}{HOME}" if path == "" or path.endswith("/") else path
            self.web.browsers.add(self)
            if self.web.site and self.web.site.is_stale(self.page):
                self.reload()

    def reload(self) -> None:
        """Have the page loaded again."""
        self.send_message({"command": "reload", "path": "*", "liveCSS": False, "liveImg": False})

    def on_close(self) -> None:
        """Forget the page."""
        super().on_close()
        self.web.browsers.discard(self)


class Files(RequestHandler):
    """Gives the files of the site."""

    def initialize(self, web: Web) -> None:
        """Take what all handlers share."""
        self.web = web

    def prepare(self) -> None:
        """Refuse a request that names another host: a foreign site could else read the preview through its name."""
        _require_local(self)

    def set_default_headers(self) -> None:
        """Keep browsers from keeping what may change any moment."""
        self.set_header("Cache-Control", "no-store")

    def get(self, path: str) -> None:
        """Give one file."""
        if self.web.site is None or ".." in PurePosixPath(path).parts:
            raise HTTPError(404)
        answer = self.web.site.answer(path)
        if answer.status == NOT_FOUND and path == FAVICON:
            self.set_status(204)
            return
        kind = "text/html" if answer.page else mimetypes.guess_type(path)[0] or "application/octet-stream"
        self.set_status(answer.status)
        self.set_header("Content-Type", f"{kind}; charset=utf-8" if kind.startswith("text/") else kind)
        self.write(answer.data.replace(HEAD_END, SCRIPT + HEAD_END, 1) if answer.page else answer.data)

    def head(self, path: str) -> None:
        """Give what `get` gives, less the body."""
        self.get(path)


@dataclass(kw_only=True, eq=False)
class Web:
    """What the handlers share: the site that is served, and the browsers that show it."""

    site: ServedSite | None = None
    browsers: set[Browser] = field(default_factory=set)
    loop: asyncio.AbstractEventLoop | None = None

    def open_pages(self) -> frozenset[str]:
        """Return the pages that browsers show now."""
        return frozenset(browser.page for browser in tuple(self.browsers) if browser.page.endswith(".html"))

    def reload(self, changed: frozenset[str] | None) -> None:
        """Reload the pages that changed, or every page with None. Safe from any thread."""
        if self.loop:
            self.loop.call_soon_threadsafe(self._reload, changed)

    def _reload(self, changed: frozenset[str] | None) -> None:
        for browser in tuple(self.browsers):
            if changed is None or browser.page in changed:
                browser.reload()


@dataclass(frozen=True, kw_only=True)
class Listening:
    """A server that listens, and its port."""

    server: HTTPServer
    port: int


def listen(web: Web, port: int) -> Listening:
    """Return a server on the first free port from `port` on. Raises SoakbookError where none of fifty is free."""
    web.loop = asyncio.get_running_loop()
    shared = {"web": web}
    application = Application(
        [
            (r"/livereload", Browser, shared),
            (r"/livereload\.js", LiveReloadJSHandler),
            (r"/(.*)", Files, shared),
        ],
        log_function=lambda _: None,
    )
    for candidate in range(port, min(port + PORTS, 65536)):
        server = HTTPServer(application)
        try:
            server.listen(candidate, address=LOOPBACK)
        except OSError:
            continue
        return Listening(server=server, port=candidate)
    message = f"ports {port} to {min(port + PORTS, 65536) - 1} are all taken"
    problem = Problem(code="no-free-port", where=Span(file=LOOPBACK), message=message, hint="name another with --port")
    raise SoakbookError([problem])


def _require_local(handler: RequestHandler) -> None:
    host = handler.request.host
    if (host.rpartition(":")[0] or host) not in NAMES:
        raise HTTPError(403)
