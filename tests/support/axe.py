"""Pages inspected by axe-core in the browser."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from typing import Any

from playwright.sync_api import Browser, Page

from tests.support.browser import Scheme
from tests.support.command import ROOT

AXE = ROOT / "tests" / "node_modules" / "axe-core" / "axe.min.js"
TAGS = ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa", "best-practice"]
RUN = """(tags) => axe.run(document, {runOnly: tags, resultTypes: ["violations", "incomplete"]})
  .then((r) => r.violations.map((v) => [v.id, v.help, v.nodes.map((n) => n.html.slice(0, 160)).slice(0, 3)]))"""


@contextmanager
def inspected(browser: Browser, *, scheme: Scheme, width: int = 1280) -> Iterator[Page]:
    """A page with axe in it; it passes by the page's policy here alone, which the other checks leave in force."""
    context = browser.new_context(
        viewport={"width": width, "height": 900}, color_scheme=scheme, reduced_motion="reduce", bypass_csp=True
    )
    context.add_init_script(path=AXE)
    try:
        yield context.new_page()
    finally:
        context.close()


def violations(page: Page) -> list[Any]:
    found: list[Any] = page.evaluate(RUN, TAGS)
    return found
