"""A photo as pages show it, in several widths."""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Iterable
from dataclasses import dataclass

WIDTHS = (480, 960, 1600)
_SHOWN = 960  # what a browser takes that knows no choice of widths


@dataclass(frozen=True, kw_only=True)
class Rendition:
    """A photo in one width: its address from the site's root, and its bytes."""

    href: str
    data: bytes


@dataclass(frozen=True, kw_only=True)
class Photo:
    """A photo: its address without width and ending, and its size in pixels once it stands upright."""

    address: str
    width: int
    height: int

    @property
    def widths(self) -> tuple[int, ...]:
        """Return the widths that it is published in: never larger than it is."""
        return tuple(w for w in WIDTHS if w < self.width) + ((self.width,) if self.width <= WIDTHS[-1] else ())

    @property
    def shown_width(self) -> int:
        """Return the width that stands for all of them."""
        return max(w for w in self.widths if w <= _SHOWN)

    @property
    def shown_height(self) -> int:
        """Return the height at that width."""
        return self.height_at(self.shown_width)

    def height_at(self, width: int) -> int:
        """Return the height at a width, at least one pixel."""
        return max(1, round(self.height * width / self.width))

    def href(self, width: int) -> str:
        """Return the address of one width, from the site's root."""
        return f"{self.address}-{width}.webp"

    def source(self, root: str) -> str:
        """Return the address of the width that stands for all, as a page writes it."""
        return f"{root}{self.href(self.shown_width)}"

    def sources(self, root: str) -> str:
        """Return every width with its address, as the attribute `srcset` has them."""
        return ", ".join(f"{root}{self.href(w)} {w}w" for w in self.widths)


def photo_addresses(bundle: str, files: Iterable[str]) -> dict[str, str]:
    """Return the addresses of a bundle's photos by file, without width and ending, all distinct.

    >>> photo_addresses("slab", ["First mount.JPG", "first-mount.png"])
    {'First mount.JPG': 'photos/slab/first-mount', 'first-mount.png': 'photos/slab/first-mount_2'}
    """
    found: dict[str, str] = {}
    used: Counter[str] = Counter()
    for file in sorted(set(files)):
        name = _name(file)
        used[name] += 1
        # A name holds no underscore, so a numbered one meets no other.
        found[file] = f"photos/{bundle}/{name}" + (f"_{used[name]}" if used[name] > 1 else "")
    return found


def _name(file: str) -> str:
    stem = file.rpartition("/")[2].partition(".")[0]
    return "-".join(re.findall(r"[a-z0-9]+", stem.lower())) or "photo"
