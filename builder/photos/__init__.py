"""Photos of a bundle: checked, and made small without the data that a camera wrote into them."""

from builder.photos.kinds import Photo, Rendition, photo_addresses
from builder.photos.opened import BYTES_LIMIT, PIXELS_LIMIT, Size, UnusablePhotoError, measure_photo
from builder.photos.smaller import renditions

__all__ = [
    "BYTES_LIMIT",
    "PIXELS_LIMIT",
    "Photo",
    "Rendition",
    "Size",
    "UnusablePhotoError",
    "measure_photo",
    "photo_addresses",
    "renditions",
]
