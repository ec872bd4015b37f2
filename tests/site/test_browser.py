"""Every page of the demo in a browser: it complains of nothing, fits the screen, and works without script or server."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from pathlib import Path
from urllib.parse import unquote, urljoin, urlsplit

import pytest
from playwright.sync_api import Browser, Page

from tests.support.browser import Visit, opened, tab_until
from tests.support.pages import Document, Site

WIDTHS = (1280, 768, 360, 320)
OVERFLOW = "document.scrollingElement.scrollWidth - window.innerWidth"
# What sticks out, for the message of a failed test; a box that scrolls by itself may be wider inside.
STICKS_OUT = """() => [...document.body.querySelectorAll("*")]
  .filter((e) => e.getBoundingClientRect().right > window.innerWidth + 1)
  .slice(0, 3).map((e) => e.tagName.toLowerCase() + "." + e.className).join(" ")"""
FOCUSED_IN = "(selector) => document.activeElement.closest(selector) !== null"


def too_wide(page: Page, width: int) -> Iterator[str]:
    page.set_viewport_size({"width": width, "height": 900})
    if (extra := page.evaluate(OVERFLOW)) > 0:
        yield f"{width} px, {extra} px too wide: {page.evaluate(STICKS_OUT)}"


def look_at_all(seen: Visit, pages: Iterable[Document], base: str) -> dict[str, list[str]]:
    """Go to every one of the pages; what scrolls sideways at which width."""
    wide = {}
    for page in pages:
        seen.page.goto(base + page.path, wait_until="load")
        if found := [line for width in WIDTHS for line in too_wide(seen.page, width)]:
            wide[page.path] = found
    return wide


def outside(requests: list[str], base: str) -> list[str]:
    return [r for r in requests if not r.startswith((base, "data:", "blob:"))]


# Source for 320 px: WCAG 2.2, 1.4.10 reflow; 1280 px at a zoom of 400 %.


def test_no_kind_of_page_complains_scrolls_sideways_or_asks_outside_the_site_on_a_server_under_a_sub_path(
    browser: Browser, site: Site, address: str
) -> None:
    with opened(browser, scheme="dark") as seen:
        assert look_at_all(seen, site.kinds, address) == {}
        assert seen.complaints == []
        assert outside(seen.requests, address) == []


@pytest.mark.parametrize("script", [True, False], ids=["with scripts", "without scripts"])
def test_no_page_complains_scrolls_sideways_or_asks_outside_its_folder_from_a_file(
    browser: Browser, site: Site, *, script: bool
) -> None:
    base = site.folder.as_uri() + "/"
    with opened(browser, script=script) as seen:
        assert look_at_all(seen, site.standing, base) == {}
        missing = {r for r in seen.requests if r.startswith("file:") and not Path(unquote(urlsplit(r).path)).is_file()}
        assert seen.complaints == []
        assert outside(seen.requests, base) == []
        assert missing == set()


@pytest.mark.parametrize("script", [True, False], ids=["with scripts", "without scripts"])
def test_a_moved_page_leads_to_its_new_address(browser: Browser, site: Site, address: str, *, script: bool) -> None:
    assert site.moved
    with opened(browser, script=script) as seen:
        for page in site.moved:
            new = page.every("meta", http_equiv="refresh")[0].attributes["content"].split("url=")[1]
            seen.page.goto(address + page.path, wait_until="commit")
            seen.page.wait_for_url(urljoin(address + page.path, new))


def test_headings_tables_and_pictures_show_without_scripts(browser: Browser, site: Site, address: str) -> None:
    with opened(browser, script=False) as seen:
        for page in site.kinds:
            seen.page.goto(address + page.path)
            assert seen.page.locator("h1").is_visible(), page.path
            for table in seen.page.locator("main table").all():
                closed = table.evaluate("(t) => t.closest('details:not([open])') !== null")
                assert closed or table.is_visible(), page.path


def rows_of_the_archive(page: Page) -> int:
    """The rows of results that are shown, once all have come: they come in pieces."""
    page.wait_for_selector("#archive[aria-busy=false]", state="attached")
    return page.locator("#archive tbody tr:not(.group)").count()


def test_a_filter_is_reached_by_keyboard_and_keeps_its_state_in_the_address(browser: Browser, address: str) -> None:
    with opened(browser) as seen:
        seen.page.goto(address + "archive.html")
        before = rows_of_the_archive(seen.page)
        assert tab_until(seen.page, "main form summary")
        for key in ("Enter", "Tab", "Space"):
            seen.page.keyboard.press(key)
        seen.page.wait_for_url(lambda url: url != address + "archive.html")
        after = rows_of_the_archive(seen.page)
        assert 0 < after < before
        filtered = seen.page.url
        seen.page.goto("about:blank")
        seen.page.goto(filtered)
        assert rows_of_the_archive(seen.page) == after


def focus_is_drawn(page: Page) -> bool:
    style: list[str] = page.evaluate(
        "() => { const s = getComputedStyle(document.activeElement);"
        " return [s.outlineStyle, s.outlineWidth, s.boxShadow]; }"
    )
    outline, width, shadow = style
    return (outline != "none" and width != "0px") or shadow != "none"


def test_keyboard_focus_is_drawn_on_everything_it_reaches_and_the_skip_link_comes_first_and_leads_on(
    browser: Browser, site: Site, address: str
) -> None:
    # Source: WCAG 2.2, 2.4.1 bypass blocks, 2.4.7 focus visible.
    with opened(browser) as seen:
        for page in site.kinds:
            seen.page.goto(address + page.path)
            seen.page.keyboard.press("Tab")
            skip = seen.page.locator(":focus")
            href = skip.get_attribute("href") or ""
            assert href.startswith("#"), page.path
            assert skip.is_visible(), page.path
            first = skip.element_handle()
            for _ in range(15):
                tag = seen.page.evaluate("document.activeElement.outerHTML.slice(0, 90)")
                assert focus_is_drawn(seen.page), f"{page.path}: {tag}"
                seen.page.keyboard.press("Tab")
                if seen.page.evaluate("document.activeElement === document.body"):
                    break
            first.focus()
            seen.page.keyboard.press("Enter")
            seen.page.keyboard.press("Tab")
            assert urlsplit(seen.page.url).fragment == href.removeprefix("#"), page.path
            assert not seen.page.evaluate(FOCUSED_IN, "body > header"), page.path


def test_every_kind_of_page_prints_dark_on_white_and_leaves_navigation_out(
    browser: Browser, site: Site, address: str
) -> None:
    with opened(browser, scheme="dark") as seen:
        seen.page.emulate_media(media="print")
        for page in site.kinds:
            seen.page.goto(address + page.path)
            paper = seen.page.evaluate("getComputedStyle(document.body).backgroundColor")
            assert paper in {"rgb(255, 255, 255)", "rgba(0, 0, 0, 0)"}, page.path
            assert not any(nav.is_visible() for nav in seen.page.locator("body > header nav").all()), page.path
            assert seen.page.pdf(format="A4").startswith(b"%PDF-"), page.path


def test_a_request_that_leaves_the_site_is_found(browser: Browser, tmp_path: Path) -> None:
    page = tmp_path / "x.html"
    page.write_text("<!doctype html><title>x</title><img src='http://127.0.0.1:9/x.png' alt='x'>", encoding="utf-8")
    with opened(browser) as seen:
        seen.page.goto(page.as_uri())
        assert outside(seen.requests, tmp_path.as_uri()) == ["http://127.0.0.1:9/x.png"]
        assert seen.complaints != []


def test_a_page_that_is_too_wide_is_found(browser: Browser) -> None:
    with opened(browser, width=360) as seen:
        seen.page.set_content("<div style='width: 500px'>x</div>")
        assert [line for width in (360, 768) for line in too_wide(seen.page, width)] == [
            "360 px, 148 px too wide: div."
        ]
