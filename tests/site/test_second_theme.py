"""The second theme on a small archive: it complains of nothing, fits every screen, and is accessible and printable."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager

import pytest
from playwright.sync_api import Browser

from tests.support.axe import inspected, violations
from tests.support.browser import Scheme, Visit, visit
from tests.support.pages import Site, read_site
from tests.support.starter import RESULT, publish_starter

WIDTHS = (1900, 1024, 768, 360, 320)
EXTRA = "document.scrollingElement.scrollWidth - window.innerWidth"
KINDS = ("index.html", "archive.html", RESULT, "cards/example-card.html", "methodology.html", "404.html")


@pytest.fixture(scope="module")
def drafting(tmp_path_factory: pytest.TempPathFactory) -> Site:
    folder = publish_starter(tmp_path_factory.mktemp("drafting"), theme="drafting")
    return Site(folder=folder, pages=tuple(read_site(folder)))


@pytest.fixture(scope="module")
def base(drafting: Site) -> str:
    return drafting.folder.as_uri() + "/"


@contextmanager
def opened(browser: Browser, *, scheme: Scheme = "light") -> Iterator[Visit]:
    context = browser.new_context(color_scheme=scheme, reduced_motion="reduce")
    try:
        with visit(context) as seen:
            yield seen
    finally:
        context.close()


def test_every_page_is_published_in_the_second_theme(drafting: Site) -> None:
    paths = {page.path for page in drafting.pages}
    assert set(KINDS) <= paths
    for page in drafting.standing:
        sheets = [e.attributes["href"] for e in page.every("link", rel="stylesheet")]
        assert any(sheet.endswith("static/css/drafting.css") for sheet in sheets), page.path


@pytest.mark.parametrize(("scheme", "width"), [("light", 1280), ("dark", 360)])
def test_axe_finds_nothing(browser: Browser, base: str, scheme: Scheme, width: int) -> None:
    # Source: WCAG 2.2 level AA, through the rules of axe-core that carry its tags.
    found = {}
    with inspected(browser, scheme=scheme, width=width) as page:
        for path in KINDS:
            page.goto(base + path, wait_until="load")
            if wrong := violations(page):
                found[path] = wrong
    assert found == {}


def test_no_page_complains_or_scrolls_sideways(browser: Browser, drafting: Site, base: str) -> None:
    # Source for 320 px: WCAG 2.2, 1.4.10 reflow.
    wide = []
    with opened(browser) as seen:
        for page in drafting.standing:
            seen.page.goto(base + page.path, wait_until="load")
            for width in WIDTHS:
                seen.page.set_viewport_size({"width": width, "height": 900})
                wide += [(page.path, width)] if seen.page.evaluate(EXTRA) > 0 else []
        assert seen.complaints == []
    assert wide == []


@pytest.mark.parametrize("width", [1280, 360])
def test_the_first_tab_reaches_the_skip_link_and_focus_is_drawn(browser: Browser, base: str, width: int) -> None:
    # Source: WCAG 2.2, 2.4.1 bypass blocks, 2.4.7 focus visible.
    with opened(browser) as seen:
        seen.page.set_viewport_size({"width": width, "height": 900})
        seen.page.goto(base + RESULT)
        seen.page.keyboard.press("Tab")
        assert seen.page.locator(":focus").get_attribute("href") == "#content"
        for _ in range(12):
            seen.page.keyboard.press("Tab")
            assert seen.page.evaluate("getComputedStyle(document.activeElement).outlineStyle") != "none"
            assert seen.page.locator(":focus").is_visible()


def test_print_is_dark_on_white_without_navigation(browser: Browser, base: str) -> None:
    with opened(browser, scheme="dark") as seen:
        seen.page.emulate_media(media="print")
        for path in KINDS:
            seen.page.goto(base + path)
            paper = seen.page.evaluate("getComputedStyle(document.documentElement).backgroundColor")
            assert paper == "rgb(255, 255, 255)", path
            assert not any(nav.is_visible() for nav in seen.page.locator("nav.menu, .colophon nav, .margin").all()), (
                path
            )
            assert seen.page.evaluate("getComputedStyle(document.body).display") == "block", path
            assert seen.page.locator("h1").is_visible(), path


def test_the_rail_stands_beside_the_page_where_there_is_room(browser: Browser, base: str) -> None:
    with opened(browser) as seen:
        seen.page.goto(base + RESULT)
        for width, beside in ((1280, True), (1000, False)):
            seen.page.set_viewport_size({"width": width, "height": 900})
            rail, main = (seen.page.locator(part).bounding_box() for part in (".masthead", "main"))
            assert rail
            assert main
            assert (rail["x"] + rail["width"] <= main["x"]) == beside
            assert (rail["y"] + rail["height"] <= main["y"]) != beside
