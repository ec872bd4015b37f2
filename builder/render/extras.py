"""Joins the plan of pages and the files for programs, which do not know each other."""

from __future__ import annotations

import io
from collections.abc import Iterable, Mapping

from builder.exports import Exports, Listed, PreviewPicture, changed_days, page_list_files
from builder.figures import BundleResult
from builder.model import Catalogue
from builder.pages import Download, Extras, Preview, SitePlan
from builder.views.data import DataEntry, size_text

_COLOURS = 32


def extras(exports: Exports) -> Extras:
    """Return what pages say of the files for programs."""
    previews = {page: Preview(href=picture.href, alt=picture.alt) for page, picture in exports.previews.items()}
    return Extras(data=exports.entries, feed=exports.has_feed, linked=exports.linked, previews=previews)


def preview_png(picture: PreviewPicture) -> bytes:
    """Return a preview picture as PNG, in few colours, which text on paper needs."""
    import vl_convert
    from PIL import Image

    drawn = Image.open(io.BytesIO(vl_convert.svg_to_png(picture.svg)))
    out = io.BytesIO()
    drawn.convert("RGB").quantize(_COLOURS, dither=Image.Dither.NONE).save(out, "PNG", optimize=True)
    return out.getvalue()


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
