"""Everything that programs read, made from one archive and its figures."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from functools import cache, cached_property, partial

from builder.archive.catalogue import Catalogue
from builder.comparison import Subject, Tested, subjects
from builder.core.errors import Problem, Severity, Span
from builder.core.results import BundleResult
from builder.pages.page import DataEntry, LazyMapping
from builder.site.addresses import base_of
from builder.site.data_package import DataFile, ResultFiles, archive_files, descriptor_file, result_files, schema_files
from builder.site.feed_and_sitemap import FEED, feed_bytes
from builder.site.linked_data import CATALOGUE, archive_linked, result_linked, script_text
from builder.site.preview_picture import PreviewPicture, preview


@dataclass(frozen=True, kw_only=True, eq=False)
class ExportInput:
    """What exports are made from; `where` is the place in the archive that a missing base address is reported at."""

    catalogue: Catalogue
    results: Mapping[str, BundleResult]
    where: Span


class Exports:
    """What programs read of an archive, made as far as it is asked for. Pure: the same archive gives the same bytes.

    `files_of` gives the data files of a result, or those that were made of the same result before.
    """

    def __init__(self, given: ExportInput, files_of: Callable[[Subject], ResultFiles] = result_files) -> None:
        self._tested = Tested(catalogue=given.catalogue, results=given.results)
        self._archive = given.catalogue.archive
        self._where = given.where
        self._subjects = subjects(given.catalogue, given.results)
        self._own = LazyMapping({s.id: cache(partial(files_of, s)) for s in self._subjects})

    @cached_property
    def files(self) -> Mapping[str, bytes]:
        """Every file by address, in the order of addresses."""
        data = {file.href: file.data for file in (self._descriptor, *self._data)}
        feed = {FEED: self._feed} if self._feed else {}
        return dict(sorted({**data, **schema_files(), **feed}.items()))

    @property
    def entries(self) -> Mapping[str, tuple[DataEntry, ...]]:
        """What pages say of the data files, by result; those of the whole archive stand under an empty name."""
        return LazyMapping({"": self._whole_entries, **{s.id: partial(self._entries, s.id) for s in self._subjects}})

    @property
    def has_feed(self) -> bool:
        """Whether there is a feed."""
        return self._feed is not None

    @property
    def linked(self) -> Mapping[str, str]:
        """The linked data of pages by their addresses."""
        results = {s.href: partial(self._result_linked, s) for s in self._subjects}
        return LazyMapping({CATALOGUE: self._archive_linked, **results})

    @property
    def previews(self) -> Mapping[str, PreviewPicture]:
        """The preview pictures of pages by their addresses; none without a base address, which links to them need."""
        pictured = self._subjects if base_of(self._archive) else ()
        return LazyMapping({s.href: partial(preview, self._tested, s) for s in pictured})

    @property
    def problems(self) -> tuple[Problem, ...]:
        """What is missing for some of the files."""
        if base_of(self._archive):
            return ()
        missing = Problem(
            code="no-base-url",
            where=self._where,
            message="without base_url there is no feed, no list of pages and no preview picture",
            hint="add base_url: the address that the site is published at",
            severity=Severity.NOTICE,
        )
        return (missing,)

    @cached_property
    def _feed(self) -> bytes | None:
        return feed_bytes(self._tested, self._subjects)

    @cached_property
    def _whole(self) -> tuple[DataFile, ...]:
        return archive_files(self._tested, self._subjects, self._own)

    @property
    def _data(self) -> tuple[DataFile, ...]:
        return (*self._whole, *(file for s in self._subjects for file in self._own[s.id].all))

    @cached_property
    def _descriptor(self) -> DataFile:
        return descriptor_file(self._archive, self._data)

    def _whole_entries(self) -> tuple[DataEntry, ...]:
        return tuple(file.entry for file in (self._descriptor, *self._whole))

    def _entries(self, bundle: str) -> tuple[DataEntry, ...]:
        return tuple(file.entry for file in self._own[bundle].all)

    def _archive_linked(self) -> str:
        return script_text(archive_linked(self._archive, self._subjects, self._whole))

    def _result_linked(self, subject: Subject) -> str:
        return script_text(result_linked(self._tested, subject, self._own[subject.id].figures))
