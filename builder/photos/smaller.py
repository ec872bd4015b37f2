"""A photo in the widths that pages use, as WebP with nothing but pixels."""

from __future__ import annotations

import io
from collections.abc import Iterator
from typing import TYPE_CHECKING

from builder.photos.kinds import Photo, Rendition
from builder.photos.opened import opened, orientation

if TYPE_CHECKING:
    from PIL.Image import Image

_QUALITY = 80
_EFFORT = 4


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
