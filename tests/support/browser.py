"""A headless browser, what a page does in it, and a loopback server under a sub-path."""

from __future__ import annotations

import functools
import http.server
import shutil
import threading
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field
from pathlib import Path
from typing import Literal

from playwright.sync_api import Browser, BrowserContext, Page, Request, sync_playwright

# The first two let the browser run as root and without a display card; the others keep it off the network.
ARGUMENTS = [
    "--no-sandbox",
    "--disable-gpu",
    "--disable-dev-shm-usage",
    "--disable-quic",
    "--no-first-run",
    "--disable-background-networking",
    "--disable-component-update",
    "--disable-sync",
]
Scheme = Literal["light", "dark"]


@dataclass(kw_only=True)
class Visit:
    """A page in the browser, with everything it complained about and asked for."""

    page: Page
    complaints: list[str] = field(default_factory=list)
    requests: list[str] = field(default_factory=list)


@contextmanager
def chromium() -> Iterator[Browser]:
    """The Chromium of this machine; a missing one is an error, not a reason to skip."""
    found = shutil.which("chromium")
    if found is None:
        raise FileNotFoundError("no chromium on the path; `python3 tests/run.py` installs it")
    with sync_playwright() as playwright:
        browser = playwright.chromium.launch(executable_path=found, args=ARGUMENTS)
        yield browser
        browser.close()


def listen(page: Page) -> Visit:
    """The visit that a page is on, from now."""
    visit = Visit(page=page)

    def complain_of_failure(request: Request) -> None:
        # The icon is asked for last: going on to the next page may cut it off, which is no fault of the page.
        if request.url.endswith("/static/icon.svg") and request.failure == "net::ERR_ABORTED":
            return
        visit.complaints.append(f"{page.url}: {request.url} failed: {request.failure}")

    page.on("pageerror", lambda error: visit.complaints.append(f"{page.url}: {error}"))
    page.on("requestfailed", complain_of_failure)
    page.on("request", lambda request: visit.requests.append(request.url))
    page.on(
        "console",
        lambda m: visit.complaints.append(f"{page.url}: {m.text}") if m.type in {"error", "warning"} else None,
    )
    return visit


@contextmanager
def visit(context: BrowserContext) -> Iterator[Visit]:
    """A fresh page of a context, with what it does recorded."""
    page = context.new_page()
    try:
        yield listen(page)
    finally:
        page.close()


@contextmanager
def opened(browser: Browser, *, width: int = 1280, script: bool = True, scheme: Scheme = "light") -> Iterator[Visit]:
    """A fresh page of a width, with or without scripts, with what it does recorded."""
    context = browser.new_context(
        viewport={"width": width, "height": 900},
        java_script_enabled=script,
        color_scheme=scheme,
        reduced_motion="reduce",
    )
    context.set_default_timeout(30_000)
    try:
        with visit(context) as page:
            yield page
    finally:
        context.close()


def tab_until(page: Page, selector: str, *, limit: int = 80) -> bool:
    """Press Tab until the focus is on what a selector means; whether it got there."""
    for _ in range(limit):
        page.keyboard.press("Tab")
        if page.evaluate("(selector) => document.activeElement.matches(selector)", selector):
            return True
    return False


class _Quiet(http.server.SimpleHTTPRequestHandler):
    def log_message(self, format: str, *args: object) -> None:  # noqa: A002 - named by the base class
        """Keep the test output free of access lines."""


@contextmanager
def served(folder: Path) -> Iterator[str]:
    """The address of a folder on a loopback server, with a slash at its end."""
    handler = functools.partial(_Quiet, directory=str(folder))
    with http.server.ThreadingHTTPServer(("127.0.0.1", 0), handler) as server:
        thread = threading.Thread(target=server.serve_forever, daemon=True)
        thread.start()
        yield f"http://127.0.0.1:{server.server_address[1]}/"
        server.shutdown()
        thread.join()
