"""The Atom feed (RFC 4287): one entry for each result, which a correction brings up again."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterator, Sequence
from html import escape

from builder.exports.addresses import Base, base_of
from builder.exports.dates import newest, updated
from builder.exports.xml import document, element, parent
from builder.model import Archive
from builder.quantity import NO_BREAK
from builder.views.home import site_title
from builder.views.result import correction_cells, headline
from builder.views.sentences import verdict_sentence
from builder.views.subject import Subject
from builder.views.text import day, plain_text

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
    yield f"<p>{escape(plain_text(verdict_sentence(subject)))}</p>"
    if subject.bundle.summary:
        yield f"<p>{escape(subject.bundle.summary)}</p>"
    items = [f"<li>{escape(h.label)}: {escape(h.number.text)}</li>" for h in headline(subject)]
    if items:
        yield f"<ul>{''.join(items)}</ul>"
    yield from _corrections(subject)


def _corrections(subject: Subject) -> Iterator[str]:
    for correction in sorted(subject.bundle.corrections, key=lambda c: c.date, reverse=True):
        figure, was, now, reason = (plain_text(cell) for cell in correction_cells(subject, correction))
        said = f"Corrected on {day(correction.date).text}: {figure} was {was}, is now {now}. {reason}"
        yield f"<p>{escape(said)}</p>"


def _plain(text: str) -> str:
    return text.replace(NO_BREAK, " ")


def _moment(date: dt.date) -> str:
    return f"{date.isoformat()}T00:00:00Z"
