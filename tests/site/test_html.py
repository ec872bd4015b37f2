"""Every page of the demo, as a file: its HTML, its links and its words."""

from __future__ import annotations

import json
import re
import shutil
import subprocess
from collections import Counter
from collections.abc import Iterator
from itertools import pairwise
from pathlib import Path
from typing import Any

import pytest

from tests.support.browser import served
from tests.support.command import ROOT
from tests.support.pages import Document, Site, is_internal, read_page, target

CHECKER = ROOT / "tests" / "node_modules" / "vnu-jar" / "build" / "dist" / "vnu.jar"
# The checker takes data blocks for scripts. By the HTML standard ("prepare the script element") the policy is not asked
# of them; the test of what the policy forbids finds every inline script that is no data block.
DATA_BLOCK = "Inline script violates Content Security Policy"
LOOPBACK = "-Dnu.validator.servlet.allow-forbidden-hosts=true"  # the checker refuses local addresses otherwise

# What a page shows when a value is missing, not a number, or was never filled in.
LEAKS = re.compile(r"\b(nan|NaN|None|undefined|inf|Infinity|NaT)\b|\{\{|\}\}|\{%|%\}|<[a-z_.]+ object at 0x")
SHOWN = ("alt", "title", "aria-label", "aria-description", "content", "placeholder", "value", "label", "datetime")


def leaks(page: Document) -> Iterator[str]:
    for words in page.words:
        if found := LEAKS.search(words.text):
            yield f"{page.path}:{words.line}: {found.group()!r} in {words.text.strip()[:80]!r}"
    for element in page.elements:
        for name, value in element.attributes.items():
            shown = name in SHOWN or name.startswith("data-")
            if shown and (found := LEAKS.search(value)):
                yield f"{page.path}:{element.line}: {found.group()!r} in {name}={value[:80]!r}"


def refuse(constant: str) -> None:
    raise ValueError(f"{constant} is no JSON")


def broken_links(site: Site) -> Iterator[str]:
    ids = {page.path: set(page.ids) for page in site.pages}
    for page in site.pages:
        for element, address in page.addresses():
            if not is_internal(address) or address == "":
                continue
            file, fragment = target(site.folder, page.path, address)
            if not file.is_relative_to(site.folder) or not file.is_file():
                yield f"{page.path}:{element.line}: no file for {address}"
                continue
            anchors = ids.get(file.relative_to(site.folder).as_posix(), set())
            if fragment and file.suffix == ".html" and fragment not in anchors:
                yield f"{page.path}:{element.line}: no id for {address}"


def nu_messages(addresses: list[str]) -> list[dict[str, Any]]:
    """Errors and warnings of the Nu HTML checker, in one call for all pages.

    It reads them from a server: for a file, `'self'` in a page's policy means nothing to it.
    """
    assert CHECKER.is_file(), "the Nu HTML checker is missing; `python3 tests/run.py` installs it"
    java = shutil.which("java")
    assert java, "java is missing; `python3 tests/run.py` installs it"
    told = subprocess.run(
        [java, "-Xss4m", LOOPBACK, "-jar", CHECKER, "--format", "json", "--exit-zero-always", *addresses],
        capture_output=True,
        text=True,
        check=True,
        timeout=300,
    )
    messages: list[dict[str, Any]] = json.loads(told.stderr)["messages"]
    return [m for m in messages if m["type"] != "info" or m.get("subType") == "warning"]


def told(message: dict[str, Any], base: str) -> str:
    return f"{message.get('url', '').removeprefix(base)}:{message.get('lastLine', 0)}: {message['message']}"


def test_the_nu_checker_finds_nothing_on_any_page(site: Site, address: str) -> None:
    # Source: the WHATWG HTML standard, through the Nu HTML checker (npm vnu-jar).
    messages = nu_messages([address + page.path for page in site.pages])
    assert [told(m, address) for m in messages if not m["message"].startswith(DATA_BLOCK)] == []


def test_the_nu_checker_is_awake(tmp_path: Path) -> None:
    (tmp_path / "bad.html").write_text("<!doctype html><html lang=en><title>x</title><p><div></p>", encoding="utf-8")
    with served(tmp_path) as base:
        complained = {message.get("url", "") for message in nu_messages([base + "bad.html", base + "missing.html"])}
    assert complained == {base + "bad.html", base + "missing.html"}


def test_no_page_shows_a_missing_value_or_an_unfilled_place(site: Site) -> None:
    assert [leak for page in site.pages for leak in leaks(page)] == []


@pytest.mark.parametrize("text", ["nan K", "{{ x }}", "None", "± inf", "undefined"])
def test_a_leak_is_found(text: str) -> None:
    assert list(leaks(read_page(f"<p>{text}</p>", "x.html"))) != []
    assert list(leaks(read_page(f'<p data-value="{text}">', "x.html"))) != []


def test_data_blocks_are_strict_json(site: Site) -> None:
    blocks = [block for page in site.pages for block in page.data_blocks]
    assert blocks
    for block in blocks:
        json.loads(block, parse_constant=refuse)


def test_every_internal_link_leads_to_a_file_and_an_id(site: Site) -> None:
    assert list(broken_links(site)) == []


def test_every_page_can_be_reached_from_the_home_page(site: Site) -> None:
    pages = {page.path: page for page in site.pages}
    reached, queue = {"index.html"}, ["index.html"]
    while queue:
        page = pages[queue.pop()]
        for element, address in page.addresses():
            if element.tag == "a" and is_internal(address):
                path = target(site.folder, page.path, address)[0].relative_to(site.folder).as_posix()
                if path in pages and path not in reached:
                    reached.add(path)
                    queue.append(path)
    assert {page.path for page in site.standing} - reached <= {"404.html"}


def test_ids_are_used_once(site: Site) -> None:
    twice = [f"{page.path}: {i}" for page in site.pages for i, n in Counter(page.ids).items() if n > 1]
    assert twice == []


def test_every_picture_has_a_name(site: Site) -> None:
    assert [f"{page.path}:{e.line}: {e.tag}" for page in site.pages for e in page.nameless] == []


@pytest.mark.parametrize(
    ("html", "named"),
    [
        ("<svg></svg>", False),
        ("<svg><title></title></svg>", False),
        ("<svg><title>A</title><svg></svg></svg>", True),
        ('<svg aria-hidden="true"></svg>', True),
        ('<img src="x" alt="">', False),
        ('<img src="x" alt="A">', True),
    ],
)
def test_a_nameless_picture_is_found(html: str, *, named: bool) -> None:
    assert (read_page(html, "x.html").nameless == []) is named


def test_every_page_has_one_heading_a_title_a_language_and_a_policy(site: Site) -> None:
    for page in site.pages:
        assert len(page.every("h1")) == 1, page.path
        assert [t for t in page.text_of("title") if t], page.path
        assert page.every("html")[0].attributes.get("lang"), page.path
        assert len(page.every("meta", http_equiv="content-security-policy")) == 1, page.path
        assert len(page.every("meta", name="viewport")) == 1, page.path


def test_titles_tell_pages_apart(site: Site) -> None:
    titles = Counter(" ".join(page.text_of("title")) for page in site.pages)
    assert [title for title, n in titles.items() if n > 1] == []


def test_headings_go_down_one_level_at_a_time(site: Site) -> None:
    for page in site.pages:
        levels = [int(e.tag[1]) for e in page.elements if re.fullmatch(r"h[1-6]", e.tag)]
        skipped = [(a, b) for a, b in pairwise(levels) if b > a + 1]
        assert skipped == [], page.path


def test_the_policy_allows_the_site_alone(site: Site) -> None:
    # Source: W3C Content Security Policy Level 3.
    for page in site.pages:
        policy = page.every("meta", http_equiv="content-security-policy")[0].attributes["content"]
        rules = {name: words for name, *words in (rule.split() for rule in policy.split(";") if rule.strip())}
        assert rules["default-src"] in (["'self'"], ["'none'"]), page.path
        loose = {word for words in rules.values() for word in words} - {"'self'", "'none'", "data:"}
        assert loose == set(), page.path
        assert "data:" not in rules.get("script-src", []), page.path


def test_nothing_in_the_page_needs_what_the_policy_forbids(site: Site) -> None:
    for page in site.pages:
        for element in page.elements:
            handlers = [name for name in element.attributes if name.startswith("on")]
            where = f"{page.path}:{element.line}: {element.tag}"
            assert handlers == [], where
            assert "style" not in element.attributes, where
            assert element.tag != "style", where
            is_data = "json" in element.attributes.get("type", "")
            assert element.tag != "script" or "src" in element.attributes or is_data, where
