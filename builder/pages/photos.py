"""The photos of a result page."""

from __future__ import annotations

from collections.abc import Mapping

from builder.content import photo_html
from builder.pages.kinds import PhotoView
from builder.photos import Photo
from builder.views.subject import Subject


def photo_views(subject: Subject, photos: Mapping[str, Photo], *, root: str = "../") -> tuple[PhotoView, ...]:
    """Return the photos that a bundle names, in its order; those of its notes stand in the notes."""
    named = ((photo, photos.get(photo.file)) for photo in subject.bundle.photos)
    return tuple(
        PhotoView(html=photo_html(found, photo.alt, root), caption=photo.caption) for photo, found in named if found
    )
