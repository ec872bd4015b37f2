"""Pages of the small archive with everything that programs and other sites read of them."""

from __future__ import annotations

from functools import cache
from pathlib import Path

import pytest
from playwright.sync_api import Browser

from builder.archive.bundle import PhotoFile
from builder.archive.catalogue import Catalogue
from builder.pages import SiteInput, SitePlan, site_plan
from builder.pages.photo_sizes import Photo
from builder.site.exports import Exports
from builder.site.theme import open_theme, renderer
from builder.site.write_site import downloads, extras, page_lists
from tests.support.browser import served, visit
from tests.support.exports import exports_of, logged_results, small_exports, with_archive
from tests.support.pages import Document, read_page
from tests.support.small_site import named_picture

THEMES = Path(__file__).resolve().parents[2] / "themes"
RENDERER = renderer(open_theme(THEMES, "notebook"))
PAGE = "results/slab-on-780.html"
BASE = "https://lantern.example/coolers/"
PHOTOS = {
    "paste.jpg": Photo(address="photos/slab-on-780/paste", width=2000, height=1500),
    "tube.png": Photo(address="photos/slab-on-780/tube", width=300, height=900),
}


def plan_of(catalogue: Catalogue, exports: Exports) -> SitePlan:
    return site_plan(
        SiteInput(
            catalogue=catalogue,
            draw=named_picture,
            results=logged_results(),
            notes={"slab-on-780": 'Before.\n\n![Tube "in" <left>](tube.png)\n\n![gone](gone.png)'},
            downloads={b: downloads(exports.entries[b]) for b in logged_results()},
            extras=extras(exports),
            photos={"slab-on-780": PHOTOS},
        )
    )


@cache
def plan() -> SitePlan:
    return plan_of(with_photo(with_archive()), small_exports())


def with_photo(catalogue: Catalogue) -> Catalogue:
    bundle = catalogue.bundles["slab-on-780"]
    photo = PhotoFile(file="paste.jpg", alt="Paste as a cross", caption="Before <b>the</b> first mount")
    bundles = {**catalogue.bundles, "slab-on-780": bundle.model_copy(update={"photos": (photo,)})}
    return catalogue.model_copy(update={"bundles": bundles})


def html(path: str, made: SitePlan | None = None) -> str:
    page = (made or plan()).pages.get(path)
    assert page is not None
    return RENDERER.page(made or plan(), page).decode()


def document(path: str, made: SitePlan | None = None) -> Document:
    return read_page(html(path, made), path)


def meta(page: Document) -> dict[str, str]:
    tags = (e.attributes for e in page.every("meta"))
    return {a["property"]: a["content"] for a in tags if "property" in a}


def test_a_link_to_a_result_can_be_shown_with_its_picture() -> None:
    # Source: the Open Graph protocol (value from memory): title, type, image and url, each a meta of its own.
    told = meta(document(PAGE))
    assert told["og:title"] == "Fenwick Slab on Orrery 780"
    assert told["og:type"] == "article"
    assert told["og:url"] == BASE + PAGE
    assert told["og:image"] == f"{BASE}previews/slab-on-780.png"
    assert (told["og:image:width"], told["og:image:height"]) == ("1200", "630")
    finding = "Fenwick Slab on Orrery 780 keeps the core 31 degrees above the room."
    assert told["og:image:alt"].startswith(f"{finding} Core over ambient 31.2")


def test_a_page_without_a_picture_promises_none() -> None:
    assert not [name for name in meta(document("cards/orrery-780.html")) if name.startswith("og:image")]


def test_without_base_url_a_page_promises_no_address_and_no_feed() -> None:
    catalogue = with_archive(base_url=None)
    page = document(PAGE, plan_of(catalogue, exports_of(catalogue)))
    assert set(meta(page)) == {"og:type", "og:site_name", "og:title", "og:description"}
    assert page.every("link", rel="alternate") == []


@pytest.mark.parametrize(
    ("path", "address"), [("index.html", "feed.xml"), (PAGE, "../feed.xml"), ("404.html", f"{BASE}feed.xml")]
)
def test_every_page_leads_to_the_feed(path: str, address: str) -> None:
    (link,) = document(path).every("link", rel="alternate")
    assert (link.attributes["type"], link.attributes["href"]) == ("application/atom+xml", address)


def test_linked_data_stands_in_its_page_as_it_was_made() -> None:
    for path in (PAGE, "data.html"):
        assert document(path).data_blocks.count(small_exports().linked[path]) == 1


def test_a_result_offers_its_files_with_their_sizes() -> None:
    links = [e.attributes["href"] for e in document(PAGE).every("a") if "download" in e.attributes]
    assert links[:2] == ["../data/slab-on-780.csv", "../data/slab-on-780.json"]
    assert "../data/logs/slab-on-780/m2-stock.csv" in links
    assert {link.removeprefix("../") for link in links} <= set(small_exports().files)


def test_the_data_page_leads_to_every_file_of_figures() -> None:
    links = {e.attributes["href"] for e in document("data.html").every("a")}
    figures = {e.href for found in small_exports().entries.values() for e in found if not e.log}
    assert figures <= links
    assert "results/slab-on-780.html#downloads" in links


def test_the_data_page_names_the_licence_where_there_is_one() -> None:
    catalogue = with_archive(licence={"name": "Free to use", "url": "https://licence.example/1"})
    links = [e.attributes["href"] for e in document("data.html", plan_of(catalogue, exports_of(catalogue))).every("a")]
    assert "https://licence.example/1" in links
    assert "Terms of use" not in html("data.html")


def test_photos_load_late_in_the_width_that_their_place_needs() -> None:
    first, second = document(PAGE).every("img")
    assert first.attributes == {
        "class": "photo",
        "src": "../photos/slab-on-780/paste-960.webp",
        "srcset": ", ".join(f"../photos/slab-on-780/paste-{w}.webp {w}w" for w in (480, 960, 1600)),
        "sizes": "(max-width: 60rem) 92vw, 44rem",
        "width": "960",
        "height": "720",
        "alt": "Paste as a cross",
        "loading": "lazy",
        "decoding": "async",
    }
    assert (second.attributes["src"], second.attributes["alt"]) == (
        "../photos/slab-on-780/tube-300.webp",
        'Tube "in" <left>',
    )


def test_words_of_photos_are_escaped_and_a_missing_one_leaves_its_words() -> None:
    assert "Before &lt;b&gt;the&lt;/b&gt; first mount" in html(PAGE)
    assert "<p>gone</p>" in html(PAGE)


def test_the_list_of_pages_holds_what_search_may_show() -> None:
    text = page_lists(with_archive(), logged_results(), plan())["sitemap.xml"].decode()
    assert f"<loc>{BASE}data.html</loc>" in text
    assert "404.html" not in text
    assert "results/slab.html" not in text  # it moved


def refusals(browser: Browser, folder: Path, path: str) -> list[str]:
    """What the browser says of a page's security policy when it opens it."""
    with served(folder) as base, visit(browser.new_context()) as seen:
        seen.page.goto(base + path)
        return [c for c in seen.complaints if "Content Security Policy" in c]


def test_the_policy_lets_linked_data_stand_and_would_refuse_a_script(browser: Browser, tmp_path: Path) -> None:
    # Source: HTML standard, "prepare the script element": a data block ends before the policy is asked.
    text = html("data.html")
    assert "application/ld+json" in text
    (tmp_path / "data.html").write_text(text, encoding="utf-8")
    (tmp_path / "script.html").write_text(text.replace("application/ld+json", "text/javascript"), encoding="utf-8")
    assert refusals(browser, tmp_path, "data.html") == []
    assert refusals(browser, tmp_path, "script.html") != []
