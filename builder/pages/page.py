"""What a page is: its address, what it says, the template that shows it, and the files that it offers."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass
from typing import TypeAlias, TypeVar

from builder.pages.parts import Name

T = TypeVar("T")


@dataclass(frozen=True, kw_only=True)
class DataEntry:
    """A data file: its address from the site's root, what it is and holds, its size in bytes.

    `log` tells the log of a run from figures.
    """

    href: str
    label: str
    holds: str
    size: int
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


@dataclass(frozen=True, kw_only=True, eq=False)
class Page:
    """One page: its address from the site's root, its template, and the view that the template shows.

    `section` is the entry of the navigation that the page belongs to; `indexed` says whether search may show it;
    `link_base` replaces `root` before links where a page is shown at other addresses too; `linked` is its linked data,
    JSON that can stand inside a script element.
    """

    path: str
    template: str
    title: str
    description: str
    view: object
    section: str = ""
    trail: tuple[Name, ...] = ()
    scripts: tuple[str, ...] = ()
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


Makers: TypeAlias = Mapping[str, Callable[[], Page]]  # a page's address -> what makes the page


class LazyMapping(Mapping[str, T]):
    """A mapping that knows its keys and makes a value, each time anew, when it is asked for."""

    def __init__(self, makers: Mapping[str, Callable[[], T]]) -> None:
        self._makers = makers

    def __getitem__(self, key: str) -> T:
        return self._makers[key]()

    def __contains__(self, key: object) -> bool:
        return key in self._makers

    def __iter__(self) -> Iterator[str]:
        return iter(self._makers)

    def __len__(self) -> int:
        return len(self._makers)


_LONGEST = 155  # characters of a description that search engines and previews show


def short_description(text: str) -> str:
    """Return a text on one line, cut at a word to the length that previews show."""
    line = " ".join(text.split(" ")).replace("\n", " ").strip()
    if len(line) <= _LONGEST:
        return line
    return f"{line[:_LONGEST].rsplit(' ', 1)[0]} …"
