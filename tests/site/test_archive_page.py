"""The archive page as readers use it: filters, counts, order, chart, CSV, shared views."""

from __future__ import annotations

import csv
import io
import re
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from urllib.parse import parse_qs, urlsplit

import pytest
from playwright.sync_api import Browser, Page, expect

from tests.bench.archive import large_archive
from tests.support.axe import inspected, violations
from tests.support.browser import Scheme, Visit, opened, tab_until
from tests.support.site_data import ARABIC, HOSTILE

ROWS = "#archive tbody tr:not(.group)"
# The rows come in pieces.
ALL_THERE = "#archive[aria-busy=false]"
# A cell's words, without the box that ticks its row and without what is only read aloud.
WORDS = """(cells) => cells.map((cell) => {
  const copy = cell.cloneNode(true);
  copy.querySelectorAll(".tick, .hidden-text").forEach((node) => node.remove());
  return copy.textContent;
})"""
TALLIES = """(boxes) => boxes.map((box) =>
  [box.value, box.checked, box.closest("label").querySelector("[data-tally]").textContent])"""


def plain(text: str) -> str:
    return " ".join(text.replace("\xa0", " ").replace("±", " ± ").split())


@contextmanager
def archive(browser: Browser, folder: Path, address: str = "", *, width: int = 1280) -> Iterator[Visit]:
    """The archive page from a disk with an address, which complains of nothing until the end."""
    with opened(browser, width=width) as seen:
        go(seen.page, folder, address)
        yield seen
        assert seen.complaints == []


def go(page: Page, folder: Path, address: str) -> None:
    page.goto(f"{folder.as_uri()}/archive.html{address}")
    page.wait_for_selector(ALL_THERE, state="attached")


def rows(page: Page) -> int:
    page.wait_for_selector(ALL_THERE, state="attached")
    return page.locator(ROWS).count()


def stands_in_the_address(page: Page, **wanted: list[str]) -> None:
    """Wait until the address has this and nothing else; it follows after a moment."""
    page.wait_for_url(lambda url: parse_qs(urlsplit(url).query, keep_blank_values=True) == wanted)


def choose(page: Page, key: str, *names: str) -> None:
    """Open a list of choices, click some and close it."""
    choice = page.locator(f"[data-choice={key}]")
    choice.locator("summary").click()
    for name in names:
        choice.get_by_role("checkbox", name=name).click()
    choice.locator("summary").click()


def column(page: Page, key: str) -> list[str]:
    """The cells of a column that are on the page."""
    page.wait_for_selector(ALL_THERE, state="attached")
    place = page.locator(f"#archive thead th[data-key={key}]").evaluate("(head) => head.cellIndex")
    cells: list[str] = page.locator(f"{ROWS} > :nth-child({place + 1})").evaluate_all(WORDS)
    return [plain(cell) for cell in cells]


# --- filters -----------------------------------------------------------------------------------------------------


def test_the_page_opens_at_stock_and_says_how_many_rows_that_are(browser: Browser, small_site: Path) -> None:
    with archive(browser, small_site) as seen:
        assert rows(seen.page) == 6
        assert seen.page.inner_text("[data-count]") == "6 of 27 rows"


def test_several_values_of_a_filter_are_alternatives_and_stand_in_the_address(
    browser: Browser, small_site: Path
) -> None:
    with archive(browser, small_site) as seen:
        page = seen.page
        choose(page, "cooler", "Fenwick Slab", "Moorhen Riffle")
        assert set(column(page, "name")) == {"Fenwick Slab", "Moorhen Riffle"}
        assert rows(page) == 3
        choose(page, "card", "Orrery 780")
        assert rows(page) == 2
        stands_in_the_address(page, card=["orrery-780"], cooler=["slab", "riffle"])


def test_a_view_that_was_passed_on_opens_as_it_was(browser: Browser, small_site: Path) -> None:
    address = (
        "?point=stock&point=undervolt&kind=water-block&settled=yes&q=soak&sort=core_rise&dir=desc&chart=memory_rise"
    )
    with archive(browser, small_site, address) as seen:
        page = seen.page
        assert column(page, "core_rise") == ["31.6 ± 0.4", "31.2 ± 0.4", "24.6 ± 0.4", "24.3 ± 0.4"]
        assert page.locator("[data-chart]").get_attribute("open") is not None
        assert page.input_value("#chart-kind") == "memory_rise"
        assert page.input_value("#filter-q") == "soak"
        chips = [plain(t) for t in page.locator("[data-chips] li").all_inner_texts()]
        assert [re.sub(r"^Remove ?| ×$", "", c) for c in chips] == [
            "Kind: Water block",
            "Test point: Stock",
            "Test point: Undervolt",
            "Verdict: settled",
            "Words: soak",
        ]


def test_a_filter_works_by_keyboard_alone(browser: Browser, small_site: Path) -> None:
    with archive(browser, small_site) as seen:
        page = seen.page
        assert tab_until(page, "[data-choice=cooler] summary")
        page.keyboard.press("Enter")
        assert tab_until(page, "[name=cooler]", limit=1)
        page.keyboard.press("Space")
        page.keyboard.press("Tab")
        page.keyboard.press("Space")
        assert rows(page) == 3
        page.keyboard.press("Escape")
        assert page.locator("[data-choice=cooler]").get_attribute("open") is None
        assert page.evaluate("document.activeElement.tagName") == "SUMMARY"


def test_one_list_is_open_at_a_time_and_closes_when_it_is_left(browser: Browser, small_site: Path) -> None:
    with archive(browser, small_site) as seen:
        page = seen.page
        lists = page.locator("[data-choice][open]")
        page.locator("[data-choice=card] summary").click()
        page.locator("[data-choice=year] summary").click()
        expect(lists).to_have_count(1)
        page.locator("h1").click()
        expect(lists).to_have_count(0)
        page.locator("[data-choice=year] summary").click()
        page.locator("[name=year]").last.focus()
        page.keyboard.press("Tab")
        expect(lists).to_have_count(0)


VIEWS = (
    "",
    "?point=",
    "?cooler=slab&cooler=fold",
    "?point=&settled=yes",
    "?q=water&card=orrery-780",
    "?year=2025&kind=air",
)


@pytest.mark.parametrize("address", VIEWS)
def test_the_count_beside_every_choice_is_what_choosing_it_alone_leaves(
    browser: Browser, small_site: Path, address: str
) -> None:
    with archive(browser, small_site, address) as seen:
        page = seen.page
        for key in ("point", "card", "cooler", "kind", "protocol", "year"):
            boxes = page.locator(f"[name={key}]").evaluate_all(TALLIES)
            ticked = {value for value, checked, _ in boxes if checked}
            for value, _, tally in boxes:
                turn(page, key, ticked ^ {value})
                assert page.inner_text("[data-count]").split()[0].replace("All", "27") == tally, (key, value)
                turn(page, key, ticked ^ {value})
            assert {v for v, c, _ in boxes if c} == ticked


def turn(page: Page, key: str, values: set[str]) -> None:
    """Turn boxes by script, since what is asked is the count and not the click."""
    page.evaluate(
        "([key, values]) => values.forEach((v) => document.querySelector(`[name=${key}][value='${v}']`).click())",
        [key, sorted(values)],
    )


def test_a_chosen_value_is_taken_out_by_its_button_and_the_focus_stays_near(browser: Browser, small_site: Path) -> None:
    with archive(browser, small_site, "?cooler=slab&card=orrery-780") as seen:
        page = seen.page
        page.get_by_role("button", name="Remove Cooler: Fenwick Slab").click()
        stands_in_the_address(page, card=["orrery-780"])
        assert page.evaluate("document.activeElement.closest('[data-chips]') !== null")


def test_words_find_rows_in_any_script_and_markup_stays_text(browser: Browser, small_site: Path) -> None:
    with archive(browser, small_site, "?point=") as seen:
        page = seen.page
        for words, count in ((ARABIC, 2), (HOSTILE, 1), ('"Fold"', 1), ("<", 1), ("🔥", 0), ("SLAB  soak", 7)):
            page.fill("#filter-q", words)
            assert rows(page) == count, words
            stands_in_the_address(page, point=[""], q=[words])
            assert page.locator("main script, main img").count() == 0


def test_no_match_says_so_and_offers_to_start_again(browser: Browser, small_site: Path) -> None:
    with archive(browser, small_site, "?chart=core_rise") as seen:
        page = seen.page
        page.fill("#filter-q", "nothing of the kind")
        expect(page.get_by_text("No result fits these choices.")).to_be_visible()
        assert page.locator("[data-picture] svg").count() == 0
        assert page.inner_text("[data-picture-said]") == "None of these rows has this figure."
        page.get_by_role("button", name="Reset the choices").click()
        assert rows(page) == 6
        assert page.evaluate("document.activeElement.id") == "filter-q"


def test_reset_goes_back_to_the_start(browser: Browser, small_site: Path) -> None:
    with archive(browser, small_site, "?point=&cooler=slab&settled=yes&q=x&sort=core_rise") as seen:
        page = seen.page
        page.get_by_role("button", name="Reset", exact=True).click()
        assert rows(page) == 6
        page.wait_for_url(lambda url: "?" not in url)
        assert column(page, "name")[0] == "Fenwick Slab"


UNKNOWN = {
    "?card=zork": "which is ignored: Card “zork”.",
    "?card=%3Cb%3E&sort=up&dir=x": "which is ignored: Card “<b>”, order by “up” and direction “x”.",
    "?kind=__proto__&chart=constructor": "which is ignored: Kind “__proto__” and chart of “constructor”.",
    "?point=%E0%A4%A": "which is ignored: Test point “",
}


@pytest.mark.parametrize("address", UNKNOWN)
def test_what_an_address_asks_for_in_vain_is_named(browser: Browser, small_site: Path, address: str) -> None:
    with archive(browser, small_site, address) as seen:
        assert UNKNOWN[address] in seen.page.inner_text("[data-asked]")
        assert rows(seen.page) == 6


def test_garbage_in_the_address_leaves_the_page_as_it_starts(browser: Browser, small_site: Path) -> None:
    with archive(browser, small_site, "?&&=;%%%&utm=x&q=%00&point=stock") as seen:
        assert seen.page.locator("h1").is_visible()
        assert not seen.page.locator("[data-asked]").is_visible()


# --- order, chart, CSV -------------------------------------------------------------------------------------------


def test_every_column_sorts_both_ways_with_missing_values_last(browser: Browser, small_site: Path) -> None:
    with archive(browser, small_site) as seen:
        page = seen.page
        keys = page.locator("#archive thead th").evaluate_all("(all) => all.map((th) => th.dataset.key)")
        assert len(keys) == 12
        for key in keys:
            for way in ("ascending", "descending"):
                head = page.locator(f"#archive thead th[data-key={key}]")
                head.get_by_role("button").click()
                assert head.get_attribute("aria-sort") == way
                assert page.evaluate("document.activeElement.closest('th').dataset.key") == key
                numbers = [float(cell.split()[0]) for cell in column(page, key) if re.match(r"\d", cell)]
                if key.endswith(("_rise", "_psi", "_power")):
                    assert numbers == sorted(numbers, reverse=way == "descending"), key
                    assert all(re.match(r"\d", c) for c in column(page, key)[: len(numbers)]), key
        assert page.locator("#archive [aria-sort]").count() == 1


def test_the_chart_follows_the_view(browser: Browser, small_site: Path) -> None:
    with archive(browser, small_site) as seen:
        page = seen.page
        page.get_by_text("Chart of these rows").click()
        dots = page.locator("[data-picture] circle")
        expect(dots).to_have_count(5)  # one row of six has no core rise
        expect(page.locator("[data-picture] .open")).to_have_count(1)
        assert "1 row without this figure. A hollow dot had not settled." in page.inner_text("[data-picture-said]")
        stands_in_the_address(page, chart=["core_rise"])
        choose(page, "cooler", "Moorhen")
        expect(dots).to_have_count(1)
        page.select_option("#chart-kind", label="Board power")
        expect(page.locator("[data-picture] svg")).to_have_attribute("aria-label", re.compile("^Board power of 1 rows"))
        assert plain(page.locator("[data-picture] .value").text_content() or "") == "285.0 ± 2.9"


def test_the_chart_and_the_rows_to_come_are_in_the_readers_unit(browser: Browser, small_site: Path) -> None:
    with archive(browser, small_site, "?cooler=slab&card=orrery-780&chart=core_rise") as seen:
        page = seen.page
        page.get_by_role("button", name="°F", exact=True).click()
        value = page.locator("[data-picture] .value")
        expect(value).to_have_text(re.compile("56.2"))
        expect(page.locator("[data-picture] .axis-label")).to_have_text("Core over ambient, °F")
        choose(page, "cooler", "Moorhen")
        assert column(page, "core_rise") == ["56.2 ± 0.7", "56.9 ± 0.7"]
        page.get_by_role("button", name="°F", exact=True).click()
        choose(page, "cooler", "stock cooler")
        assert column(page, "core_rise") == ["31.2 ± 0.4", "31.6 ± 0.4", "47.8 ± 0.4"]


def test_the_csv_file_is_of_the_rows_of_the_view(browser: Browser, small_site: Path) -> None:
    with archive(browser, small_site, "?point=&kind=air&sort=core_rise") as seen:
        page = seen.page
        shown = [column(page, key) for key in ("name", "card", "core_rise")]
        page.locator("[data-tick]").first.click()
        with page.expect_download() as waiting:
            page.get_by_role("button", name="Save these rows as CSV").click()
        assert waiting.value.suggested_filename == "archive.csv"
        text = Path(waiting.value.path()).read_text(encoding="utf-8-sig")
        head, *body = csv.reader(io.StringIO(text))
        assert head[:5] == ["Test point", "Cooler", "Card", "Core rise, K", "Core rise, K: ±, 95 %"]
        written = [[row[1] for row in body], [row[2] for row in body], [f"{row[3]} ± {row[4]}" for row in body]]
        assert written == [shown[0], shown[1], shown[2]]


# --- many rows, a phone, no scripts, everybody -------------------------------------------------------------------


@pytest.fixture(scope="module")
def large(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The folder of an archive of 600 rows."""
    return large_archive(tmp_path_factory.mktemp("large"), 600).parent


def test_of_many_rows_the_first_are_shown_and_more_on_demand(browser: Browser, large: Path) -> None:
    with archive(browser, large, "?point=") as seen:
        page = seen.page
        total = int(page.inner_text("[data-count]").split()[1])
        assert total >= 600
        assert rows(page) == 40
        assert page.inner_text("[data-more-said]") == f"The first 40 of {total} rows are shown."
        page.get_by_role("button", name="Show more rows").click()
        assert rows(page) == 80
        choose(page, "year", "2020")
        assert page.inner_text("[data-more-said]").startswith("The first 40 of ")


def test_the_chart_draws_forty_and_says_how_many_are_left_out(browser: Browser, large: Path) -> None:
    with archive(browser, large, "?chart=core_rise") as seen:
        expect(seen.page.locator("[data-picture] circle")).to_have_count(40)
        total = int(seen.page.inner_text("[data-count]").split()[0])
        assert f"{total - 40} further rows left out" in seen.page.inner_text("[data-picture-said]")


def test_all_matching_rows_are_saved_also_those_that_are_not_shown(browser: Browser, large: Path) -> None:
    with archive(browser, large, "?point=&sort=tested") as seen:
        page = seen.page
        with page.expect_download() as waiting:
            page.get_by_role("button", name="Save these rows as CSV").click()
        body = list(csv.reader(io.StringIO(Path(waiting.value.path()).read_text(encoding="utf-8-sig"))))[1:]
        assert len(body) == int(page.inner_text("[data-count]").split()[1])
        assert len({tuple(row) for row in body}) == len({(r[0], r[1], r[2], r[-1]) for r in body})


def test_rows_that_come_later_can_be_ticked_too(browser: Browser, large: Path) -> None:
    with archive(browser, large, "?point=") as seen:
        page = seen.page
        assert rows(page) == page.locator(f"{ROWS} [data-tick]").count()
        page.get_by_role("button", name="Show more rows").click()
        assert rows(page) == page.locator(f"{ROWS} [data-tick]").count() == 80


@pytest.mark.parametrize("width", [320, 360, 768])
def test_nothing_sticks_out_whatever_is_open(browser: Browser, small_site: Path, width: int) -> None:
    with archive(browser, small_site, "?chart=core_rise&point=", width=width) as seen:
        page = seen.page
        for key in ("card", "cooler", "kind", "point", "protocol", "year"):
            page.locator(f"[data-choice={key}] summary").click()
            assert page.evaluate("document.scrollingElement.scrollWidth") <= width, key
            box = page.locator(f"[data-choice={key}] fieldset").bounding_box()
            assert box
            assert box["x"] >= 0
            assert box["x"] + box["width"] <= width


def test_without_scripts_every_row_is_there_and_plain_pages_lead_on(browser: Browser, small_site: Path) -> None:
    with opened(browser, script=False) as seen:
        page = seen.page
        page.goto(f"{small_site.as_uri()}/archive.html")
        assert page.locator(f"{ROWS}:visible").count() == 27
        assert not page.locator("main form").is_visible()
        page.wait_for_load_state("networkidle")
        page.get_by_role("link", name="2025").click()
        page.wait_for_load_state("networkidle")
        assert page.locator("h1").inner_text() == "Results of 2025"
        assert page.locator("tbody tr").count() == 4
        page.go_back(wait_until="networkidle")
        for name, heading in (("card", "Cards"), ("cooler", "Coolers")):
            page.locator("main").get_by_role("link", name=name, exact=True).click()
            assert page.locator("h1").inner_text() == heading
            page.wait_for_load_state("networkidle")
            page.go_back(wait_until="networkidle")
        assert seen.complaints == []


@pytest.mark.parametrize(("scheme", "width"), [("light", 1280), ("dark", 360)])
def test_axe_finds_nothing_with_a_list_and_the_chart_open(
    browser: Browser, small_site: Path, scheme: Scheme, width: int
) -> None:
    # Source: WCAG 2.2 level AA, through the rules of axe-core that carry its tags.
    with inspected(browser, scheme=scheme, width=width) as page:
        go(page, small_site, "?chart=core_rise&point=&card=zork&sort=core_rise")
        page.locator("[data-tick]").first.click()
        page.locator("[data-choice=cooler] summary").click()
        assert violations(page) == []
        page.keyboard.press("Escape")
        page.fill("#filter-q", "nothing of the kind")
        assert violations(page) == []
        page.goto(f"{small_site.as_uri()}/years/2026.html")
        assert violations(page) == []
