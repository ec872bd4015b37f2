"""What is in the published folder, and how heavy it is."""

from __future__ import annotations

import gzip
from collections.abc import Callable
from pathlib import Path

import pytest

from tests.support.pages import Document, Site, contents, is_internal, target

KB = 1000


def test_nothing_of_the_machine_is_published(site: Site) -> None:
    machine = {str(site.folder.parent).encode(), str(Path.home()).encode(), str(Path.cwd()).encode()}
    told = [(path, word) for path, data in contents(site.folder).items() for word in machine if word in data]
    assert told == []


def loaded_by(site: Site, page: Document) -> list[Path]:
    """The page's own file and what it loads of the site."""
    files = {site.folder / page.path}
    for element, address in page.addresses():
        styles = element.tag == "link" and "stylesheet" in element.attributes.get("rel", "")
        if is_internal(address) and (styles or element.tag in {"script", "img", "source"}):
            files.add(target(site.folder, page.path, address)[0])
    return sorted(files)


def weight(files: list[Path]) -> int:
    """Bytes on the wire of a host that compresses."""
    return sum(len(gzip.compress(file.read_bytes(), mtime=0)) for file in files)


def test_no_page_is_heavy(site: Site, record_property: Callable[[str, object], None]) -> None:
    # Common practice, no source: 300 kB compressed load in about two seconds over a slow mobile line.
    weights = {page.path: weight(loaded_by(site, page)) for page in site.pages}
    total = sum(len(data) for data in contents(site.folder).values())
    heaviest = sorted(weights, key=lambda path: -weights[path])[:5]
    lines = [f"{weights[path] / KB:8.1f} kB  {path}" for path in heaviest]
    record_property("report", "\n".join([f"{total / KB:8.1f} kB  the whole site, not compressed", *lines]))
    assert {path: n for path, n in weights.items() if n > 300 * KB} == {}


def test_the_archive_page_is_light(site: Site) -> None:
    # Our own budget, no source: 80 kB compressed with all that the page loads.
    page = next(page for page in site.pages if page.path == "archive.html")
    assert 0 < weight(loaded_by(site, page)) <= 80 * KB


@pytest.mark.parametrize("name", ["feed.xml", "sitemap.xml", "robots.txt", "404.html", "index.html"])
def test_the_site_has_what_hosts_and_readers_look_for(site: Site, name: str) -> None:
    assert (site.folder / name).is_file()
