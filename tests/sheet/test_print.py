"""The run sheet on paper: Chromium prints it, and no row is cut by the end of a page."""

from __future__ import annotations

import datetime as dt
import functools
import shutil
import unicodedata
from io import BytesIO
from pathlib import Path

import pypdf
import pytest
from playwright.sync_api import Browser

from builder.archive.bundle import Pad
from builder.commands.sheet import SessionRequest, prepare_session
from tests.support.command import DEMO

ROWS = "tr, li, .facts > div, .workloads > div, h2, footer"
COOLERS = ("moorhen-riffle", "gritstone-twin", "lapwing-loop", "orrery-780-stock")


@pytest.fixture(scope="module")
def archive(tmp_path_factory: pytest.TempPathFactory) -> Path:
    root = tmp_path_factory.mktemp("print") / "archive"
    shutil.copytree(DEMO, root, ignore=shutil.ignore_patterns("public", ".*", "simulator", "ledger.json"))
    return root


@functools.cache
def sheet(archive: Path, cooler: str, start: dt.time | None = dt.time(10, 30), pads: tuple[Pad, ...] = ()) -> str:
    wanted = SessionRequest(
        card="orrery-780",
        cooler=cooler,
        protocol="soak-10",
        tested=dt.date(2026, 12, 1),
        start=start,
        mounts=3,
        pads=pads,
    )
    done = prepare_session(archive, wanted)
    text = done.sheet.read_text(encoding="utf-8")
    shutil.rmtree(done.sheet.parent)
    return text


def squeezed(text: str) -> str:
    """A text without spaces and ligatures, which printing adds and takes away."""
    return "".join(unicodedata.normalize("NFKC", text).split())


def pages(browser: Browser, text: str, paper: str) -> tuple[list[str], list[str]]:
    """The text of each printed page, and that of each row of the document."""
    page = browser.new_page()
    page.set_content(text)
    rows = [squeezed(row) for row in page.locator(ROWS).all_text_contents()]
    printed = pypdf.PdfReader(BytesIO(page.pdf(format=paper)))
    page.close()
    return [squeezed(p.extract_text()) for p in printed.pages], [row for row in rows if row]


@pytest.mark.parametrize("paper", ["A4", "Letter"])
@pytest.mark.parametrize("cooler", COOLERS)
def test_every_row_stands_whole_on_one_page(archive: Path, browser: Browser, paper: str, cooler: str) -> None:
    printed, rows = pages(browser, sheet(archive, cooler), paper)
    assert 3 <= len(printed) <= 9
    assert len(rows) > 50
    assert [row for row in rows if not any(row in page for page in printed)] == []


def test_a_row_that_is_cut_is_found(archive: Path, browser: Browser) -> None:
    careless = sheet(archive, "moorhen-riffle").replace("break-inside: avoid", "break-inside: auto")
    printed, rows = pages(browser, careless, "A4")
    assert [row for row in rows if not any(row in page for page in printed)] != []


def test_a_table_that_goes_on_repeats_its_head(archive: Path, browser: Browser) -> None:
    printed, _ = pages(browser, sheet(archive, "moorhen-riffle"), "A4")
    head = squeezed("Test point and settings")
    assert all(head in page for page in printed if ".csv" in page)


PADS = tuple(Pad(where=f"power stages {n}", thickness_mm=2.0, gap_mm=1.0) for n in range(6))


@pytest.mark.parametrize("paper", ["A4", "Letter"])
def test_the_table_of_gaps_is_never_parted_from_its_head(archive: Path, browser: Browser, paper: str) -> None:
    for count in range(len(PADS)):
        printed, _ = pages(browser, sheet(archive, "moorhen-riffle", pads=PADS[:count]), paper)
        holding = [page for page in printed if squeezed("Gaps that a pad fills") in page]
        assert len(holding) == 1
        assert squeezed("2.10 to 2.70 mm") in holding[0]


def test_no_word_is_wider_than_its_column_and_times_past_midnight_take_two_lines(
    archive: Path, browser: Browser
) -> None:
    page = browser.new_page(viewport={"width": 703, "height": 1000})
    page.emulate_media(media="print")
    page.set_content(sheet(archive, "moorhen-riffle", start=dt.time(23, 30), pads=PADS))
    wide = page.evaluate("[...document.querySelectorAll('th, td')].filter((c) => c.scrollWidth > c.clientWidth).length")
    assert wide == 0
    lines = """(cells) => [...document.querySelectorAll(cells)].map((cell) => {
      const range = document.createRange()
      range.selectNodeContents(cell)
      return new Set([...range.getClientRects()].map((box) => Math.round(box.top))).size
    })"""
    assert max(page.evaluate(lines, ".runs .ends")) == 2
    assert max(page.evaluate(lines, ".pads tbody th")) == 1
    page.close()


@pytest.mark.parametrize("paper", ["A4", "Letter"])
def test_nothing_runs_over_the_edge_of_the_paper(archive: Path, browser: Browser, paper: str) -> None:
    page = browser.new_page(viewport={"width": 703 if paper == "A4" else 725, "height": 1000})
    page.emulate_media(media="print")
    page.set_content(sheet(archive, "moorhen-riffle"))
    # The paper's width less margins of 12 mm, at 96 px to the inch: 186 mm is 703 px, 191.9 mm is 725 px.
    assert page.evaluate("document.documentElement.scrollWidth <= document.documentElement.clientWidth")
    page.close()
