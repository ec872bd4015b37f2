"""The feed of results, the sitemap and the rules for robots: what feed readers and crawlers ask a site for."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from html import escape
from xml.etree import ElementTree as ET

from builder.archive.catalogue import Archive
from builder.comparison import Subject, Tested
from builder.core.quantity import NO_BREAK
from builder.core.xml import element, xml_document
from builder.pages.finding import finding
from builder.pages.home import site_title
from builder.pages.parts import day, plain_text
from builder.pages.result import headline
from builder.pages.result_tables import correction_cells
from builder.pages.sentences import verdict_sentence
from builder.site.addresses import Base, base_of, newest, updated

# --- The Atom feed (RFC 4287): one entry for each result, which a correction brings up again


FEED = "feed.xml"
ATOM = "http://www.w3.org/2005/Atom"


def feed_bytes(tested: Tested, subjects: Sequence[Subject]) -> bytes | None:
    """Return the feed, newest change first; None without a base address, or without a result to date it by."""
    archive = tested.catalogue.archive
    base, latest = base_of(archive), newest(subjects)
    if not base or latest is None:
        return None
    ordered = sorted(subjects, key=lambda s: (-updated(s).toordinal(), s.id))
    inside = [*_head(archive, base, latest), *(_entry(tested, base, s) for s in ordered)]
    return xml_document(element("feed", *inside, **{"xmlns": ATOM, "xml:lang": archive.language}))


def _head(archive: Archive, base: Base, latest: dt.date) -> Iterator[ET.Element]:
    yield element("id", base.url)
    yield element("title", site_title(archive))
    if archive.summary:
        yield element("subtitle", archive.summary)
    yield element("updated", _moment(latest))
    yield element("author", element("name", archive.channel), element("uri", base.url))
    yield element("link", rel="self", type="application/atom+xml", href=base.full(FEED))
    yield element("link", rel="alternate", type="text/html", href=base.url)
    if archive.licence:
        yield element("link", rel="license", href=archive.licence.url)  # RFC 4946
    yield element("generator", "Soakbook")


def _entry(tested: Tested, base: Base, subject: Subject) -> ET.Element:
    archive, said = tested.catalogue.archive, finding(subject, tested).text
    return element(
        "entry",
        element("id", base.full(first_address(archive, subject.href))),
        element("title", subject.title),
        element("published", _moment(subject.shown_on)),
        element("updated", _moment(updated(subject))),
        element("link", rel="alternate", type="text/html", href=base.full(subject.href)),
        element("summary", said.replace(NO_BREAK, " ")),
        element("content", "".join(_content(subject, said)), type="html"),
    )


def first_address(archive: Archive, address: str) -> str:
    """Return the address that a page had first: an entry's id must stay the same when its page moves."""
    seen = {address}
    while old := next((o for o, new in archive.moved.items() if new == address and o not in seen), ""):
        seen.add(old)
        address = old
    return address


def _content(subject: Subject, said: str) -> Iterator[str]:
    yield f"<p>{escape(said)}</p>"
    verdict = plain_text(verdict_sentence(subject))
    if verdict != said:
        yield f"<p>{escape(verdict)}</p>"
    if subject.bundle.summary:
        yield f"<p>{escape(subject.bundle.summary)}</p>"
    items = [f"<li>{escape(h.label)}: {escape(h.number.text)}</li>" for h in headline(subject)]
    if items:
        yield f"<ul>{''.join(items)}</ul>"
    for correction in sorted(subject.bundle.corrections, key=lambda c: c.date, reverse=True):
        figure, was, now, reason = (plain_text(cell) for cell in correction_cells(subject, correction))
        said = f"Corrected on {day(correction.date).text}: {figure} was {was}, is now {now}. {reason}"
        yield f"<p>{escape(said)}</p>"


def _moment(date: dt.date) -> str:
    return f"{date.isoformat()}T00:00:00Z"


# --- What crawlers read: the sitemap (sitemaps.org 0.9) and the rules for robots (RFC 9309)


SITEMAP, ROBOTS = "sitemap.xml", "robots.txt"
SCHEMA = "http://www.sitemaps.org/schemas/sitemap/0.9"
MOST = 50_000  # pages that one sitemap may hold, by its protocol


@dataclass(frozen=True, kw_only=True)
class Listed:
    """A page to list: its address from the site's root, and the day of its last change where the archive knows it."""

    path: str
    changed: dt.date | None = None


def page_list_files(archive: Archive, pages: Iterable[Listed]) -> dict[str, bytes]:
    """Return the files for crawlers by address; a sitemap needs the archive's base address."""
    base = base_of(archive)
    rules = "User-agent: *\nAllow: /\n"
    if not base:
        return {ROBOTS: rules.encode()}
    urls = [_url(base, page) for page in pages]
    sitemap = xml_document(element("urlset", *urls[:MOST], xmlns=SCHEMA))
    return {ROBOTS: f"{rules}Sitemap: {base.full(SITEMAP)}\n".encode(), SITEMAP: sitemap}


def _url(base: Base, page: Listed) -> ET.Element:
    # The home page has one address only: that of the site.
    where = element("loc", base.full("" if page.path == "index.html" else page.path))
    return element("url", where, *([element("lastmod", page.changed.isoformat())] if page.changed else []))
