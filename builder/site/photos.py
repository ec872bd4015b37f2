"""Photos that bundles and their notes name: read, refused with a reason or measured, and published as small WebP files.

What a photo may be is decided by its content. What is published is made from its pixels alone, without the data that a
camera wrote into the file.
"""

from __future__ import annotations

import io
import warnings
from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from dataclasses import dataclass, field
from pathlib import Path
from typing import TYPE_CHECKING

from builder.archive import Loaded
from builder.core.errors import Problem, Problems, SoakbookError, Span
from builder.core.files import read_bytes
from builder.pages.markdown import picture_references
from builder.pages.photo_sizes import Photo, Rendition, photo_addresses

if TYPE_CHECKING:
    from PIL.Image import Image

BYTES_LIMIT = 25_000_000
PIXELS_LIMIT = 40_000_000
SIDE_LIMIT = 16_383  # the most that WebP holds
FORMATS = ("JPEG", "PNG", "WEBP")
_ORIENTATION = 0x0112  # EXIF's tag
_SIDES_SWAPPED = frozenset({5, 6, 7, 8})  # its values that turn a picture by a quarter
_QUALITY = 80
_EFFORT = 4


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
    found = {}
    for file, where in named.items():
        data = read_bytes(root / "bundles" / bundle, file, problems, where, limit=BYTES_LIMIT)
        size = None if data is None else measure_photo(data, where=where, file=file, problems=problems)
        if size:
            found[file] = Photo(address=addresses[file], width=size.width, height=size.height)
    return found


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


def photo_files(root: Path, photos: Photos) -> Iterator[tuple[str, bytes]]:
    """Give the address and bytes of every photo in every width, one photo in memory at a time.

    Raises SoakbookError for a file that changed for the worse since it was read.
    """
    for bundle, by_file in photos.by_bundle.items():
        for file, photo in by_file.items():
            problems, where = Problems(), Span(file=f"bundles/{bundle}/{file}")
            data = read_bytes(root / "bundles" / bundle, file, problems, where, limit=BYTES_LIMIT)
            if data is None:
                raise SoakbookError(problems)
            try:
                yield from ((made.href, made.data) for made in renditions(photo, data))
            except UnusablePhotoError as fault:
                problems.error(fault.code, where, str(fault), fault.hint)
                raise SoakbookError(problems) from fault


# --- Bytes that claim to be a photo: opened, and refused with a reason where they are none or too large


class UnusablePhotoError(ValueError):
    """Bytes that are no photo, or none that can be published; carries a code, and a hint that mends it."""

    def __init__(self, code: str, message: str, hint: str) -> None:
        self.code, self.hint = code, hint
        super().__init__(message)


@dataclass(frozen=True, kw_only=True)
class Size:
    """A size in pixels, upright."""

    width: int
    height: int


def measure_photo(data: bytes, *, where: Span, file: str, problems: Problems) -> Size | None:
    """Return the size of a photo that can be published whole, or None with one problem at `where`."""
    try:
        with opened(data) as image:
            sides = (image.height, image.width) if orientation(image) in _SIDES_SWAPPED else image.size
            return Size(width=sides[0], height=sides[1])
    except UnusablePhotoError as fault:
        problems.error(fault.code, where, f'"{file}" {fault}', fault.hint)
        return None


@contextmanager
def opened(data: bytes) -> Iterator[Image]:
    """Yield a photo with its pixels read. Raises UnusablePhotoError."""
    from PIL import Image

    with _refusals(), warnings.catch_warnings():
        # What the library only warns of, such as very many pixels or broken camera data, is decided here.
        warnings.simplefilter("ignore")
        image = Image.open(io.BytesIO(data), formats=FORMATS)
        if image.width * image.height > PIXELS_LIMIT or max(image.size) > SIDE_LIMIT:
            raise _too_many_pixels(image.width, image.height)
        image.load()
    with image:
        yield image


@contextmanager
def _refusals() -> Iterator[None]:
    from PIL import Image, UnidentifiedImageError

    try:
        yield
    except UnusablePhotoError:
        raise
    except UnidentifiedImageError:
        hint = "the ending of a name does not count, the content does; save it as one of these"
        raise UnusablePhotoError("photo-type", "is not a JPEG, PNG or WebP picture", hint) from None
    except Image.DecompressionBombError:
        raise _too_many_pixels() from None
    except Exception as problem:  # noqa: BLE001 - a decoder of untrusted bytes may raise anything
        message = f"is broken: {str(problem) or type(problem).__name__}"
        raise UnusablePhotoError("photo-broken", message, "export or copy the picture again") from None


def _too_many_pixels(width: int = 0, height: int = 0) -> UnusablePhotoError:
    found = f", found {width} by {height}" if width else ""
    most = f"{PIXELS_LIMIT // 1_000_000} million pixels, no side longer than {SIDE_LIMIT}"
    message = f"is too large: expected at most {most}{found}"
    return UnusablePhotoError("photo-too-large", message, "make it smaller; pages show at most 1600 pixels of width")


def orientation(image: Image) -> int:
    """Return EXIF's orientation, 1 where there is none or it cannot be read."""
    try:
        value = image.getexif().get(_ORIENTATION, 1)
    except Exception:  # noqa: BLE001 - broken camera data is no reason to refuse a picture
        return 1
    return value if isinstance(value, int) and 1 <= value <= 8 else 1  # noqa: PLR2004 - the standard's range


# --- A photo in the widths that pages use, as WebP with nothing but pixels


def renditions(photo: Photo, data: bytes) -> Iterator[Rendition]:
    """Give the photo in each of its widths, upright and in the web's colours. Raises UnusablePhotoError."""
    with opened(data) as image:
        pixels = _web_colours(_upright(image))
    for width in photo.widths:
        yield Rendition(href=photo.href(width), data=_encoded(pixels, width, photo.height_at(width)))


def _upright(image: Image) -> Image:
    from PIL.Image import Transpose

    turns = {
        2: Transpose.FLIP_LEFT_RIGHT,
        3: Transpose.ROTATE_180,
        4: Transpose.FLIP_TOP_BOTTOM,
        5: Transpose.TRANSPOSE,
        6: Transpose.ROTATE_270,
        7: Transpose.TRANSVERSE,
        8: Transpose.ROTATE_90,
    }
    turn = turns.get(orientation(image))
    return image.transpose(turn) if turn is not None else image


def _web_colours(image: Image) -> Image:
    """Return the picture in sRGB, with transparency where it had some."""
    mode = "RGBA" if image.has_transparency_data else "RGB"
    profile = image.info.get("icc_profile")
    plain = _in_srgb(image, profile, mode) if isinstance(profile, bytes) else None
    return plain if plain is not None else image.convert(mode)


def _in_srgb(image: Image, profile: bytes, mode: str) -> Image | None:
    """Return the picture from its own colours to sRGB; None where its profile is broken or of another kind."""
    from PIL import ImageCms

    try:
        own, web = ImageCms.ImageCmsProfile(io.BytesIO(profile)), ImageCms.createProfile("sRGB")
        given = image if image.mode in ("RGB", "RGBA", "CMYK", "L") else image.convert(mode)
        return ImageCms.profileToProfile(given, own, web, outputMode="RGB" if given.mode != "RGBA" else "RGBA")
    except (ImageCms.PyCMSError, OSError, ValueError):
        return None


def _encoded(image: Image, width: int, height: int) -> bytes:
    from PIL import Image as Images

    size = (width, height)
    smaller = image if image.size == size else image.resize(size, Images.Resampling.LANCZOS, reducing_gap=3.0)
    clean = Images.frombytes(smaller.mode, smaller.size, smaller.tobytes())  # without what the file said besides pixels
    out = io.BytesIO()
    clean.save(out, "WEBP", quality=_QUALITY, method=_EFFORT, exact=False)
    return out.getvalue()
