"""Pages as bytes: every page of the small archive, and what themes may and may not do."""

from __future__ import annotations

import re
from functools import cache
from pathlib import Path

import pytest
from jinja2 import UndefinedError
from jinja2.exceptions import SecurityError

from builder.core.errors import SoakbookError
from builder.pages import Page, SiteInput, SitePlan, site_plan
from builder.site.read_words import read_words
from builder.site.theme import open_theme, printable, renderer, static_files
from tests.support.pages import Document, read_page
from tests.support.site_data import ARABIC, HOSTILE, catalogue, results
from tests.support.small_site import named_picture

ROOT = Path(__file__).resolve().parents[2]
THEMES = ROOT / "themes"
PLAN: SitePlan = site_plan(
    SiteInput(
        catalogue=catalogue(),
        draw=named_picture,
        results=results(),
        pages={"methodology": "# How figures are made\n\n## A\n\nText.", "safety": "# Safety\n\nText."},
        notes={"slab-on-780": "# Notes\n\n<b>raw</b>"},
    )
)
RENDERER = renderer(open_theme(THEMES, "notebook"))


@cache
def html_of(path: str) -> str:
    page = PLAN.pages.get(path)
    assert page is not None, path
    return RENDERER.page(PLAN, page).decode()


def document(path: str) -> Document:
    return read_page(html_of(path), path)


EVERY = pytest.mark.parametrize("page", PLAN.pages.values(), ids=list(PLAN.pages))


@EVERY
def test_a_page_has_one_heading_a_policy_and_a_way_past_the_menu(page: Page) -> None:
    shown = document(page.path)
    assert len(shown.every("h1")) == 1
    assert len(shown.every("main")) == 1
    assert len(shown.every("meta", http_equiv="Content-Security-Policy")) == 1
    assert shown.every("a")[0].attributes["href"] == "#content"


@EVERY
def test_a_page_holds_no_style_handler_or_inline_script(page: Page) -> None:
    for element in document(page.path).elements:
        assert "style" not in element.attributes
        assert element.tag != "style"
        assert not [name for name in element.attributes if name.startswith("on")]
        is_data = element.attributes.get("type") in {"application/json", "application/ld+json"}
        from_site = element.attributes.get("src", "").startswith(page.root + "static/js/")
        assert element.tag != "script" or is_data or from_site


@EVERY
def test_a_page_loads_nothing_from_elsewhere(page: Page) -> None:
    for element in document(page.path).elements:
        if "json" in element.attributes.get("type", ""):
            continue
        if element.tag in ("script", "img") or element.attributes.get("rel") == "stylesheet":
            address = element.attributes.get("src") or element.attributes["href"]
            assert address.startswith(page.root + "static/"), address


@EVERY
def test_a_page_shows_no_id_and_no_missing_value(page: Page) -> None:
    text = " ".join(w.text for w in document(page.path).words)
    assert not re.search(r"\b(None|nan|inf|undefined)\b|core_rise|board_power|-on-780(?!\.html)", text)


@EVERY
def test_tables_have_captions_scopes_and_a_container_that_the_keyboard_reaches(page: Page) -> None:
    shown = document(page.path)
    tables = shown.every("table")
    assert len(shown.every("caption")) == len(tables)
    assert all(th.attributes.get("scope") in {"col", "row", "rowgroup"} for th in shown.every("th"))
    regions = [e for e in shown.elements if "scroll" in e.attributes.get("class", "").split()]
    assert len(regions) == len(tables)
    assert all(e.attributes["tabindex"] == "0" and e.attributes["aria-labelledby"] in shown.ids for e in regions)


@EVERY
def test_ids_are_distinct(page: Page) -> None:
    ids = document(page.path).ids
    assert len(set(ids)) == len(ids)


def test_names_that_look_like_markup_are_text() -> None:
    html = html_of("coolers/fold.html")
    assert "<script>alert" not in html
    assert HOSTILE in " ".join(w.text for w in document("coolers/fold.html").words)


def test_names_keep_their_own_direction() -> None:
    assert f"<bdi>{ARABIC}</bdi>" in html_of("results/lantern-on-780.html")


def test_notes_are_markdown_without_raw_html() -> None:
    html = html_of("results/slab-on-780.html")
    assert '<h3 id="notes-notes">Notes</h3>' in html
    assert "&lt;b&gt;raw&lt;/b&gt;" in html


def test_an_empty_cell_says_not_measured_to_those_who_listen() -> None:
    assert '<span class="hidden-text">not measured</span>' in html_of("results/slab-on-780.html")


def test_a_temperature_carries_both_units() -> None:
    html = html_of("results/slab-on-780.html")
    assert '<span class="v" data-f="128.8">53.8</span>' in html
    assert '<span data-f="°F">°C</span>' in html


def test_a_drifting_run_is_marked_in_words() -> None:
    assert '<span class="tag tag-bad">drifting</span>' in html_of("results/lantern-on-780.html")


def test_result_pages_keep_the_order_of_their_sections() -> None:
    heads = re.findall(r'<h2 id="([a-z-]+)"', html_of("results/slab-on-780.html"))
    assert heads == ["know", "corrections", "less-power", "more", "notes", "video"]


def test_result_pages_fold_what_only_some_readers_want() -> None:
    folds = re.findall(r'<details class="fold" id="([a-z-]+)"', html_of("results/slab-on-780.html"))
    assert folds == ["test-points", "every-figure", "from-stock", "uncertainty", "how-at-rest", "every-run",
                     "conditions", "assembly", "method"]  # fmt: skip


def test_every_link_to_a_section_finds_it() -> None:
    for page in PLAN.pages.values():
        shown = document(page.path)
        anchors = [e.attributes["href"][1:] for e in shown.every("a") if e.attributes["href"].startswith("#")]
        assert set(anchors) <= set(shown.ids), page.path


def test_the_same_plan_gives_the_same_bytes() -> None:
    page = PLAN.pages.get("archive.html")
    assert page
    again = renderer(open_theme(THEMES, "notebook"))
    assert again.page(PLAN, page) == RENDERER.page(PLAN, page)


@pytest.mark.parametrize("value", [None, float("nan"), float("inf")])
def test_a_value_that_is_none_is_stopped_before_the_page(value: object) -> None:
    with pytest.raises(ValueError, match="about to print"):
        printable(value)


# --- themes ----------------------------------------------------------------------------------------------------


def own_theme(folder: Path, template: str) -> Path:
    (folder / "templates" / "pages").mkdir(parents=True)
    (folder / "templates" / "pages" / "missing.html").write_text(template, encoding="utf-8")
    return folder


def missing_page() -> Page:
    page = PLAN.pages.get("404.html")
    assert page
    return page


def test_an_archive_replaces_one_template_and_keeps_the_rest(tmp_path: Path) -> None:
    own = own_theme(tmp_path, '{% extends "base.html" %}{% block main %}<h1>Mine</h1>{% endblock %}')
    made = renderer(open_theme(THEMES, "notebook", own)).page(PLAN, missing_page()).decode()
    assert "<h1>Mine</h1>" in made
    assert 'class="masthead"' in made


def test_a_template_of_an_archive_cannot_leave_its_sandbox(tmp_path: Path) -> None:
    own = own_theme(tmp_path, "{{ ''.__class__.__mro__ }}")
    with pytest.raises((SecurityError, UndefinedError)):
        renderer(open_theme(THEMES, "notebook", own)).page(PLAN, missing_page())


def test_an_unknown_name_in_a_template_is_an_error(tmp_path: Path) -> None:
    own = own_theme(tmp_path, "{{ nothing }}")
    with pytest.raises(UndefinedError):
        renderer(open_theme(THEMES, "notebook", own)).page(PLAN, missing_page())


def test_an_unknown_theme_is_refused_with_the_nearest_name() -> None:
    with pytest.raises(SoakbookError) as caught:
        open_theme(THEMES, "notebok")
    assert [p.hint for p in caught.value.problems] == ['did you mean "notebook"?']


def test_static_files_of_an_archive_replace_those_of_the_theme(tmp_path: Path) -> None:
    (tmp_path / "static" / "css").mkdir(parents=True)
    (tmp_path / "static" / "css" / "print.css").write_text("/* mine */", encoding="utf-8")
    files = static_files(open_theme(THEMES, "notebook", tmp_path))
    assert files["static/css/print.css"] == b"/* mine */"
    assert "static/css/tokens.css" in files


def test_a_link_out_of_the_theme_is_not_published(tmp_path: Path) -> None:
    secret = tmp_path / "secret.txt"
    secret.write_text("secret", encoding="utf-8")
    (tmp_path / "own" / "static").mkdir(parents=True)
    (tmp_path / "own" / "static" / "out.txt").symlink_to(secret)
    (tmp_path / "own" / "static" / ".hidden").write_text("x", encoding="utf-8")
    files = static_files(open_theme(THEMES, "notebook", tmp_path / "own"))
    assert "static/out.txt" not in files
    assert "static/.hidden" not in files


# --- words -----------------------------------------------------------------------------------------------------


def test_pages_of_an_archive_replace_those_that_come_with_the_program(tmp_path: Path) -> None:
    (tmp_path / "pages").mkdir()
    (tmp_path / "pages" / "about.md").write_text("# Mine", encoding="utf-8")
    words = read_words(tmp_path, ROOT / "content", [])
    assert words.pages["about"] == "# Mine"
    assert words.pages["safety"].startswith("# Safety")
    assert words.cautions
    assert words.problems == ()


def test_notes_that_are_not_utf_8_are_reported_with_their_line(tmp_path: Path) -> None:
    (tmp_path / "bundles" / "x").mkdir(parents=True)
    (tmp_path / "bundles" / "x" / "notes.md").write_bytes(b"one\ntwo \xff")
    words = read_words(tmp_path, ROOT / "content", ["x"])
    assert [(str(p.where), p.code) for p in words.problems] == [("bundles/x/notes.md:2", "not-utf-8")]


def test_a_page_written_with_a_byte_order_mark_keeps_its_title(tmp_path: Path) -> None:
    (tmp_path / "pages").mkdir()
    (tmp_path / "pages" / "about.md").write_bytes(b"\xef\xbb\xbf# Mine")
    assert read_words(tmp_path, ROOT / "content", []).pages["about"] == "# Mine"


def test_no_page_lists_a_section_that_it_lacks() -> None:
    assert 'href="#uncertainty"' in html_of("results/slab-on-780.html")
    assert 'href="#uncertainty"' not in html_of("results/lantern-on-780.html")
