"""What crawlers read: the list of pages (sitemaps.org 0.9) and the rules for robots (RFC 9309)."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable
from dataclasses import dataclass

from builder.exports.addresses import Base, base_of
from builder.exports.xml import document, element, parent
from builder.model import Archive

SITEMAP, ROBOTS = "sitemap.xml", "robots.txt"
SCHEMA = "http://www.sitemaps.org/schemas/sitemap/0.9"
MOST = 50_000  # pages that one list may hold, by the sitemap protocol


@dataclass(frozen=True, kw_only=True)
class Listed:
    """A page to list: its address from the site's root, and the day of its last change where the archive knows it."""

    path: str
    changed: dt.date | None = None


def page_list_files(archive: Archive, pages: Iterable[Listed]) -> dict[str, bytes]:
    """Return the files for crawlers by address; the list of pages needs the archive's base address."""
    base = base_of(archive)
    if not base:
        return {ROBOTS: _robots()}
    return {ROBOTS: _robots(base.full(SITEMAP)), SITEMAP: _sitemap(base, pages)}


def _robots(sitemap: str = "") -> bytes:
    lines = ["User-agent: *", "Allow: /"]
    return ("\n".join([*lines, f"Sitemap: {sitemap}"] if sitemap else lines) + "\n").encode()


def _sitemap(base: Base, pages: Iterable[Listed]) -> bytes:
    urls = [_url(base, page) for page in pages]
    return document(parent("urlset", urls[:MOST], xmlns=SCHEMA))


def _url(base: Base, page: Listed) -> str:
    # The home page has one address only: that of the site.
    path = "" if page.path == "index.html" else page.path
    lines = [element("loc", base.full(path))]
    if page.changed:
        lines.append(element("lastmod", page.changed.isoformat()))
    return parent("url", lines)
