"""Bytes that claim to be a photo: opened, and refused with a reason where they are none or too large."""

from __future__ import annotations

import io
import warnings
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from typing import TYPE_CHECKING

from builder.errors import Problems, Span

if TYPE_CHECKING:
    from PIL.Image import Image

BYTES_LIMIT = 25_000_000
PIXELS_LIMIT = 40_000_000
SIDE_LIMIT = 16_383  # the most that WebP holds
FORMATS = ("JPEG", "PNG", "WEBP")
_SIDES_SWAPPED = frozenset({5, 6, 7, 8})  # values of EXIF's orientation that turn a picture by a quarter
_ORIENTATION = 0x0112


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
            return _upright_size(image)
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
        _require_size(image)
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


def _require_size(image: Image) -> None:
    if image.width * image.height > PIXELS_LIMIT or max(image.size) > SIDE_LIMIT:
        raise _too_many_pixels(image.width, image.height)


def _too_many_pixels(width: int = 0, height: int = 0) -> UnusablePhotoError:
    found = f", found {width} by {height}" if width else ""
    most = f"{PIXELS_LIMIT // 1_000_000} million pixels, no side longer than {SIDE_LIMIT}"
    message = f"is too large: expected at most {most}{found}"
    return UnusablePhotoError("photo-too-large", message, "make it smaller; pages show at most 1600 pixels of width")


def _upright_size(image: Image) -> Size:
    if orientation(image) in _SIDES_SWAPPED:
        return Size(width=image.height, height=image.width)
    return Size(width=image.width, height=image.height)


def orientation(image: Image) -> int:
    """Return EXIF's orientation, 1 where there is none or it cannot be read."""
    try:
        value = image.getexif().get(_ORIENTATION, 1)
    except Exception:  # noqa: BLE001 - broken camera data is no reason to refuse a picture
        return 1
    return value if isinstance(value, int) and 1 <= value <= 8 else 1  # noqa: PLR2004 - the standard's range
