"""Addresses of figures, and the links to them in scripts and notes: what they say, where, and what has no link."""

from __future__ import annotations

import re
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field
from functools import cache

from markdown_it import MarkdownIt
from markdown_it.token import Token

SCHEME = "figure:"
GRAMMAR = "figure:POINT/KIND or figure:BUNDLE/POINT/KIND, then #change, #own or ~BUNDLE where a difference is meant"

_ADDRESS = re.compile(
    r"figure:(?:(?P<bundle>[\w-]+)/)?(?P<point>[\w-]+)/(?P<kind>\w+)(?:~(?P<other>[\w-]+)|(?P<change>#change)|(?P<own>#own))?",
    re.ASCII,
)


@dataclass(frozen=True, kw_only=True)
class Address:
    """What a link names: a figure, its change from stock, or how it differs from `other` or the card's `own` cooler."""

    bundle: str
    point: str
    kind: str
    other: str = ""
    change: bool = False
    own: bool = False

    @property
    def relative(self) -> bool:
        """Whether it names a difference and no value."""
        return bool(self.other) or self.change or self.own

    def text(self, *, here: str = "") -> str:
        """Return the address as one writes it in the files of the bundle `here`.

        >>> Address(bundle="slab", point="stock", kind="core_rise", other="twin").text(here="slab")
        'figure:stock/core_rise~twin'
        """
        bundle = "" if self.bundle == here else f"{self.bundle}/"
        ending = f"~{self.other}" if self.other else "#change" if self.change else "#own" if self.own else ""
        return f"{SCHEME}{bundle}{self.point}/{self.kind}{ending}"


def is_figure_link(target: str) -> bool:
    """Return whether a link's target is in the scheme of figures, well written or not."""
    return target.casefold().startswith(SCHEME)


def parse_address(target: str, *, here: str) -> Address | None:
    """Return the address that a link's target spells in the files of the bundle `here`, or None where it spells none.

    >>> parse_address("figure:power-80/board_power#change", here="slab")
    Address(bundle='slab', point='power-80', kind='board_power', other='', change=True, own=False)
    """
    match = _ADDRESS.fullmatch(target)
    if match is None:
        return None
    return Address(
        bundle=match["bundle"] or here,
        point=match["point"],
        kind=match["kind"],
        other=match["other"] or "",
        change=match["change"] is not None,
        own=match["own"] is not None,
    )


# --- Scripts and notes as Markdown, taken apart

_MOMENT = re.compile(r"\s*((?:\d{1,2}:)?[0-5]?\d:[0-5]\d)\b[\s\u00b7:–—-]*(.*)", re.DOTALL)
_NOT_A_LINK = re.compile(r"\]\s*\(\s*<?\s*figure:[^)\n]*", re.IGNORECASE)


@dataclass(frozen=True, kw_only=True)
class Moment:
    """A moment of the video that a heading marks; `at` is empty where the heading gives no time."""

    at: str
    label: str


@dataclass(frozen=True, kw_only=True)
class FigureLink:
    """A link to a figure: its words, target, line from 1, and the headings before it, the last one nearest."""

    words: str
    target: str
    line: int
    headings: tuple[Moment, ...]


@dataclass(frozen=True, kw_only=True)
class Passage:
    """Words that carry no link, with the line they start on."""

    text: str
    line: int


@dataclass(frozen=True, kw_only=True)
class Document:
    """A text, taken apart; `broken` was meant as links to figures and is none, `times` are those of headings."""

    links: tuple[FigureLink, ...]
    passages: tuple[Passage, ...]
    broken: tuple[Passage, ...]
    times: tuple[Passage, ...]


def read_markdown(text: str) -> Document:
    """Return the links to figures and the unlinked words of a Markdown text (CommonMark with tables)."""
    reader = _Reader()
    tokens = _parser().parse(text)
    for index, token in enumerate(tokens):
        reader.line = token.map[0] + 1 if token.map else reader.line
        if token.type == "inline":
            reader.block(token.children or [], heading=index > 0 and tokens[index - 1].type == "heading_open")
    broken = tuple(p for passage in reader.passages for p in _broken(passage))
    return Document(
        links=tuple(reader.links), passages=tuple(reader.passages), broken=broken, times=tuple(reader.times)
    )


@cache
def _parser() -> MarkdownIt:
    parser = MarkdownIt("commonmark", {"html": False}).enable("table")
    # Any target is a link here, since nothing is rendered.
    parser.validateLink = bool  # type: ignore[method-assign,assignment]
    return parser


@dataclass(kw_only=True)
class _Reader:
    """What was found so far; `block` takes the inline tokens of one paragraph, heading or cell of a table."""

    links: list[FigureLink] = field(default_factory=list)
    passages: list[Passage] = field(default_factory=list)
    times: list[Passage] = field(default_factory=list)
    headings: tuple[Moment, ...] = ()
    line: int = 1

    def block(self, children: Sequence[Token], *, heading: bool) -> None:
        if heading:
            said = "".join(_text(child) for child in children)
            match = _MOMENT.fullmatch(said)
            moment = Moment(at=match[1] if match else "", label=(match[2] if match else said).strip())
            self.headings = (*self.headings, moment)
            self.times += [Passage(text=moment.at, line=self.line)] if moment.at else []
        plain = ""
        line = self.line
        for inside in _parts(children):
            words = "".join(_text(child) for child in inside.children)
            if is_figure_link(inside.href):
                text = words.replace("\n", " ")
                self.links.append(FigureLink(words=text, target=inside.href, line=line, headings=self.headings))
                plain += "\ufffc" + "\n" * words.count("\n")
            else:
                plain += words
            line += words.count("\n")
        self.passages.append(Passage(text=plain, line=self.line))


@dataclass(frozen=True, kw_only=True)
class _Part:
    href: str
    children: Sequence[Token]


def _parts(children: Sequence[Token]) -> Iterator[_Part]:
    """Yield runs of tokens inside a link, and single tokens outside; links do not nest in CommonMark."""
    inside: list[Token] | None = None
    href = ""
    for child in children:
        if child.type == "link_open":
            inside, href = [], str(child.attrGet("href") or "")
        elif child.type == "link_close":
            yield _Part(href=href, children=inside or [])
            inside = None
        elif inside is not None:
            inside.append(child)
        else:
            yield _Part(href="", children=[child])


def _text(token: Token) -> str:
    if token.type == "text":
        return token.content
    # Code is quoted as it is and says nothing, but parts the words beside it.
    return {"softbreak": "\n", "hardbreak": "\n", "code_inline": "\ufffc"}.get(token.type, "")


def _broken(passage: Passage) -> Iterator[Passage]:
    for match in _NOT_A_LINK.finditer(passage.text):
        line = passage.line + passage.text.count("\n", 0, match.start())
        yield Passage(text=match.group().lstrip("] (").strip(), line=line)
