"""Pictures as bytes, made on the spot, some of them with what a camera writes."""

from __future__ import annotations

import io
import struct
import zlib

from PIL import Image, ImageCms

SECRET = b"Lantern camera 7"


def pattern(width: int, height: int, mode: str = "RGB") -> Image.Image:
    """Return a picture whose four quarters differ: red, green, blue and white from the top left by rows."""
    image = Image.new("RGB", (width, height), "white")
    for box, colour in (((0, 0), "red"), ((width // 2, 0), "lime"), ((0, height // 2), "blue")):
        image.paste(Image.new("RGB", (width // 2, height // 2), colour), box)
    return image.convert(mode)


def saved(image: Image.Image, kind: str = "PNG", **options: object) -> bytes:
    """Return a picture as the bytes of a file."""
    out = io.BytesIO()
    image.save(out, kind, **options)
    return out.getvalue()


def camera_jpeg(width: int = 1200, height: int = 800, *, orientation: int = 1) -> bytes:
    """Return a JPEG with camera, place, comment, thumbnail-like notes, XMP and a colour profile in it."""
    exif = Image.Exif()
    exif[0x0112] = orientation
    exif[0x010F] = SECRET.decode()  # maker
    exif.get_ifd(0x8825)[1] = "N"
    exif.get_ifd(0x8825)[2] = (47.0, 22.0, 33.0)  # latitude
    profile = ImageCms.ImageCmsProfile(ImageCms.createProfile("sRGB")).tobytes()
    return saved(
        pattern(width, height),
        "JPEG",
        exif=exif.tobytes(),
        comment=SECRET,
        xmp=b"<x:xmpmeta>" + SECRET + b"</x:xmpmeta>",
        icc_profile=profile,
        quality=90,
    )


def png_of_size(width: int, height: int) -> bytes:
    """Return the start of a PNG that claims a size and holds almost nothing: a decompression bomb's shape."""

    def chunk(kind: bytes, data: bytes) -> bytes:
        return struct.pack(">I", len(data)) + kind + data + struct.pack(">I", zlib.crc32(kind + data))

    head = struct.pack(">IIBBBBB", width, height, 8, 2, 0, 0, 0)
    return b"\x89PNG\r\n\x1a\n" + chunk(b"IHDR", head) + chunk(b"IDAT", zlib.compress(b"\0" * 64)) + chunk(b"IEND", b"")
