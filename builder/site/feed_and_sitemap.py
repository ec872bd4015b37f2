"""The Atom feed (RFC 4287): one entry for each result, which a correction brings up again."""

from __future__ import annotations

import datetime as dt
import re
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from html import escape as escape_html
from xml.sax.saxutils import escape, quoteattr

from builder.archive.catalogue import Archive
from builder.comparison.subject import Subject
from builder.core.quantity import NO_BREAK
from builder.pages.home import site_title
from builder.pages.parts import day, plain_text
from builder.pages.result import correction_cells, headline
from builder.pages.sentences import verdict_sentence
from builder.site.addresses import Base, base_of, newest, updated

# --- XML as text: everything escaped, and characters that XML 1.0 cannot hold left out


DECLARATION = '<?xml version="1.0" encoding="utf-8"?>'

# Source: XML 1.0, production 2 (Char).
_NO_CHARACTER = re.compile("[^\t\n\r\u0020-\ud7ff\ue000-\ufffd\U00010000-\U0010ffff]")


def element(tag: str, text: str = "", /, **attributes: str) -> str:
    """Return an element that holds text; an empty one where there is none.

    >>> element("title", "a < b"), element("link", href="x")
    ('<title>a &lt; b</title>', '<link href="x"/>')
    """
    start = f"{tag}{_attributes(attributes)}"
    return f"<{start}>{escape(_allowed(text))}</{tag}>" if text else f"<{start}/>"


def parent(tag: str, children: Iterable[str], /, **attributes: str) -> str:
    """Return an element that holds others, which are already XML."""
    inner = "\n".join(children)
    return f"<{tag}{_attributes(attributes)}>\n{inner}\n</{tag}>"


def document(root: str) -> bytes:
    """Return a whole document."""
    return f"{DECLARATION}\n{root}\n".encode()


def _attributes(attributes: dict[str, str]) -> str:
    named = ((name.replace("_", ":"), value) for name, value in attributes.items())
    return "".join(f" {name}={quoteattr(_allowed(value))}" for name, value in named)


def _allowed(text: str) -> str:
    return _NO_CHARACTER.sub("", text)


FEED = "feed.xml"
ATOM = "http://www.w3.org/2005/Atom"


def feed_bytes(archive: Archive, subjects: Sequence[Subject]) -> bytes | None:
    """Return the feed, newest change first; None without a base address, or without a result to date it by."""
    base, latest = base_of(archive), newest(subjects)
    if not base or latest is None:
        return None
    ordered = sorted(subjects, key=lambda s: (-updated(s).toordinal(), s.id))
    children = [*_head(archive, base, latest), *(_entry(archive, base, s) for s in ordered)]
    return document(parent("feed", children, xmlns=ATOM, xml_lang=archive.language))


def _head(archive: Archive, base: Base, latest: dt.date) -> Iterator[str]:
    yield element("id", base.url)
    yield element("title", site_title(archive))
    if archive.summary:
        yield element("subtitle", archive.summary)
    yield element("updated", _moment(latest))
    yield parent("author", [element("name", archive.channel), element("uri", base.url)])
    yield element("link", rel="self", type="application/atom+xml", href=base.full(FEED))
    yield element("link", rel="alternate", type="text/html", href=base.url)
    if archive.licence:
        yield element("link", rel="license", href=archive.licence.url)  # RFC 4946
    yield element("generator", "Soakbook")


def _entry(archive: Archive, base: Base, subject: Subject) -> str:
    return parent(
        "entry",
        [
            element("id", base.full(first_address(archive, subject.href))),
            element("title", subject.title),
            element("published", _moment(subject.shown_on)),
            element("updated", _moment(updated(subject))),
            element("link", rel="alternate", type="text/html", href=base.full(subject.href)),
            element("summary", _plain(plain_text(verdict_sentence(subject)))),
            element("content", "".join(_content(subject)), type="html"),
        ],
    )


def first_address(archive: Archive, address: str) -> str:
    """Return the address that a page had first: an entry's id must stay the same when its page moves."""
    seen = {address}
    while old := next((o for o, new in archive.moved.items() if new == address and o not in seen), ""):
        seen.add(old)
        address = old
    return address


def _content(subject: Subject) -> Iterator[str]:
    yield f"<p>{escape_html(plain_text(verdict_sentence(subject)))}</p>"
    if subject.bundle.summary:
        yield f"<p>{escape_html(subject.bundle.summary)}</p>"
    items = [f"<li>{escape_html(h.label)}: {escape_html(h.number.text)}</li>" for h in headline(subject)]
    if items:
        yield f"<ul>{''.join(items)}</ul>"
    yield from _corrections(subject)


def _corrections(subject: Subject) -> Iterator[str]:
    for correction in sorted(subject.bundle.corrections, key=lambda c: c.date, reverse=True):
        figure, was, now, reason = (plain_text(cell) for cell in correction_cells(subject, correction))
        said = f"Corrected on {day(correction.date).text}: {figure} was {was}, is now {now}. {reason}"
        yield f"<p>{escape_html(said)}</p>"


def _plain(text: str) -> str:
    return text.replace(NO_BREAK, " ")


def _moment(date: dt.date) -> str:
    return f"{date.isoformat()}T00:00:00Z"


# --- What crawlers read: the list of pages (sitemaps.org 0.9) and the rules for robots (RFC 9309)


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
