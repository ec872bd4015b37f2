"""Days that machines are told: only those that stand in the archive, so the same archive gives the same bytes."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable, Mapping

from builder.figures import BundleResult
from builder.model import Catalogue
from builder.views.subject import Subject, subjects


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
