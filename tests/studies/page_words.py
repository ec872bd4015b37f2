"""What a published page says, block by block as a reader sees it: sentences, and cells with their row and column."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from html.parser import HTMLParser

BLOCKS = frozenset({"p", "li", "td", "th", "dt", "dd", "caption", "h1", "h2", "h3", "figcaption"})
UNREAD = frozenset({"svg", "script", "style", "nav", "head"})
# Narrow and ordinary spaces that do not break, and the minus sign, as plain characters.
PLAIN = str.maketrans({"\u00a0": " ", "\u202f": " ", "\u2009": " ", "\u2212": "-"})


@dataclass(frozen=True, kw_only=True)
class Said:
    """One block of words: its element, the anchor of its section and heading, and for a cell its place in the table.

    `row` is the row's own heading, `column` the column's; `term` is the last term before a definition.
    """

    tag: str
    text: str
    section: str
    heading: str
    caption: str = ""
    row: str = ""
    column: str = ""
    term: str = ""


def page_words(html: str) -> tuple[Said, ...]:
    """Return every block of words of a page, in order."""
    reader = _Reader()
    reader.feed(html)
    reader.close()
    return tuple(_placed(reader.blocks))


@dataclass(frozen=True, kw_only=True)
class _Block:
    tag: str
    id: str
    text: str
    row: int  # of its table, from 0; that of the column headings
    cell: int


class _Reader(HTMLParser):
    """Collects blocks; what stands inside another block belongs to both."""

    def __init__(self) -> None:
        super().__init__(convert_charrefs=True)
        self.blocks: list[_Block] = []
        self._open: list[tuple[str, str, list[str]]] = []
        self._unread = 0
        self._row = self._cell = -1

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        if tag in UNREAD:
            self._unread += 1
        elif tag == "table":
            self._row = -1
        elif tag == "tr":
            self._row, self._cell = self._row + 1, -1
        if tag in BLOCKS:
            self._cell += tag in {"td", "th"}
            self._open.append((tag, dict(attrs).get("id") or "", []))

    def handle_endtag(self, tag: str) -> None:
        if tag in UNREAD:
            self._unread -= 1
        elif self._open and self._open[-1][0] == tag:
            _, name, words = self._open.pop()
            text = " ".join("".join(words).translate(PLAIN).split())
            self.blocks.append(_Block(tag=tag, id=name, text=text, row=self._row, cell=self._cell))

    def handle_data(self, data: str) -> None:
        if not self._unread:
            for _, _, words in self._open:
                words.append(data)


def _placed(blocks: list[_Block]) -> Iterator[Said]:
    section = heading = caption = row = term = ""
    columns: dict[int, str] = {}
    for block in blocks:
        if block.tag in {"h1", "h2", "h3"}:
            section, heading = (block.id or section), block.text
        elif block.tag == "caption":
            caption, columns = block.text, {}
        elif block.tag == "dt":
            term = block.text
        cell = block.tag in {"td", "th"}
        if cell and block.row == 0:
            columns[block.cell] = block.text
        elif block.tag == "th":
            row = block.text
        yield Said(
            tag=block.tag,
            text=block.text,
            section=section,
            heading=heading,
            caption=caption if cell else "",
            row=row if cell and block.row else "",
            column=columns.get(block.cell, "") if cell else "",
            term=term if block.tag == "dd" else "",
        )
