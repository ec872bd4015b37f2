"""Markdown comes out as safe HTML."""

from __future__ import annotations

import pytest

from builder.archive.catalogue import CoolerKind
from builder.archive.safety_cautions import cautions_for, cautions_from
from builder.pages.markdown import render_markdown, safe_link


def test_raw_html_comes_out_as_text() -> None:
    assert "<script>" not in render_markdown("<script>alert(1)</script>").html
    assert "&lt;script&gt;" in render_markdown("a <script>alert(1)</script>").html


@pytest.mark.parametrize(
    "url",
    [
        "javascript:alert(1)",
        "JaVaScRiPt:alert(1)",
        " javascript:alert(1)",
        "data:text/html,x",
        "vbscript:x",
        "file:///etc/passwd",
        "mailto:a@example.org",
        "//example.org/x",
        "/etc/passwd",
        "../../secret.html",
        "cards/../../x.html",
    ],
)
def test_links_out_of_the_rules_stay_text(url: str) -> None:
    assert not safe_link(url)
    assert "<a " not in render_markdown(f"[x](<{url}>)").html


@pytest.mark.parametrize(
    "url", ["https://example.org/a?b=1#c", "http://example.org", "cards/a.html", "#stock", "a.html#b"]
)
def test_links_inside_the_rules_are_kept(url: str) -> None:
    assert safe_link(url)
    assert "<a " in render_markdown(f"[x]({url})").html


def test_relative_links_start_at_the_root_of_the_site() -> None:
    html = render_markdown("[a](cards/a.html) [b](#b) [c](https://example.org/c)", root="../").html
    assert 'href="../cards/a.html"' in html
    assert 'href="#b"' in html
    assert 'href="https://example.org/c"' in html


def test_the_first_heading_becomes_the_title() -> None:
    page = render_markdown("# A *page*\n\n## Part\n\nText")
    assert page.title == "A page"
    assert "<h1" not in page.html
    assert [(h.level, h.anchor, h.text) for h in page.headings] == [(2, "part", "Part")]


def test_headings_of_a_fragment_are_lowered_and_their_anchors_prefixed() -> None:
    notes = render_markdown("# First\n\n###### Deep", shift=2, prefix="notes-")
    assert notes.title == ""
    assert '<h3 id="notes-first">First</h3>' in notes.html
    assert '<h6 id="notes-deep">Deep</h6>' in notes.html


def test_headings_of_the_same_text_have_different_anchors() -> None:
    assert [h.anchor for h in render_markdown("## A\n\n## A\n\n## A").headings] == ["a", "a-2", "a-3"]


def test_headings_in_other_scripts_have_anchors() -> None:
    assert render_markdown("## مبرد 2").headings[0].anchor == "مبرد-2"
    assert render_markdown("## ?!").headings[0].anchor == "section"


def test_tables_scroll_by_themselves_and_carry_no_style() -> None:
    html = render_markdown("| a | b |\n|---|--:|\n| 1 | 2 |").html
    assert 'class="scroll" role="region" aria-label="Table 1" tabindex="0"' in html
    assert '<th class="n" scope="col">b</th>' in html
    assert "style" not in html


def test_a_number_stays_on_the_line_of_its_unit() -> None:
    html = render_markdown("At 23 °C and 80 % of 285 W, **1 K** for 5 Watts.\n\n    code 5 %").html
    assert "23\u00a0°C and 80\u00a0% of 285\u00a0W, <strong>1\u00a0K</strong> for 5 Watts." in html
    assert "code 5 %" in html


def test_pictures_come_out_as_links_or_text() -> None:
    assert "<img" not in render_markdown("![x](https://example.org/x.png)").html


def test_an_empty_text_makes_an_empty_fragment() -> None:
    assert not render_markdown("  \n")
    assert render_markdown("x")


RAW = [
    {"id": "a", "short": "Do a.", "why": "A.", "where": ["result page"], "kinds": ["air", "water block"]},
    {"id": "b", "short": "Do b.", "why": "B.", "where": ["sheet step"], "kinds": ["air"], "step": "mount"},
]


def test_cautions_are_those_of_the_place_and_the_kind() -> None:
    cautions = cautions_from(RAW)
    assert [c.id for c in cautions_for(cautions, "result page", CoolerKind.AIR)] == ["a"]
    assert [c.id for c in cautions_for(cautions, "sheet step", CoolerKind.AIR)] == ["b"]
    assert cautions_for(cautions, "result page", CoolerKind.HYBRID) == ()


def test_a_caution_without_a_reason_is_refused() -> None:
    with pytest.raises(KeyError, match="why"):
        cautions_from([{k: v for k, v in RAW[0].items() if k != "why"}])
