"""Accessibility of every kind of page, by axe-core in a browser, in light and dark."""

from __future__ import annotations

import pytest
from playwright.sync_api import Browser

from tests.support.axe import inspected, violations
from tests.support.browser import Scheme
from tests.support.pages import Site


@pytest.mark.parametrize(("scheme", "width"), [("light", 1280), ("dark", 360)])
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
