"""Everything that programs read, made from one archive and its figures."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from functools import partial
from typing import Protocol, TypeVar

from builder.archive.catalogue import Archive, Catalogue
from builder.comparison.subject import Subject, subjects
from builder.core.errors import Problem, Severity, Span
from builder.core.results import BundleResult
from builder.pages.page import DataEntry
from builder.site.addresses import base_of
from builder.site.data_package import DataFile, ResultFiles, archive_files, descriptor_file, result_files, schema_files
from builder.site.feed_and_sitemap import FEED, feed_bytes
from builder.site.linked_data import CATALOGUE, archive_linked, result_linked, script_text
from builder.site.preview_picture import PreviewPicture, preview

T = TypeVar("T")


@dataclass(frozen=True, kw_only=True, eq=False)
class ExportInput:
    """What exports are made from; `where` is the place in the archive that a missing base address is reported at."""

    catalogue: Catalogue
    results: Mapping[str, BundleResult]
    where: Span


@dataclass(frozen=True, kw_only=True, eq=False)
class Exports:
    """What programs read: files by address, what pages say of them, and by page address linked data and previews."""

    files: Mapping[str, bytes]
    entries: tuple[DataEntry, ...]
    linked: Mapping[str, str]
    previews: Mapping[str, PreviewPicture]
    problems: tuple[Problem, ...]

    @property
    def has_feed(self) -> bool:
        """Return whether there is a feed."""
        return FEED in self.files

    def of(self, bundle: str) -> tuple[DataEntry, ...]:
        """Return the data files of one result."""
        return tuple(entry for entry in self.entries if entry.bundle == bundle)


class Remember(Protocol):
    """Gives a value that was made before from the same parts, or makes it."""

    def __call__(self, kind: str, parts: object, make: Callable[[], T]) -> T:
        """Return the value of one kind that these parts fully decide."""


def make_always(kind: str, parts: object, make: Callable[[], T]) -> T:  # noqa: ARG001 - a Remember that remembers nothing
    """Return a newly made value, whatever was made before."""
    return make()


def make_exports(given: ExportInput, remember: Remember = make_always) -> Exports:
    """Return everything that programs read. Pure: the same archive gives the same bytes."""
    archive = given.catalogue.archive
    found = subjects(given.catalogue, given.results)
    own = {s.id: remember("result files", s, partial(result_files, s)) for s in found}
    whole = archive_files(given.catalogue, found, own)
    data = [*whole, *(file for s in found for file in own[s.id].all)]
    described = descriptor_file(archive, data)
    feed = feed_bytes(archive, found)
    files = {
        **{file.href: file.data for file in [*data, described]},
        **schema_files(),
        **({FEED: feed} if feed else {}),
    }
    return Exports(
        files=dict(sorted(files.items())),
        entries=tuple(file.entry for file in [described, *data]),
        linked=dict(_linked(archive, found, whole, own)),
        previews=dict(_previews(archive, found)),
        problems=tuple(_problems(given)),
    )


def _linked(
    archive: Archive, found: Sequence[Subject], whole: Sequence[DataFile], own: Mapping[str, ResultFiles]
) -> Iterator[tuple[str, str]]:
    yield CATALOGUE, script_text(archive_linked(archive, found, whole))
    for subject in found:
        yield subject.href, script_text(result_linked(archive, subject, own[subject.id].figures))


def _previews(archive: Archive, found: Sequence[Subject]) -> Iterator[tuple[str, PreviewPicture]]:
    # Who links to a page asks for its picture by a complete address.
    if base_of(archive):
        yield from ((subject.href, preview(archive, subject)) for subject in found)


def _problems(given: ExportInput) -> Iterator[Problem]:
    if not base_of(given.catalogue.archive):
        yield Problem(
            code="no-base-url",
            where=given.where,
            message="without base_url there is no feed, no list of pages and no preview picture",
            hint="add base_url: the address that the site is published at",
            severity=Severity.NOTICE,
        )
