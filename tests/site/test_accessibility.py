"""Accessibility of every kind of page, by axe-core in a browser, in light and dark."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from typing import Any

import pytest
from playwright.sync_api import Browser, Page

from tests.support.browser import Scheme
from tests.support.command import ROOT
from tests.support.pages import Site

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


@pytest.mark.parametrize("width", [1280, 360])
@pytest.mark.parametrize("scheme", ["light", "dark"])
def test_axe_finds_nothing_on_any_kind_of_page(
    browser: Browser, site: Site, address: str, scheme: Scheme, width: int
) -> None:
    # Source: WCAG 2.2 level AA, through the rules of axe-core that carry its tags.
    found = {}
    with inspected(browser, scheme=scheme, width=width) as page:
        for document in site.kinds:
            page.goto(address + document.path, wait_until="load")
            if wrong := violations(page):
                found[document.path] = wrong
    assert found == {}


@pytest.mark.parametrize(("colour", "wrong"), [("#777777", ["color-contrast"]), ("#767676", [])])
def test_axe_is_awake(browser: Browser, colour: str, wrong: list[str]) -> None:
    # Source: WCAG 2.2, 1.4.3; on white #777777 is 4.478, under 4.5, and #767676 is 4.542.
    with inspected(browser, scheme="light") as page:
        page.set_content(
            f"<html lang=en><title>A</title><main><h1>A</h1><p style='color:{colour}'>Some words</p></main>"
        )
        assert [rule for rule, *_ in violations(page)] == wrong
