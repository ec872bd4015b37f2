"""Addresses of single figures: following one shows it, also where its row is inside what is closed."""

from __future__ import annotations

from pathlib import Path

import pytest
from playwright.sync_api import Browser, Page

from tests.support.browser import opened

PLACE = "f-power-80-core_rise"
SEEN = """(e) => { const b = e.getBoundingClientRect();
  return b.top >= 0 && b.bottom <= innerHeight && b.left >= 0 && b.right <= innerWidth; }"""


def is_in_view(page: Page, place: str) -> bool:
    page.wait_for_function(f"() => document.getElementById('{place}').closest('details').open")
    found: bool = page.locator(f"[id='{place}']").evaluate(SEEN)
    return found


# Source: HTML standard, navigating to a fragment: closed details around the target are opened first.


@pytest.mark.parametrize("script", [True, False], ids=["with scripts", "without scripts"])
@pytest.mark.parametrize("width", [1280, 360])
def test_the_address_of_a_figure_opens_the_closed_table_that_holds_it(
    browser: Browser, small_site: Path, width: int, *, script: bool
) -> None:
    with opened(browser, width=width, script=script) as seen:
        seen.page.goto(f"{small_site.as_uri()}/results/slab-on-780.html#{PLACE}")
        assert is_in_view(seen.page, PLACE)
        assert seen.complaints == []


def test_the_table_is_closed_until_then_and_opens_for_a_link_on_the_same_page(
    browser: Browser, small_site: Path
) -> None:
    with opened(browser) as seen:
        page = seen.page
        page.goto(f"{small_site.as_uri()}/results/slab-on-780.html")
        assert not page.locator(f"[id='{PLACE}']").is_visible()
        page.evaluate(f"location.hash = '#{PLACE}'")
        assert is_in_view(page, PLACE)


@pytest.mark.parametrize("place", ["f-zork-core_rise", "%F0%9F%A7%8A", "f-stock-core_rise%22%3E%3Cimg%20src=x%3E"])
def test_the_address_of_no_figure_leaves_the_page_as_it_is(browser: Browser, small_site: Path, place: str) -> None:
    with opened(browser) as seen:
        seen.page.goto(f"{small_site.as_uri()}/results/slab-on-780.html#{place}")
        assert seen.page.locator("h1").is_visible()
        assert not seen.page.locator(f"[id='{PLACE}']").is_visible()
        assert seen.complaints == []
