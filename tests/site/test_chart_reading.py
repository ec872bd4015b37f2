"""Charts are read by mouse, finger and keyboard, and complete without a script."""

from __future__ import annotations

import gzip
import re
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

import pytest
from playwright.sync_api import Browser, Locator, Page

from tests.support.browser import visit
from tests.support.pages import Document, Site, target
from tests.support.starter import RESULT, publish_starter

TIME = '[data-chart="time"]'
MARKS = '[data-chart="marks"][data-title^="Rise over ambient"]'
BUDGET = 60_000  # bytes


@pytest.fixture(scope="module")
def result(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return publish_starter(tmp_path_factory.mktemp("charts")) / RESULT


@contextmanager
def reading(browser: Browser, result: Path, *, touch: bool = False, width: int = 1280) -> Iterator[Page]:
    """The result page, on which nothing may complain."""
    context = browser.new_context(viewport={"width": width, "height": 900}, has_touch=touch, reduced_motion="reduce")
    context.set_default_timeout(30_000)
    try:
        with visit(context) as seen:
            seen.page.goto(result.as_uri(), wait_until="load")
            seen.page.evaluate("for (const fold of document.querySelectorAll('.fold')) fold.open = true")
            yield seen.page
            assert seen.complaints == []
    finally:
        context.close()


def drawing(page: Page, kind: str) -> Locator:
    return page.locator(kind).first


def spoken(box: Locator) -> str:
    return (box.locator(".reader").get_attribute("aria-valuetext") or "").replace("\u00a0", " ")


def tip(box: Locator) -> str:
    return box.locator(".tip").inner_text().replace("\u00a0", " ")


def place_of(box: Locator, share: float) -> tuple[float, float]:
    box.scroll_into_view_if_needed()
    frame = box.bounding_box()
    assert frame
    return frame["x"] + frame["width"] * share, frame["y"] + frame["height"] / 2


def core_line(page: Page) -> str:
    return page.locator(f'{TIME} .chart-wide path[aria-label^="Core"]').get_attribute("d") or ""


def test_a_mark_under_the_mouse_says_its_figure(browser: Browser, result: Path) -> None:
    with reading(browser, result) as page:
        box = drawing(page, MARKS)
        mark = box.locator('svg [aria-label*="core"]').first
        mark.scroll_into_view_if_needed()
        frame = mark.bounding_box()
        assert frame
        page.mouse.move(frame["x"] + 5, frame["y"] + 3)
        assert tip(box) == (mark.get_attribute("aria-label") or "").replace("\u00a0", " ")
        page.mouse.move(0, 0)
        assert not box.locator(".tip").is_visible()


def test_arrow_keys_go_along_the_marks_and_escape_ends_it(browser: Browser, result: Path) -> None:
    # Source: WAI-ARIA Authoring Practices, slider: arrow keys, Home and End; WCAG 2.2, 1.4.13: Escape dismisses.
    with reading(browser, result) as page:
        box = drawing(page, MARKS)
        labels = [(m.get_attribute("aria-label") or "") for m in box.locator("svg [aria-label][fill]").all()]
        labels = [label.replace("\u00a0", " ") for label in labels]
        box.locator(".reader").focus()
        said = []
        for key in ("ArrowRight", "ArrowRight", "ArrowLeft", "End", "Home"):
            page.keyboard.press(key)
            said.append(spoken(box))
        assert said == [labels[0], labels[1], labels[0], labels[-1], labels[0]]
        assert tip(box) == labels[0]
        page.keyboard.press("Escape")
        assert not box.locator(".tip").is_visible()
        assert box.locator("[data-read]").count() == 0


def test_the_tip_follows_the_switch_to_fahrenheit(browser: Browser, result: Path) -> None:
    with reading(browser, result) as page:
        page.locator('[data-switch="unit"]').click()
        for kind, wanted in ((MARKS, "°F"), (TIME, "°F")):
            box = drawing(page, kind)
            box.locator(".reader").focus()
            page.keyboard.press("Home")
            assert wanted in tip(box)
            assert "°C" not in tip(box)
            assert " K" not in tip(box)


def test_a_tip_has_the_digits_of_the_table_in_both_units(browser: Browser, result: Path) -> None:
    with reading(browser, result) as page:
        box = drawing(page, MARKS)
        for _ in range(2):
            cell = page.locator("#f-stock-core_rise .num").first.inner_text()
            box.locator(".reader").focus()
            stock = []
            for _ in range(box.locator("svg [aria-label][fill]").count()):
                page.keyboard.press("ArrowRight")
                stock += [tip(box)] if tip(box).startswith("Stock, core") else []
            assert len(stock) == 1
            assert cell.split("±")[0].strip() in stock[0]
            page.locator('[data-switch="unit"]').click()


def switch(page: Page) -> None:
    page.locator('[data-switch="unit"]').click()


def written(page: Page) -> list[str]:
    """Every text in a picture that is shown, as it is read."""
    shown = page.locator("svg.chart:visible text").all_text_contents()
    return [text.replace("\u00a0", " ") for text in shown]


def test_pictures_follow_the_switch_and_come_back_to_the_very_same(browser: Browser, result: Path) -> None:
    with reading(browser, result) as page:
        before = written(page)
        findings = page.locator(".picture .finding, .picture td").all_text_contents()
        assert "°C" in before
        assert "K over ambient" in before
        switch(page)
        there = written(page)
        assert "°F over ambient" in there
        assert not [text for text in there if re.search(r"°C|(?<!\S)K(?!\S)", text)]
        told = page.locator(".picture .finding, .picture td").all_text_contents()
        assert not [text for text in told if re.search(r"°C|\sK\b(?!/W)", text)]
        switch(page)
        assert written(page) == before
        assert page.locator(".picture .finding, .picture td").all_text_contents() == findings


def test_a_page_that_opens_in_fahrenheit_has_the_texts_of_a_switched_one(browser: Browser, result: Path) -> None:
    with reading(browser, result) as page:
        before = written(page)
        switch(page)
        switched = written(page)
        page.reload()
        page.evaluate("for (const fold of document.querySelectorAll('.fold')) fold.open = true")
        assert written(page) == switched
        switch(page)
        assert written(page) == before


def test_the_switch_holds_while_one_looks_closer_and_after(browser: Browser, result: Path) -> None:
    with reading(browser, result) as page:
        texts = page.locator(f"{TIME} .chart-wide text[data-f]")
        here = texts.all_text_contents()
        switch(page)
        there = texts.all_text_contents()
        assert there == [node.get_attribute("data-f") for node in texts.all()]
        assert all(a != b for a, b in zip(here, there, strict=True))

        closer = page.get_by_role("button", name="Look closer at the time")
        everything = page.get_by_role("button", name="Show all of the time")
        closer.click()
        assert texts.all_text_contents() == there
        switch(page)  # from °F to °C while looking closer
        assert texts.all_text_contents() == here
        closer.click()
        assert texts.all_text_contents() == here
        switch(page)
        assert texts.all_text_contents() == there
        everything.click()
        assert texts.all_text_contents() == there
        switch(page)
        assert texts.all_text_contents() == here


OUTSIDE = """(svg) => {
  const { x, y, width, height } = svg.viewBox.baseVal;
  const toPicture = svg.getScreenCTM().inverse();
  return [...svg.querySelectorAll("text")].filter((text) => {
    const box = text.getBBox();
    const matrix = toPicture.multiply(text.getScreenCTM());
    const from = new DOMPoint(box.x, box.y).matrixTransform(matrix);
    const to = new DOMPoint(box.x + box.width, box.y + box.height).matrixTransform(matrix);
    return from.x < x - 1 || from.y < y - 1 || to.x > x + width + 1 || to.y > y + height + 1;
  }).map((text) => text.textContent);
}"""

MEETING = """(svg) => {
  const boxes = [...svg.querySelectorAll("text")].map((text) => [text.textContent, text.getBoundingClientRect()]);
  return boxes.flatMap(([a, one], i) => boxes.slice(i + 1).filter(([, other]) =>
    Math.min(one.right, other.right) - Math.max(one.left, other.left) > 1 &&
    Math.min(one.bottom, other.bottom) - Math.max(one.top, other.top) > 5,
  ).map(([b]) => `${a} and ${b}`));
}"""


@pytest.mark.parametrize("width", [360, 1280])
def test_no_label_is_cut_off_or_meets_another_in_either_unit(browser: Browser, result: Path, width: int) -> None:
    with reading(browser, result, width=width) as page:
        for _ in range(2):
            shown = page.locator("svg.chart:visible").all()
            assert len(shown) > 1
            assert [text for svg in shown for text in svg.evaluate(OUTSIDE)] == []
            assert [text for svg in shown for text in svg.evaluate(MEETING)] == []
            switch(page)


def test_a_crosshair_reads_every_line_at_one_time(browser: Browser, result: Path) -> None:
    with reading(browser, result) as page:
        box = drawing(page, TIME)
        page.mouse.move(*place_of(box, 0.5))
        shown = tip(box)
        assert all(name in shown for name in ("Core", "Hotspot", "Memory", "Ambient", "Board power")), shown
        lines = box.locator(".chart-wide path[aria-label]").count()
        assert box.locator(".chart-wide circle").count() == lines == 5


def test_arrow_keys_move_the_crosshair_by_one_cell(browser: Browser, result: Path) -> None:
    with reading(browser, result) as page:
        box = drawing(page, TIME)
        box.locator(".reader").focus()
        said = []
        for key in ("Home", "ArrowRight", "PageDown"):
            page.keyboard.press(key)
            said.append(spoken(box).split(":")[0])
        assert said == ["0 min 5 s", "0 min 15 s", "1 min 55 s"]


def test_a_drag_looks_closer_and_a_double_click_shows_all_again(browser: Browser, result: Path) -> None:
    with reading(browser, result) as page:
        box = drawing(page, TIME)
        before = core_line(page)
        page.mouse.move(*place_of(box, 0.3))
        page.mouse.down()
        page.mouse.move(*place_of(box, 0.5))
        page.mouse.up()
        assert core_line(page) != before
        assert " to " in page.locator(".closer output").inner_text()
        page.mouse.dblclick(*place_of(box, 0.5))
        assert core_line(page) == before
        assert page.locator(".closer output").inner_text() == ""


@pytest.mark.parametrize("back", ["0", "Escape"])
def test_plus_looks_closer_and_a_key_shows_all_again(browser: Browser, result: Path, back: str) -> None:
    with reading(browser, result) as page:
        box = drawing(page, TIME)
        before = box.locator(".chart-wide").inner_html()
        box.locator(".reader").focus()
        ticks = box.locator('.chart-wide text[text-anchor="middle"]').all_inner_texts()
        page.keyboard.press("+")
        page.keyboard.press("+")
        assert core_line(page) not in before
        assert box.locator('.chart-wide text[text-anchor="middle"]').all_inner_texts() != ticks
        page.keyboard.press("End")
        last = float((box.locator(".chart-wide line").last.get_attribute("x1")) or 0)
        width = float((box.locator(".chart-wide line[x2]").first.get_attribute("x2")) or 0)
        assert 0 < last <= width
        page.keyboard.press(back)
        assert box.locator(".chart-wide").inner_html() == before


def test_buttons_look_closer_without_a_drag(browser: Browser, result: Path) -> None:
    # Source: WCAG 2.2, 2.5.7 dragging movements.
    with reading(browser, result, width=360) as page:
        everything = page.get_by_role("button", name="Show all of the time")
        assert everything.is_disabled()
        page.get_by_role("button", name="Look closer at the time").click()
        assert everything.is_enabled()
        everything.click()
        assert everything.is_disabled()


def test_a_finger_reads_and_its_reading_stays(browser: Browser, result: Path) -> None:
    with reading(browser, result, touch=True, width=360) as page:
        box = drawing(page, TIME)
        page.touchscreen.tap(*place_of(box, 0.4))
        assert "Core" in tip(box)
        page.locator("h1").tap()
        assert not box.locator(".tip").is_visible()


def test_a_tip_never_makes_the_page_wider(browser: Browser, result: Path) -> None:
    # Source: WCAG 2.2, 1.4.10 reflow, 320 px.
    with reading(browser, result, width=320) as page:
        for box in page.locator("[data-chart]").all():
            box.locator(".reader").focus()
            for key in ("Home", "End"):
                page.keyboard.press(key)
                assert box.locator(".tip").is_visible()
                assert page.evaluate("document.scrollingElement.scrollWidth - window.innerWidth") <= 0


def test_print_shows_the_whole_chart_and_nothing_of_its_reading(browser: Browser, result: Path) -> None:
    with reading(browser, result) as page:
        before = core_line(page)
        page.locator(f"{TIME} .reader").focus()
        page.keyboard.press("+")
        page.evaluate("window.dispatchEvent(new Event('beforeprint'))")
        page.emulate_media(media="print")
        assert core_line(page) == before
        for part in (".reader", ".tip", ".closer"):
            assert not any(found.is_visible() for found in page.locator(part).all()), part


def test_without_scripts_nothing_waits_for_them(browser: Browser, result: Path) -> None:
    context = browser.new_context(java_script_enabled=False)
    page = context.new_page()
    page.goto(result.as_uri())
    assert page.locator(".reader, .tip, .closer").count() == 0
    assert page.locator(f"{TIME} .chart-wide").is_visible()
    context.close()


def first_view(folder: Path, page: Document) -> int:
    """Bytes of a page with its style sheets and scripts, compressed."""
    loaded = [e.attributes["src"] for e in page.every("script") if "src" in e.attributes]
    loaded += [e.attributes["href"] for e in page.every("link", rel="stylesheet")]
    files = [folder / page.path, *(target(folder, page.path, address)[0] for address in loaded)]
    return sum(len(gzip.compress(file.read_bytes(), mtime=0)) for file in files)


def test_the_first_view_of_every_result_is_light(site: Site) -> None:
    # Our own budget, no source: 60 kB compressed for page, style sheets and scripts.
    results = {page.path: first_view(site.folder, page) for page in site.standing if page.every("svg")}
    assert any(path.startswith("results/") for path in results)
    assert {path: weight for path, weight in results.items() if weight > BUDGET} == {}
