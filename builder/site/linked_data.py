"""Linked data (JSON-LD, schema.org) that pages carry for programs."""

from __future__ import annotations

import json
from collections.abc import Iterable, Iterator, Sequence

from builder.archive.catalogue import Archive
from builder.comparison import Subject, Tested, settled
from builder.core.quantity import NO_BREAK, SYMBOLS
from builder.core.results import FIGURES, Figure, PointResult, Use, figures_for
from builder.core.words import count
from builder.pages.data import size_text
from builder.pages.finding import finding
from builder.pages.home import site_title
from builder.site.addresses import Base, base_of, newest, updated
from builder.site.data_package import DataFile
from builder.site.records import Record
from builder.site.tables import lean

CONTEXT = "https://schema.org"
CATALOGUE = "data.html"

# Inside a script element the parser looks for "</script" and "<!--" only; the rest is for older readers.
_ESCAPES = {ord(c): f"\\u{ord(c):04x}" for c in "<>&\u2028\u2029"}


def script_text(record: Record) -> str:
    r"""Return a record as JSON that can stand inside a script element.

    >>> script_text({"name": "</script>"})
    '{"name":"\\u003c/script\\u003e"}'
    """
    return json.dumps(record, ensure_ascii=False, allow_nan=False, separators=(",", ":")).translate(_ESCAPES)


def result_linked(tested: Tested, subject: Subject, files: Iterable[DataFile]) -> Record:
    """Return a result as a schema.org `Dataset`, with its figures as `variableMeasured`."""
    archive, root = tested.catalogue.archive, "../"
    base = base_of(archive)
    return {
        "@context": CONTEXT,
        "@type": "Dataset",
        **_named(base, root, subject.href, subject.title),
        "description": _description(subject, tested),
        "dateCreated": subject.bundle.tested.isoformat(),
        "datePublished": subject.shown_on.isoformat(),
        "dateModified": updated(subject).isoformat(),
        **_terms(archive, base),
        "measurementTechnique": f"{subject.protocol.name}, version {subject.protocol.version}",
        "includedInDataCatalog": {"@type": "DataCatalog", **_named(base, root, CATALOGUE, site_title(archive))},
        "distribution": [_download(base, root, file) for file in files],
        "variableMeasured": list(_variables(subject)),
    }


def archive_linked(archive: Archive, subjects: Sequence[Subject], files: Iterable[DataFile]) -> Record:
    """Return the archive as a schema.org `DataCatalog` that lists the whole and every result."""
    base, latest = base_of(archive), newest(subjects)
    name = site_title(archive)
    usual = f"Cooler tests on graphics cards by {archive.channel}: every figure with its uncertainty."
    words = archive.summary or usual
    whole = {
        "@type": "Dataset",
        "name": f"{name}: every figure",
        "description": words,
        **({"dateModified": latest.isoformat()} if latest else {}),
        **_terms(archive, base),
        "distribution": [_download(base, "", file) for file in files],
    }
    return {
        "@context": CONTEXT,
        "@type": "DataCatalog",
        **_named(base, "", CATALOGUE, name),
        "description": words,
        **_terms(archive, base),
        "dataset": [whole, *({"@type": "Dataset", **_named(base, "", s.href, s.title)} for s in subjects)],
    }


def _named(base: Base, root: str, path: str, name: str) -> Record:
    address = _address(base, root, path)
    return {"@id": address, "name": name, "url": address}


def _address(base: Base, root: str, path: str) -> str:
    return base.full(path) if base else f"{root}{path}"


def _terms(archive: Archive, base: Base) -> Record:
    creator = {"@type": "Organization", "name": archive.channel, **({"url": base.url} if base else {})}
    return {
        "creator": creator,
        **({"license": archive.licence.url} if archive.licence else {}),
        "isAccessibleForFree": True,
        "inLanguage": archive.language,
    }


def _description(subject: Subject, tested: Tested) -> str:
    points = len(subject.result.points)
    said = finding(subject, tested).text.replace(NO_BREAK, " ")
    return (
        f"{said} Figures with uncertainty at {count(points, 'test point')} of the protocol {subject.protocol.name}, "
        f"for the cooler {subject.cooler.name} on the graphics card {subject.card.name}."
    )


def _download(base: Base, root: str, file: DataFile) -> Record:
    return {
        "@type": "DataDownload",
        "name": file.label,
        "contentUrl": _address(base, root, file.href),
        "encodingFormat": file.media_type,
        "contentSize": size_text(len(file.data)),
        "sha256": file.sha256,
    }


def _variables(subject: Subject) -> Iterator[Record]:
    """Give the figures that a reader may cite: of runs that had settled, at stock all that head a result."""
    for point in filter(settled, subject.result.points):
        at_stock = subject.stock is not None and subject.stock.point == point.point
        for kind in figures_for(Use.HEADLINE) if at_stock else ("core_rise", "board_power"):
            if kind in point.figures:
                yield _variable(point, kind, point.figures[kind])


def _variable(point: PointResult, kind: str, figure: Figure) -> Record:
    estimate = figure.estimate
    symbol = SYMBOLS[estimate.unit]
    return {
        "@type": "PropertyValue",
        "name": f"{FIGURES[kind].name}, {point.name}",
        "propertyID": f"{point.point}/{kind}",
        "value": lean(estimate.value),
        "unitText": symbol,
        "valueReference": {
            "@type": "PropertyValue",
            "name": "expanded uncertainty, 95 %",
            "value": lean(estimate.expanded()),
            "unitText": symbol,
        },
    }
