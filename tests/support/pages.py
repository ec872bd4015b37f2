"""What a published page holds, read from its HTML."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field
from html.parser import HTMLParser
from pathlib import Path
from urllib.parse import unquote, urlsplit

VOID = frozenset({"area", "base", "br", "col", "embed", "hr", "img", "input", "link", "meta", "source", "track", "wbr"})
NOT_TEXT = frozenset({"script", "style"})
ADDRESSES = {
    "a": ("href",),
    "link": ("href",),
    "script": ("src",),
    "img": ("src", "srcset"),
    "source": ("src", "srcset"),
    "form": ("action",),
    "iframe": ("src",),
    "object": ("data",),
    "use": ("href", "xlink:href"),
    "image": ("href", "xlink:href"),
}


def contents(folder: Path) -> dict[str, bytes]:
    """Every file of a folder by its path in it."""
    return {f.relative_to(folder).as_posix(): f.read_bytes() for f in sorted(folder.rglob("*")) if f.is_file()}


@dataclass(frozen=True, kw_only=True)
class Element:
    """A start tag with its attributes and line."""

    tag: str
    line: int
    attributes: dict[str, str]


@dataclass(frozen=True, kw_only=True)
class Words:
    """A text node with the names of the elements around it, outermost first."""

    text: str
    line: int
    inside: tuple[str, ...]


@dataclass(kw_only=True)
class Document:
    """One page: its address under the site's folder, its elements and its texts."""

    path: str
    elements: list[Element] = field(default_factory=list)
    words: list[Words] = field(default_factory=list)
    data_blocks: list[str] = field(default_factory=list)
    nameless: list[Element] = field(default_factory=list)

    @property
    def ids(self) -> list[str]:
        return [e.attributes["id"] for e in self.elements if "id" in e.attributes]

    def every(self, tag: str, **wanted: str) -> list[Element]:
        """Elements of a tag whose attributes have the wanted values; `http_equiv` stands for `http-equiv`."""
        pairs = {name.replace("_", "-"): value for name, value in wanted.items()}
        return [
            e
            for e in self.elements
            if e.tag == tag and all(e.attributes.get(n, "").casefold() == v.casefold() for n, v in pairs.items())
        ]

    def text_of(self, tag: str) -> list[str]:
        """The text nodes that stand directly in elements of a tag, outside of pictures."""
        return [w.text.strip() for w in self.words if w.inside and w.inside[-1] == tag and "svg" not in w.inside]

    def addresses(self) -> Iterator[tuple[Element, str]]:
        """Every address that the page links to or loads."""
        for element in self.elements:
            for name in ADDRESSES.get(element.tag, ()):
                value = element.attributes.get(name)
                if value is None:
                    continue
                pieces = [p.split()[0] for p in value.split(",") if p.strip()] if name == "srcset" else [value]
                yield from ((element, piece) for piece in pieces)


@dataclass(frozen=True, kw_only=True)
class Site:
    """A published site: its folder and its pages."""

    folder: Path
    pages: tuple[Document, ...]

    @property
    def moved(self) -> tuple[Document, ...]:
        """Pages that only lead on to another address."""
        return tuple(page for page in self.pages if page.every("meta", http_equiv="refresh"))

    @property
    def standing(self) -> tuple[Document, ...]:
        """Pages that stay where they are."""
        return tuple(page for page in self.pages if page not in self.moved)

    @property
    def kinds(self) -> tuple[Document, ...]:
        """One page of each kind: every page at the top, and the first of each folder with the folder's own index."""
        chosen: dict[str, Document] = {}
        for page in self.standing:
            folder, slash, name = page.path.rpartition("/")
            chosen.setdefault(folder if slash and name != "index.html" else page.path, page)
        return tuple(chosen.values())


class _Reader(HTMLParser):
    def __init__(self, path: str) -> None:
        super().__init__(convert_charrefs=True)
        self.document = Document(path=path)
        self._open: list[Element] = []
        self._unnamed_svg: Element | None = None
        self._script: list[str] | None = None

    @property
    def _inside(self) -> tuple[str, ...]:
        return tuple(e.tag for e in self._open)

    def handle_starttag(self, tag: str, attrs: Sequence[tuple[str, str | None]]) -> None:
        element = Element(tag=tag, line=self.getpos()[0], attributes={n: v or "" for n, v in attrs})
        self.document.elements.append(element)
        self._note_picture(element)
        if tag == "script" and "json" in element.attributes.get("type", ""):
            self._script = []
        if tag not in VOID:
            self._open.append(element)

    def handle_startendtag(self, tag: str, attrs: Sequence[tuple[str, str | None]]) -> None:
        self.handle_starttag(tag, attrs)
        if tag not in VOID:
            self.handle_endtag(tag)

    def handle_endtag(self, tag: str) -> None:
        if tag in self._inside:
            while self._open.pop().tag != tag:
                pass
        if tag == "script" and self._script is not None:
            self.document.data_blocks.append("".join(self._script))
            self._script = None
        if tag == "svg" and "svg" not in self._inside and self._unnamed_svg is not None:
            self.document.nameless.append(self._unnamed_svg)
            self._unnamed_svg = None

    def handle_data(self, data: str) -> None:
        if self._script is not None:
            self._script.append(data)
        if not data.strip() or NOT_TEXT & set(self._inside):
            return
        self.document.words.append(Words(text=data, line=self.getpos()[0], inside=self._inside))
        if self._inside[-2:] == ("svg", "title") and self._inside.count("svg") == 1:
            self._unnamed_svg = None

    def _note_picture(self, element: Element) -> None:
        given = element.attributes
        hidden = given.get("aria-hidden") == "true"
        labelled = bool(given.get("aria-label", "").strip() or given.get("aria-labelledby", "").strip())
        if element.tag == "img" and not (hidden or labelled or given.get("alt", "").strip()):
            self.document.nameless.append(element)
        covered = any(e.tag == "svg" or e.attributes.get("aria-hidden") == "true" for e in self._open)
        if element.tag == "svg" and not (hidden or labelled or covered):
            self._unnamed_svg = element


def read_page(text: str, path: str) -> Document:
    reader = _Reader(path)
    reader.feed(text)
    reader.close()
    return reader.document


def read_site(folder: Path) -> list[Document]:
    """Every HTML page of a folder, sorted by address."""
    files = sorted(folder.rglob("*.html"))
    return [read_page(f.read_text(encoding="utf-8"), f.relative_to(folder).as_posix()) for f in files]


def is_internal(address: str) -> bool:
    parts = urlsplit(address)
    return not parts.scheme and not parts.netloc


def target(folder: Path, page: str, address: str) -> tuple[Path, str]:
    """The file that a page's relative address means, and its fragment; a folder means its index.html."""
    parts = urlsplit(address)
    here = folder / page
    file = (here.parent / unquote(parts.path)).resolve() if parts.path else here
    return (file / "index.html" if file.is_dir() else file), unquote(parts.fragment)
