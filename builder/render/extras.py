"""Joins the plan of pages and the files for programs, which do not know each other."""

from __future__ import annotations

from collections.abc import Iterable, Mapping

from builder.exports import Exports, Listed, changed_days, page_list_files
from builder.figures import BundleResult
from builder.model import Catalogue
from builder.pages import Download, Extras, SitePlan
from builder.views.data import DataEntry, size_text


def extras(exports: Exports) -> Extras:
    """Return what pages say of the files for programs."""
    return Extras(data=exports.entries, feed=exports.has_feed, linked=exports.linked)


def downloads(entries: Iterable[DataEntry]) -> tuple[Download, ...]:
    """Return data files as a page offers them."""
    return tuple(Download(label=_label(e), href=e.href, note=size_text(e.size)) for e in entries)


def _label(entry: DataEntry) -> str:
    return f"{entry.label}, {entry.href.rpartition('.')[2].upper()}"


def page_lists(catalogue: Catalogue, results: Mapping[str, BundleResult], plan: SitePlan) -> dict[str, bytes]:
    """Return the files for crawlers: every page that search may show, with the day it last changed where known."""
    days = changed_days(catalogue, results)
    listed = [Listed(path=p.path, changed=days.get(p.path)) for p in plan.pages if p.indexed]
    return page_list_files(catalogue.archive, listed)
