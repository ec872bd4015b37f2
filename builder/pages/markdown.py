"""Markdown of testers as HTML that is safe to place on a page: no raw HTML, narrow links, known photos alone."""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass
from functools import cache
from html import escape
from itertools import chain, count
from typing import TypeAlias
from urllib.parse import unquote

from markdown_it import MarkdownIt
from markdown_it.token import Token

from builder.core.quantity import NO_BREAK
from builder.pages.photo_sizes import Photo

_OUTSIDE = re.compile(r"https?://", re.IGNORECASE)
_FIGURE = re.compile(r"figure:", re.IGNORECASE)
_HAS_SCHEME = re.compile(r"[a-z][a-z0-9+.-]*:", re.IGNORECASE)
_DEEPEST = 6
# A number and the unit behind it, which stay on one line.
_UNIT = re.compile(r"(?<=\d) (?=(?:%|°[CF]|K/W|K|W|V|mm|min|s|dB\(A\)|MHz|fps|L/min)(?!\w))")


# A figure's address -> its place on the site, from the root or as an anchor of the page itself; empty for none.
FigurePlace: TypeAlias = Callable[[str], str]


@dataclass(frozen=True, kw_only=True)
class Heading:
    """A heading of a fragment: its level, anchor and text."""

    level: int
    anchor: str
    text: str


@dataclass(frozen=True, kw_only=True)
class Fragment:
    """HTML made from Markdown, safe to place on a page; `title` is the first level-one heading, taken out."""

    title: str
    html: str
    headings: tuple[Heading, ...] = ()

    def __bool__(self) -> bool:
        """Return whether there is anything to show."""
        return bool(self.html.strip())


@dataclass(frozen=True, kw_only=True)
class PictureReference:
    """A picture that Markdown names: its file, its words, and the line it stands on."""

    file: str
    alt: str
    line: int


def picture_references(text: str) -> tuple[PictureReference, ...]:
    """Return the pictures that a text names, in order."""
    found: list[PictureReference] = []
    line = 1
    for token in _parser(every_picture=True).parse(text):
        line = token.map[0] + 1 if token.map else line
        found.extend(_pictures_of(token.children or (), line))
    return tuple(found)


def _pictures_of(children: Iterable[Token], line: int) -> Iterable[PictureReference]:
    for child in children:
        line += child.type in ("softbreak", "hardbreak")
        if child.type == "image":
            yield PictureReference(file=_file_of(child), alt=_words_of(child), line=line)


def render_markdown(  # noqa: PLR0913 - what a page knows and its words do not
    text: str,
    *,
    root: str = "",
    shift: int = 0,
    prefix: str = "",
    photos: Mapping[str, Photo] | None = None,
    figures: FigurePlace | None = None,
) -> Fragment:
    """Return Markdown (CommonMark with tables) as HTML.

    `root` leads from the page to the site's root and is put before relative links, which are written from there;
    `shift` lowers every heading by so many levels; `prefix` starts every anchor, so that a fragment's anchors
    cannot meet those of its page. Raw HTML comes out as text; so do pictures, save those that `photos` has by
    file; links reach http, https, the site itself or an anchor. Links to figures lead where `figures` says.
    """
    tokens = _parser(pictures=photos is not None, figures=figures is not None).parse(text)
    _prepare_pictures(tokens, photos or {}, root)
    title = _take_title(tokens) if shift == 0 else ""
    headings = _prepare_headings(tokens, shift=shift, prefix=prefix)
    if figures is not None:
        _prepare_figure_links(tokens, figures)
    _prepare_links(tokens, root)
    _prepare_tables(tokens)
    for token in _all_tokens(tokens):
        if token.type == "text":
            token.content = _UNIT.sub(NO_BREAK, token.content)
    html = str(_parser().renderer.render(tokens, _parser().options, {}))
    return Fragment(title=title, html=html, headings=headings)


@cache
def _parser(*, pictures: bool = False, every_picture: bool = False, figures: bool = False) -> MarkdownIt:
    parser = MarkdownIt("commonmark", {"html": False}).enable("table")
    if not (pictures or every_picture):
        parser.disable("image")

    def allowed(url: str) -> bool:
        return every_picture or (figures and bool(_FIGURE.match(url))) or safe_link(url)

    parser.validateLink = allowed  # type: ignore[method-assign] # the documented way to narrow links
    return parser


def _file_of(image: Token) -> str:
    return unquote(str(image.attrGet("src") or ""))


def _words_of(image: Token) -> str:
    return " ".join(_inline_text(image).split())


def _prepare_pictures(tokens: Iterable[Token], photos: Mapping[str, Photo], root: str) -> None:
    for token in _all_tokens(tokens):
        token.children = [_picture(t, photos, root) if t.type == "image" else t for t in token.children or ()] or None


def _picture(image: Token, photos: Mapping[str, Photo], root: str) -> Token:
    photo, words = photos.get(_file_of(image)), _words_of(image)
    if photo is None:
        return Token("text", "", 0, content=words)
    return Token("html_inline", "", 0, content=photo_html(photo, words, root))


def photo_html(photo: Photo, alt: str, root: str) -> str:
    """Return a photo as HTML that loads late, in the width that its place needs."""
    attributes = {
        "class": "photo",
        "src": photo.source(root),
        "srcset": photo.sources(root),
        "sizes": "(max-width: 60rem) 92vw, 44rem",
        "width": str(photo.shown_width),
        "height": str(photo.shown_height),
        "alt": alt,
        "loading": "lazy",
        "decoding": "async",
    }
    return "<img " + " ".join(f'{name}="{escape(value)}"' for name, value in attributes.items()) + ">"


def safe_link(url: str) -> bool:
    """Return whether a link may stand on a page: http, https, relative to the site, or an anchor.

    >>> safe_link("https://example.org"), safe_link("cards/a.html"), safe_link("#top")
    (True, True, True)
    >>> safe_link("javascript:alert(1)"), safe_link("//example.org"), safe_link("/etc"), safe_link("../../x")
    (False, False, False, False)
    """
    bare = "".join(ch for ch in url.strip() if not unicodedata.category(ch).startswith("C"))
    if _OUTSIDE.match(bare):
        return True
    leaves = bare.startswith(("/", "\\")) or ".." in bare.split("#", maxsplit=1)[0].split("/")
    return bare == url.strip() and not (leaves or _HAS_SCHEME.match(bare))


def _take_title(tokens: list[Token]) -> str:
    if not (tokens and tokens[0].type == "heading_open" and tokens[0].tag == "h1"):
        return ""
    title = _inline_text(tokens[1])
    del tokens[:3]
    return title


def _prepare_headings(tokens: Sequence[Token], *, shift: int, prefix: str) -> tuple[Heading, ...]:
    found: list[Heading] = []
    used: set[str] = set()
    # The page has its own level-one heading, so a fragment's start at two.
    for opening, inline, closing in zip(tokens, tokens[1:], tokens[2:], strict=False):
        if opening.type != "heading_open":
            continue
        level = min(_DEEPEST, max(2, int(opening.tag[1]) + shift))
        opening.tag = closing.tag = f"h{level}"
        text = _inline_text(inline)
        wanted = prefix + slug(text)
        anchors = chain([wanted], (f"{wanted}-{number}" for number in count(2)))
        anchor = next(anchor for anchor in anchors if anchor not in used)
        used.add(anchor)
        opening.attrSet("id", anchor)
        found.append(Heading(level=level, anchor=anchor, text=text))
    return tuple(found)


def _inline_text(token: Token) -> str:
    return "".join(child.content for child in token.children or () if child.type in ("text", "code_inline"))


def slug(text: str) -> str:
    """Return a text as an anchor: small letters and digits of any script, joined by hyphens.

    >>> slug("What the ± means")
    'what-the-means'
    """
    words = re.findall(r"\w+", unicodedata.normalize("NFKC", text).casefold())
    return "-".join(words).replace("_", "-") or "section"


def _prepare_figure_links(tokens: Iterable[Token], figures: FigurePlace) -> None:
    for token in _all_tokens(tokens):
        children = token.children or []
        for index, opening in enumerate(children):
            href = str(opening.attrGet("href") or "") if opening.type == "link_open" else ""
            if not _FIGURE.match(href):
                continue
            if place := figures(href):
                opening.attrSet("href", place)
            else:
                closing = next(child for child in children[index:] if child.type == "link_close")
                opening.tag = closing.tag = "span"
                opening.attrs = {}


def _prepare_links(tokens: Iterable[Token], root: str) -> None:
    for token in _all_tokens(tokens):
        href = str(token.attrGet("href") or "") if token.type == "link_open" else ""
        if href and not href.startswith("#") and not _OUTSIDE.match(href):
            token.attrSet("href", root + href)


def _all_tokens(tokens: Iterable[Token]) -> Iterable[Token]:
    for token in tokens:
        yield token
        yield from _all_tokens(token.children or ())


def _prepare_tables(tokens: list[Token]) -> None:
    """Put tables into a container that scrolls, name the scope of headings, and turn style into class.

    The pages' security policy forbids style attributes.
    """
    left = sum(token.type == "table_open" for token in tokens)
    for index in range(len(tokens) - 1, -1, -1):
        token = tokens[index]
        if token.type == "table_open":
            tokens.insert(index, _html(f'<div class="scroll" role="region" aria-label="Table {left}" tabindex="0">'))
            left -= 1
        elif token.type == "table_close":
            tokens.insert(index + 1, _html("</div>"))
        elif token.type in ("th_open", "td_open"):
            if str(token.attrs.pop("style", "")).endswith("right"):
                token.attrSet("class", "n")
            if token.type == "th_open":
                token.attrSet("scope", "col")


def _html(text: str) -> Token:
    return Token("html_block", "", 0, content=text)
