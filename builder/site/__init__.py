"""From the plan to bytes: words and themes are read here, pages rendered."""

from builder.pages.photo_sizes import Photo, Rendition, photo_addresses
from builder.site.addresses import changed_days
from builder.site.data_package import DataFile
from builder.site.exports import ExportInput, Exports
from builder.site.feed_and_sitemap import Listed, page_list_files
from builder.site.photos import BYTES_LIMIT, PIXELS_LIMIT, Size, UnusablePhotoError, measure_photo, renditions
from builder.site.preview_picture import PreviewPicture
from builder.site.theme import Renderer, Theme, open_theme, renderer, static_files
from builder.site.words import Words, read_words
from builder.site.write_site import SiteRenderer, words_problems

__all__ = [
    "Renderer",
    "SiteRenderer",
    "Theme",
    "Words",
    "open_theme",
    "read_words",
    "renderer",
    "static_files",
    "words_problems",
]


# --- What programs read: data files, feed, sitemap and linked data of one archive


__all__ = [
    "DataFile",
    "ExportInput",
    "Exports",
    "Listed",
    "PreviewPicture",
    "changed_days",
    "page_list_files",
]


# --- Photos of a bundle: checked, and made small without the data that a camera wrote into them


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
