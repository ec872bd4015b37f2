"""The side by side page and the ticked rows that lead to it, as readers use them."""

from __future__ import annotations

import gzip
import shutil
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path
from urllib.parse import parse_qs, urlsplit

import pytest
from playwright.sync_api import Browser, Page, expect

from tests.support.axe import inspected, violations
from tests.support.browser import Scheme, Visit, opened, served, tab_until
from tests.support.site_data import ARABIC

TWO = "?r=slab-on-780&r=riffle-on-780&point=stock"
TIE = "Too close to call: 0.4 ± 0.6 K."
HOSTILE = '<img src=x onerror="alert(1)">'


def plain(text: str) -> str:
    return " ".join(text.replace("\xa0", " ").replace("±", " ± ").split())


def said(page: Page) -> list[str]:
    return [plain(text) for text in page.locator("[data-said] p").all_inner_texts()]


def verdict(page: Page) -> list[str]:
    return [plain(text) for text in page.locator("section[aria-labelledby=verdict] li").all_inner_texts()]


def query(page: Page) -> dict[str, list[str]]:
    return parse_qs(urlsplit(page.url).query)


@contextmanager
def compared(browser: Browser, folder: Path, address: str = "", *, width: int = 1280) -> Iterator[Visit]:
    """The page from a disk with an address, once it has answered, in nobody's bad books at the end."""
    with opened(browser, width=width) as seen:
        go(seen.page, folder, address)
        yield seen
        assert seen.complaints == []


def go(page: Page, folder: Path, address: str) -> None:
    page.goto(f"{folder.as_uri()}/compare.html{address}")
    page.wait_for_selector("[data-said] p, [data-answer] > *")


# --- choosing ----------------------------------------------------------------------------------------------------


def test_an_address_opens_the_comparison_that_it_names_from_a_disk(browser: Browser, small_site: Path) -> None:
    with compared(browser, small_site, TWO) as seen:
        assert verdict(seen.page)[0] == TIE
        assert said(seen.page) == []
        heads = seen.page.locator("#sides thead a").all_inner_texts()
        assert heads == ["Fenwick Slab", "Moorhen Riffle"]


def test_it_works_under_a_sub_path_of_a_server_too(browser: Browser, small_site: Path, tmp_path: Path) -> None:
    (tmp_path / "sub path").symlink_to(small_site, target_is_directory=True)
    (tmp_path / "favicon.ico").touch()  # browsers ask the root of a server for it
    with served(tmp_path) as base, opened(browser) as seen:
        seen.page.goto(f"{base}sub%20path/compare.html{TWO}")
        expect(seen.page.locator("#sides")).to_be_visible()
        assert verdict(seen.page)[0] == TIE
        assert seen.complaints == []


def test_results_are_chosen_by_keyboard_and_the_address_follows(browser: Browser, small_site: Path) -> None:
    with compared(browser, small_site) as seen:
        page = seen.page
        assert said(page) == ["Choose two to four results."]
        assert tab_until(page, "#side-1")
        page.keyboard.type("Fenwick Slab, 18")
        expect(page.locator("[data-said]")).to_contain_text(
            "Choose a second result to compare Fenwick Slab, 18 Apr 2026"
        )
        page.keyboard.press("Tab")
        page.keyboard.type("Moor")
        expect(page.locator("#sides thead a")).to_have_count(2)
        assert query(page) == {"r": ["slab-on-780", "riffle-on-780"], "point": ["stock"]}
        assert page.evaluate("document.activeElement.id") == "side-2"


def test_the_test_point_can_be_changed(browser: Browser, small_site: Path) -> None:
    with compared(browser, small_site, TWO) as seen:
        seen.page.select_option("#side-point", label="Undervolt")
        expect(seen.page.locator("#figures")).to_have_text("Every figure at Undervolt")
        assert query(seen.page)["point"] == ["undervolt"]


def test_another_result_can_be_put_first_and_differences_count_from_it(browser: Browser, small_site: Path) -> None:
    first_row = "#sides tbody tr:first-child td:last-child .apart"
    with compared(browser, small_site, TWO) as seen:
        page = seen.page
        assert plain(page.inner_text(first_row)) == "+0.4 ± 0.6 too close to call"
        page.get_by_role("button", name="Put first Moorhen Riffle").click()
        expect(page.locator("#sides thead a").first).to_have_text("Moorhen Riffle")
        assert plain(page.inner_text(first_row)) == "−0.4 ± 0.6 too close to call"
        assert query(page)["r"] == ["riffle-on-780", "slab-on-780"]
        assert page.evaluate("document.activeElement.id") == "side-1"
        assert verdict(page)[0] == TIE


def test_the_link_to_the_comparison_opens_it_again(browser: Browser, small_site: Path) -> None:
    with compared(browser, small_site) as seen:
        seen.page.select_option("#side-1", "slab-on-780")
        seen.page.select_option("#side-2", "stock-on-780")
        link = seen.page.get_by_role("link", name="The address of this comparison")
        link.click()
        seen.page.wait_for_load_state()
        expect(seen.page.locator("#sides thead a")).to_have_count(2)
        assert query(seen.page) == {"r": ["slab-on-780", "stock-on-780"], "point": ["stock"]}


def test_fahrenheit_reaches_figures_differences_and_sentences(browser: Browser, small_site: Path) -> None:
    with compared(browser, small_site, TWO) as seen:
        page = seen.page
        page.get_by_role("button", name="°F").click()
        assert verdict(page)[0] == "Too close to call: 0.7 ± 1.0 °F."
        page.select_option("#side-3", "stock-on-780")
        expect(page.locator("#sides thead a")).to_have_count(3)
        core = "#sides tbody tr:first-child td"
        assert [plain(t).split(" ±")[0] for t in page.locator(core).all_inner_texts()] == ["56.2", "56.9", "86.0"]
        page.get_by_role("button", name="°F").click()
        assert [plain(t).split(" ±")[0] for t in page.locator(core).all_inner_texts()] == ["31.2", "31.6", "47.8"]


# --- what is said ------------------------------------------------------------------------------------------------


def test_a_winner_is_named_and_a_faster_one_is_faster(browser: Browser, rules_site: Path) -> None:
    with compared(browser, rules_site, "?r=loud&r=quiet") as seen:
        lines = verdict(seen.page)
        assert lines[0].startswith("loud is 5.0 ± ")
        assert lines[0].endswith(" K cooler than quiet.")
        assert any(line.endswith("dB(A) quieter than loud.") for line in lines)
        assert any(line.endswith("fps faster than loud.") for line in lines)


def test_four_results_have_a_verdict_for_each_of_six_pairs(browser: Browser, rules_site: Path) -> None:
    with compared(browser, rules_site, "?r=loud&r=quiet&r=near-1&r=near-2") as seen:
        core = seen.page.locator("section[aria-labelledby=verdict] ul.verdict li")
        expect(core).to_have_count(6)
        assert any("Too close to call" in text for text in core.all_inner_texts())


def test_results_that_do_not_compare_are_shown_with_every_reason(browser: Browser, rules_site: Path) -> None:
    with compared(browser, rules_site, "?r=slow&r=far&r=warm") as seen:
        text = plain(seen.page.inner_text("section[aria-labelledby=verdict]"))
        assert "They were tested on different cards, Orrery-780 and Tarn-X9." in text
        assert "slow: the run at Stock was still drifting when it ended." in text
        assert "was outside the 18 to 28 °C that the protocol allows." in text
        assert seen.page.locator("#sides .apart").count() == 0
        assert len(seen.page.locator("#sides tbody tr:first-child td .v").all()) == 3


def test_test_points_that_are_not_equivalent_compare_by_psi(browser: Browser, rules_site: Path) -> None:
    with compared(browser, rules_site, "?r=blade&r=brook&point=power-80") as seen:
        section = plain(seen.page.inner_text("section[aria-labelledby=by-psi]"))
        assert "Their test points are not declared equivalent: Power 80 by soak-10 and Power 80 by brief-5." in section
        assert "K/W lower than blade." in section


def test_a_test_point_that_one_result_lacks_is_said(browser: Browser, small_site: Path) -> None:
    with compared(browser, small_site, "?r=slab-on-780&r=twin-on-780&point=stock") as seen:
        assert "Gritstone Twin was not run at Stock." in plain(seen.page.inner_text("[data-answer]"))
    with compared(browser, small_site, "?r=slab-on-780&r=fold-on-740&point=power-80") as seen:
        text = plain(seen.page.inner_text("[data-answer]"))
        assert "9 Mar 2025 was not run at Power limit 80 %." in text
        assert seen.page.locator("#sides tbody tr").count() > 5


def test_names_that_look_like_markup_or_places_to_fill_are_text(browser: Browser, odd_site: Path) -> None:
    with compared(browser, odd_site, "?r=x&r=y&r=z") as seen:
        lines = verdict(seen.page)
        assert lines[0].startswith("{b} {d} is 4.0 ± ")
        assert lines[0].endswith(f" K cooler than {HOSTILE}.")
        assert seen.page.locator("[data-answer] img").count() == 0
        assert [bdi for bdi in seen.page.locator("#sides thead bdi").all_inner_texts() if "🔥" in bdi]


# --- bad input ---------------------------------------------------------------------------------------------------

BAD = {
    "unknown": ("?r=zork&r=slab-on-780", "There is no result “zork” here."),
    "markup": ("?r=%3Cb%3E&r=slab-on-780", "There is no result “<b>” here."),
    "quotes": ("?r=%22%27&r=slab-on-780", "There is no result “\"'” here."),
    "one only": (
        "?r=slab-on-780",
        "Choose a second result to compare Fenwick Slab, 18 Apr 2026 (Orrery 780) with.",
    ),
    "twice": (f"{TWO}&r=slab-on-780", "Fenwick Slab, 18 Apr 2026 (Orrery 780): named twice, and shown once."),
    "twice alone": ("?r=slab-on-780&r=slab-on-780", "Choose a second result to compare Fenwick Slab, 18 Apr 2026"),
    "too many": (
        f"{TWO}&r=stock-on-780&r=lantern-on-780&r=twin-on-780",
        "Four results at most. Left out: Gritstone Twin, 5 Dec 2025 (Orrery 780).",
    ),
    "unknown point": (
        TWO.replace("point=stock", "point=zork"),
        "There is no test point “zork” on this card: Stock is shown.",
    ),
    "way out": (
        TWO.replace("point=stock", "point=../../x"),
        "There is no test point “../../x” on this card: Stock is shown.",
    ),
    "garbage": ("?%E0%A4%A&&&r=%00%FF&=;r", "There is no result"),
    "prototype": ("?r=__proto__&r=constructor", "There are no results “__proto__” and “constructor” here."),
    "nothing": ("?r=&point=", "Choose two to four results."),
}


@pytest.mark.parametrize(("address", "sentence"), BAD.values(), ids=BAD.keys())
def test_a_bad_address_gets_a_sentence_and_the_page(
    browser: Browser, small_site: Path, address: str, sentence: str
) -> None:
    with compared(browser, small_site, address) as seen:
        assert any(line.startswith(sentence) for line in said(seen.page)), said(seen.page)
        assert seen.page.locator("h1").is_visible()
        assert seen.page.locator("main form").is_visible()


DATA = "compare/orrery-780/stock.js"
SPOILT = {
    "cut off": lambda text: text[: len(text) // 2],
    "empty": lambda _: "",
    "something else": lambda _: "globalThis.SoakbookPairs = 5;",
    "null": lambda _: '(globalThis.SoakbookPairs ??= new Map()).set("orrery-780/stock", null);',
    "other numbers": lambda text: text.replace('"31.2 ', '"NaN '),
    "not text": lambda _: "\x00\xff garbage <!doctype html>",
    "another format": lambda text: text.replace('"format":2', '"format":1'),
    "a result less": lambda text: text.replace('"id":"slab-on-780"', '"id":"else-on-780"'),
}


@pytest.mark.parametrize("spoil", SPOILT.values(), ids=SPOILT.keys())
def test_a_spoilt_data_file_gets_a_sentence(browser: Browser, small_site: Path, tmp_path: Path, spoil: object) -> None:
    assert callable(spoil)
    folder = Path(shutil.copytree(small_site, tmp_path / "site"))
    text = (folder / DATA).read_text(encoding="utf-8")
    assert spoil(text) != text
    (folder / DATA).write_text(spoil(text), encoding="utf-8")
    with opened(browser) as seen:
        go(seen.page, folder, TWO)
        assert said(seen.page)[-1].startswith("The figures of Orrery 780 at this test point could not be read.")
        assert seen.page.locator("main form").is_visible()
        assert seen.page.locator("[data-answer] > *").count() == 0


def test_a_missing_data_file_gets_a_sentence_and_another_choice_still_works(
    browser: Browser, small_site: Path, tmp_path: Path
) -> None:
    folder = Path(shutil.copytree(small_site, tmp_path / "site"))
    (folder / DATA).unlink()
    with opened(browser) as seen:
        go(seen.page, folder, TWO)
        assert said(seen.page)[-1].startswith("The figures of Orrery 780 at this test point could not be read.")
        seen.page.select_option("#side-point", "undervolt")
        expect(seen.page.locator("#sides")).to_be_visible()
        assert said(seen.page) == []


# --- without scripts, on a phone, for everybody ------------------------------------------------------------------


def test_without_scripts_the_page_says_how_and_leads_to_every_figure_of_ready_pairs(
    browser: Browser, small_site: Path
) -> None:
    with opened(browser, script=False) as seen:
        page = seen.page
        page.goto(f"{small_site.as_uri()}/compare.html")
        assert page.get_by_text("Choosing needs scripts.").is_visible()
        assert not page.locator("main form").is_visible()
        page.get_by_role("link", name="Fenwick Slab and Moorhen Riffle").click()
        assert page.url.endswith("compare/orrery-780.html#stock-slab-on-780-and-riffle-on-780")
        section = page.locator("section", has=page.locator("#stock-slab-on-780-and-riffle-on-780"))
        assert TIE in plain(section.inner_text())
        assert section.locator("tbody tr").count() > 10
        assert seen.complaints == []


@pytest.mark.parametrize("width", [320, 360, 768])
def test_four_results_fit_a_phone_and_the_table_scrolls_by_itself(
    browser: Browser, small_site: Path, width: int
) -> None:
    four = f"{TWO}&r=stock-on-780&r=fold-on-740"
    with compared(browser, small_site, four, width=width) as seen:
        assert seen.page.evaluate("document.scrollingElement.scrollWidth") <= width
        region = seen.page.locator(".scroll", has=seen.page.locator("#sides"))
        assert region.get_attribute("tabindex") == "0"
        assert region.evaluate("(e) => e.scrollWidth > e.clientWidth") is True


@pytest.mark.parametrize(("scheme", "width"), [("light", 1280), ("dark", 360)])
def test_axe_finds_nothing_on_a_comparison(browser: Browser, rules_site: Path, scheme: Scheme, width: int) -> None:
    # Source: WCAG 2.2 level AA, through the rules of axe-core that carry its tags.
    with inspected(browser, scheme=scheme, width=width) as page:
        for address in ("?r=blade&r=brook&r=slow&r=far&r=zork&point=power-80", "?r=loud&r=quiet&r=bound&r=near-1", ""):
            go(page, rules_site, address)
            assert violations(page) == []
        page.goto(f"{rules_site.as_uri()}/compare/orrery-780.html")
        assert violations(page) == []


def test_the_page_and_what_it_loads_stay_light(browser: Browser, small_site: Path) -> None:
    # 60 kB compressed; common practice, no source: less than half a second over a slow mobile line.
    with compared(browser, small_site, f"{TWO}&r=fold-on-740") as seen:
        files = {Path(urlsplit(r).path.replace("%20", " ")) for r in seen.requests}
        assert small_site / DATA in files
        assert sum(len(gzip.compress(file.read_bytes(), mtime=0)) for file in files) < 60_000


# --- ticked rows -------------------------------------------------------------------------------------------------


def box(page: Page, table: str, name: str) -> None:
    page.locator(f"#{table}").get_by_role("checkbox", name=name).first.click()


@dataclass(frozen=True, kw_only=True)
class Ticking:
    """Two rows of a table on a page, and the results that they are."""

    path: str
    table: str
    names: tuple[str, str]
    ids: list[str]


TABLES = (
    Ticking(
        path="archive.html",
        table="archive",
        names=("Fenwick Slab on Orrery 780", "Moorhen Riffle"),
        ids=["slab-on-780", "riffle-on-780"],
    ),
    Ticking(
        path="cards/orrery-780.html",
        table="table-at-a-short-stock",
        names=("Fenwick", "Orrery"),
        ids=["slab-on-780", "stock-on-780"],
    ),
    Ticking(
        path="cards/orrery-780.html",
        table="results",
        names=("Fenwick", "Moorhen"),
        ids=["slab-on-780", "riffle-on-780"],
    ),
    Ticking(
        path="coolers/slab.html",
        table="results",
        names=("Slab on Orrery 780", "Slab on Orrery 740"),
        ids=["slab-on-780", "slab-on-740"],
    ),
    Ticking(
        path="years/2025.html",
        table="results",
        names=("Orrery 780 stock", "Slab on Orrery 740"),
        ids=["stock-on-780", "slab-on-740"],
    ),
)


@pytest.mark.parametrize("ticking", TABLES, ids=lambda t: f"{t.path}#{t.table}")
def test_ticked_rows_of_every_table_of_results_are_put_side_by_side(
    browser: Browser, small_site: Path, ticking: Ticking
) -> None:
    with opened(browser) as seen:
        page = seen.page
        page.goto(f"{small_site.as_uri()}/{ticking.path}")
        box(page, ticking.table, ticking.names[0])
        assert page.get_by_text("Tick a second result to compare it with.").is_visible()
        assert not page.get_by_role("link", name="Compare ticked").is_visible()
        box(page, ticking.table, ticking.names[1])
        page.get_by_role("link", name="Compare ticked").click()
        expect(page.locator("#sides thead a")).to_have_count(2)
        assert query(page) == {"r": ticking.ids, "point": ["stock"]}
        assert seen.complaints == []


def test_rows_are_ticked_by_the_space_bar_and_compared_by_enter(browser: Browser, small_site: Path) -> None:
    with opened(browser) as seen:
        page = seen.page
        page.goto(f"{small_site.as_uri()}/cards/orrery-780.html")
        assert tab_until(page, "[data-tick]")
        page.keyboard.press("Space")
        page.keyboard.press("Enter")
        assert "compare.html" not in page.url  # one is not enough
        page.keyboard.press("Tab")
        assert tab_until(page, "[data-tick]")
        page.keyboard.press("Space")
        page.keyboard.press("Enter")
        expect(page.locator("#sides thead a")).to_have_count(2)


def test_the_same_row_in_another_table_is_ticked_with_it(browser: Browser, small_site: Path) -> None:
    with opened(browser) as seen:
        page = seen.page
        page.goto(f"{small_site.as_uri()}/cards/orrery-780.html")
        box(page, "results", "Fenwick Slab")
        assert page.locator("tr[data-r=slab-on-780][data-point=stock] [data-tick]:checked").count() == 4
        page.get_by_role("button", name="Untick all").click()
        assert page.locator("[data-tick]:checked").count() == 0
        assert not page.get_by_role("button", name="Untick all").is_visible()


def test_a_fifth_tick_is_refused_in_words(browser: Browser, small_site: Path) -> None:
    with opened(browser) as seen:
        page = seen.page
        page.goto(f"{small_site.as_uri()}/archive.html")
        for row in range(5):
            page.locator("#archive tr:not([hidden]) [data-tick]").nth(row).click()
        assert page.get_by_text("Four at most: untick one first.").is_visible()
        assert page.locator("[data-tick]:checked").count() == 4
        assert ARABIC in page.inner_text(".ticked")


def test_the_bar_does_not_cover_what_the_keyboard_reaches(browser: Browser, small_site: Path) -> None:
    # Source: WCAG 2.2, 2.4.11 focus not obscured (minimum).
    with opened(browser, width=360) as seen:
        page = seen.page
        page.goto(f"{small_site.as_uri()}/archive.html?point=")
        page.locator("[data-tick]").nth(0).click()
        page.locator("[data-tick]").nth(1).click()
        for _ in range(30):
            page.keyboard.press("Tab")
            hidden = page.evaluate(
                "() => { const f = document.activeElement.getBoundingClientRect();"
                " const b = document.querySelector('.ticked').getBoundingClientRect();"
                " return !document.activeElement.closest('.ticked') && f.top >= b.top && f.bottom <= b.bottom; }"
            )
            assert not hidden, page.evaluate("document.activeElement.outerHTML.slice(0, 90)")


def test_without_scripts_no_row_has_a_box(browser: Browser, small_site: Path) -> None:
    with opened(browser, script=False) as seen:
        for path in ("archive.html", "cards/orrery-780.html", "coolers/slab.html"):
            seen.page.goto(f"{small_site.as_uri()}/{path}")
            assert seen.page.locator("table input").count() == 0
