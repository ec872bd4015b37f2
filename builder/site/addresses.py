"""Complete addresses of what the site publishes, and the days on which it last changed."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from urllib.parse import quote, urlsplit

from builder.archive.catalogue import Archive, Catalogue
from builder.comparison import Subject, subjects
from builder.core.results import BundleResult

_KEPT = "/?:@!$&'()*+,;=%-._~"  # characters of an address that need no percent


@dataclass(frozen=True, kw_only=True)
class Base:
    """Where a site is published: its complete address, or empty where the archive does not say."""

    url: str

    def full(self, path: str) -> str:
        """Return the complete address of a file; the path alone, from the site's root, where the base is unknown."""
        return f"{self.url}{path}"

    def __bool__(self) -> bool:
        """Return whether the base is known."""
        return bool(self.url)


def base_of(archive: Archive) -> Base:
    """Return where an archive is published."""
    return Base(url=ascii_url(archive.base_url).rstrip("/") + "/" if archive.base_url else "")


def ascii_url(url: str) -> str:
    """Return an address in ASCII: other characters percent-encoded, or by IDNA in the host.

    >>> ascii_url("https://bücher.example/ä b")
    'https://xn--bcher-kva.example/%C3%A4%20b'
    """
    parts = urlsplit(url)
    return parts._replace(
        netloc=_ascii_host(parts.netloc),
        path=quote(parts.path, safe=_KEPT),
        query=quote(parts.query, safe=_KEPT),
        fragment=quote(parts.fragment, safe=_KEPT),
    ).geturl()


def _ascii_host(host: str) -> str:
    try:
        return host if host.isascii() else host.encode("idna").decode("ascii")
    except UnicodeError:
        return quote(host, safe=":")


# --- Days of change: only those that stand in the archive, so that the same archive gives the same bytes


def updated(subject: Subject) -> dt.date:
    """Return the day on which a result last changed: its publication or its newest correction."""
    return max([subject.shown_on, *(c.date for c in subject.bundle.corrections)])


def newest(subjects: Iterable[Subject]) -> dt.date | None:
    """Return the day of the newest change in the archive, or None where it has no result."""
    return max(map(updated, subjects), default=None)


def changed_days(catalogue: Catalogue, results: Mapping[str, BundleResult]) -> dict[str, dt.date]:
    """Return the day of the last change by page address, for pages whose results alone make them change."""
    found = subjects(catalogue, results)
    latest = newest(found)
    lists = dict.fromkeys(("index.html", "archive.html"), latest) if latest else {}
    return {**lists, **{s.href: updated(s) for s in found}}
