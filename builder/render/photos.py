"""Reads the photos that bundles and their notes name, and gives them in the widths that pages use."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field
from pathlib import Path

from builder.content import picture_references
from builder.errors import Problem, Problems, SoakbookError, Span
from builder.photos import (
    BYTES_LIMIT,
    Photo,
    Rendition,
    Size,
    UnusablePhotoError,
    measure_photo,
    photo_addresses,
    renditions,
)
from builder.sources import read_bytes
from builder.validate import Loaded


@dataclass(frozen=True, kw_only=True)
class Photos:
    """Photos by bundle and by the file that names them, and what was wrong with them."""

    by_bundle: Mapping[str, Mapping[str, Photo]] = field(default_factory=dict)
    problems: tuple[Problem, ...] = ()

    @property
    def files(self) -> int:
        """Return how many files they are published as."""
        return sum(len(photo.widths) for photos in self.by_bundle.values() for photo in photos.values())


def read_photos(root: Path, loaded: Loaded, notes: Mapping[str, str]) -> Photos:
    """Return every photo that can be published. `notes` is Markdown by bundle; pixels are not kept."""
    problems = Problems()
    found = {bundle: _photos_of(root, loaded, bundle, notes, problems) for bundle in loaded.catalogue.bundles}
    return Photos(by_bundle={bundle: photos for bundle, photos in found.items() if photos}, problems=tuple(problems))


def _photos_of(
    root: Path, loaded: Loaded, bundle: str, notes: Mapping[str, str], problems: Problems
) -> dict[str, Photo]:
    named = dict(_named_in_notes(bundle, notes.get(bundle, ""), problems))
    named |= {
        photo.file: loaded.where("bundle", bundle, "photos", number, "file")
        for number, photo in enumerate(loaded.catalogue.bundles[bundle].photos)
    }
    addresses = photo_addresses(bundle, named)
    made = ((file, _photo(root, bundle, file, where, problems)) for file, where in named.items())
    return {file: Photo(address=addresses[file], width=size.width, height=size.height) for file, size in made if size}


def _named_in_notes(bundle: str, text: str, problems: Problems) -> Iterator[tuple[str, Span]]:
    for reference in picture_references(text):
        where = Span(file=f"bundles/{bundle}/notes.md", line=reference.line)
        if not reference.alt:
            hint = f"write ![what it shows]({reference.file})"
            problems.error("photo-no-alt", where, f'"{reference.file}" has no words for those who do not see it', hint)
        if reference.file.lower().startswith(("http:", "https:")):
            message = "a picture of another site tells that site who reads this page"
            problems.error("photo-outside", where, message, "put the file into the bundle's folder, and name it")
            continue
        yield reference.file, where


def _photo(root: Path, bundle: str, file: str, where: Span, problems: Problems) -> Size | None:
    data = read_bytes(root / "bundles" / bundle, file, problems, where, limit=BYTES_LIMIT)
    return None if data is None else measure_photo(data, where=where, file=file, problems=problems)


def photo_files(root: Path, photos: Photos) -> Iterator[tuple[str, bytes]]:
    """Give the address and bytes of every photo in every width, one photo in memory at a time.

    Raises SoakbookError for a file that changed for the worse since it was read.
    """
    for bundle, by_file in photos.by_bundle.items():
        for file, photo in by_file.items():
            for rendition in _again(root, bundle, file, photo):
                yield rendition.href, rendition.data


def _again(root: Path, bundle: str, file: str, photo: Photo) -> Iterator[Rendition]:
    problems, where = Problems(), Span(file=f"bundles/{bundle}/{file}")
    data = read_bytes(root / "bundles" / bundle, file, problems, where, limit=BYTES_LIMIT)
    if data is None:
        raise SoakbookError(problems)
    try:
        yield from renditions(photo, data)
    except UnusablePhotoError as fault:
        raise SoakbookError([Problem(code=fault.code, where=where, message=str(fault), hint=fault.hint)]) from fault
