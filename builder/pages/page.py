"""What the site is made from, and what its plan consists of."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

from builder.comparison.subject import Subject
from builder.pages.parts import Name


@dataclass(frozen=True, kw_only=True)
class DataEntry:
    """A data file: its address from the site's root, what it is and holds, its size in bytes.

    `bundle` is empty for files of the whole archive; `log` tells the log of a run from figures.
    """

    href: str
    label: str
    holds: str
    size: int
    bundle: str = ""
    log: bool = False


@dataclass(frozen=True, kw_only=True)
class Download:
    """A file that a page offers: its address from the site's root, and what it holds."""

    label: str
    href: str
    note: str = ""


@dataclass(frozen=True, kw_only=True)
class Preview:
    """The picture that stands for a page where it is linked from: its address from the site's root, and its words."""

    href: str
    alt: str


@dataclass(frozen=True, kw_only=True)
class Missing:
    """The page for an address that does not exist."""

    suggestions: tuple[Name, ...]


@dataclass(frozen=True, kw_only=True, eq=False)
class Page:
    """One page: its address from the site's root, template, and what the template shows.

    `section` is the entry of the navigation that it belongs to; `depends_on` names what it was made from
    (`bundle:x`, `card:x`, ...); `link_base` replaces `root` before links where a page is shown at other addresses too.
    """

    path: str
    template: str
    title: str
    description: str
    view: object
    section: str = ""
    trail: tuple[Name, ...] = ()
    scripts: tuple[str, ...] = ()
    depends_on: tuple[str, ...] = ()
    indexed: bool = True
    link_base: str = ""
    linked: str = ""
    preview: Preview | None = None

    @property
    def root(self) -> str:
        """Return what leads from this page to the site's root, such as `../`."""
        return "../" * self.path.count("/")

    @property
    def link_root(self) -> str:
        """Return what stands before the page's links to the site."""
        return self.link_base or self.root


def _outline(path: str) -> Page:
    """Return a page that has its address only, where another one is wanted and this one would cost much."""
    return Page(path=path, template="", title="", description="", view=Missing(suggestions=()))


def _depends(subject: Subject) -> tuple[str, ...]:
    bundle = subject.bundle
    return (
        f"card:{bundle.card}",
        f"cooler:{bundle.cooler}",
        f"bench:{bundle.bench}",
        f"protocol:{bundle.protocol}",
    )


def _bundles(found: Iterable[Subject]) -> tuple[str, ...]:
    return tuple(f"bundle:{s.id}" for s in found)


_LONGEST = 155


def _short(text: str) -> str:
    """Return a text cut at a word to the length that previews show."""
    line = " ".join(text.split(" ")).replace("\n", " ").strip()
    if len(line) <= _LONGEST:
        return line
    return f"{line[:_LONGEST].rsplit(' ', 1)[0]} …"
