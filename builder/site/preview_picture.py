"""Preview images: the picture that stands for a result where its page is linked from, 1200 by 630 pixels."""

from __future__ import annotations

import io
import re
import unicodedata
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from xml.etree import ElementTree as ET

from builder.archive.catalogue import Archive
from builder.charts.labels import clean_text, shorten, text_width
from builder.charts.style import LIGHT
from builder.comparison import Subject, Tested, by_hand, leads
from builder.core.quantity import NO_BREAK
from builder.core.results import FIGURES, PREVIEW_FIGURES
from builder.core.xml import element, xml_text
from builder.pages.finding import Finding, finding
from builder.pages.home import site_title
from builder.pages.parts import Num, day, num, plain_text

WIDTH, HEIGHT = 1200, 630
_EDGE = 70
_ROOM = WIDTH - 2 * _EDGE
# Embedded in the renderer; no other family, so that a picture is the same on every machine.
_FONT = "Liberation Sans"
# What that face covers; scripts beyond it would be drawn with whatever the machine has, or as empty boxes.
_COVERED = re.compile(
    "[\u0020-\u007e\u00a0-\u017f\u0386\u0388-\u038a\u038c\u038e-\u03a1\u03a3-\u03ce\u0400-\u045f"
    "\u2013\u2014\u2018-\u201a\u201c-\u201e\u2020\u2022\u2026\u2039\u203a\u20ac\u2122\u2212]*"
)
_FRAME = {
    "xmlns": "http://www.w3.org/2000/svg",
    "width": str(WIDTH),
    "height": str(HEIGHT),
    "viewBox": f"0 0 {WIDTH} {HEIGHT}",
}
_PLACES = 3  # for figures beside the first that a result has
_COLOURS = 32


@dataclass(frozen=True, kw_only=True)
class PreviewPicture:
    """A preview image: its address from the site's root, the drawing, and what it shows in words."""

    href: str
    svg: str
    alt: str


def preview(tested: Tested, subject: Subject) -> PreviewPicture:
    """Return the preview image of a result: what was tested, and the figures at stock that lead its page."""
    archive, found = tested.catalogue.archive, finding(subject, tested)
    figures = _figures(subject)
    shapes = [*_paper(), *_heading(archive, found), *_numbers(subject, figures), *_foot(archive, subject)]
    said = "; ".join(f"{label} {number.text}" for label, number in figures).replace(NO_BREAK, " ")
    return PreviewPicture(
        href=f"previews/{subject.id}.png",
        svg=xml_text(element("svg", *shapes, **_FRAME)),
        alt=f"{found.text} {said}." if said else f"{subject.title}.",
    )


def preview_png(picture: PreviewPicture) -> bytes:
    """Return a preview image as PNG, in few colours: text on paper needs no more."""
    import vl_convert
    from PIL import Image

    drawn = Image.open(io.BytesIO(vl_convert.svg_to_png(picture.svg)))
    out = io.BytesIO()
    drawn.convert("RGB").quantize(_COLOURS, dither=Image.Dither.NONE).save(out, "PNG", optimize=True)
    return out.getvalue()


def drawable(text: str, instead: str) -> str:
    """Return a text that the picture's font can draw; `instead` where it cannot.

    >>> drawable("Fenwick Slab", "fenwick-slab"), drawable("مبرد", "cooler-3")
    ('Fenwick Slab', 'cooler-3')
    """
    cleaned = clean_text(unicodedata.normalize("NFC", text))
    return cleaned if cleaned and _COVERED.fullmatch(cleaned) else instead


def _figures(subject: Subject) -> Sequence[tuple[str, Num]]:
    stock = subject.stock
    if stock is None or not leads(stock):
        return ()
    first, *others = [kind for kind in PREVIEW_FIGURES if kind in stock.figures][: 1 + _PLACES] or [""]
    mark = ", read by hand" if by_hand(stock) else ""
    names = {first: f"{FIGURES[first].name}{mark}", **{k: FIGURES[k].name for k in others}} if first else {}
    return [(name, num(stock.figures[kind].estimate)) for kind, name in names.items()]


def _paper() -> Iterator[ET.Element]:
    yield element("rect", width=str(WIDTH), height=str(HEIGHT), fill=LIGHT.paper)
    yield element("rect", width=str(WIDTH), height="14", fill=LIGHT.ink)
    for y in ("214", "548"):
        yield element("rect", x=str(_EDGE), y=y, width=str(_ROOM), height="2", fill=LIGHT.line)


def _heading(archive: Archive, found: Finding) -> Iterator[ET.Element]:
    subject, said = found.subject, plain_text(found.short)
    yield _words(70, drawable(site_title(archive), "Cooler tests"), _Face(size=26, colour=LIGHT.ink_soft))
    yield _words(136, drawable(subject.cooler.name, subject.bundle.cooler), _Face(size=58, weight="bold"))
    yield _words(188, f"on {drawable(subject.card.name, subject.bundle.card)}: {said}", _Face(size=34))


def _numbers(subject: Subject, figures: Sequence[tuple[str, Num]]) -> Iterator[ET.Element]:
    if not figures:
        stock = subject.stock
        said = f"At stock: {stock.verdict}, no final figure" if stock else "No run at stock settings"
        yield _words(330, said, _Face(size=40))
        return
    (label, first), *others = figures
    yield _words(264, label, _Face(size=26, colour=LIGHT.ink_soft))
    yield _number(362, first, 96)
    step = _ROOM // _PLACES
    for place, (label, number) in enumerate(others):
        left = _EDGE + place * step
        yield _words(446, label, _Face(size=22, colour=LIGHT.ink_soft), left=left, room=step - 20)
        yield _number(500, number, 42, left=left, room=step - 20)


def _foot(archive: Archive, subject: Subject) -> Iterator[ET.Element]:
    protocol = drawable(subject.protocol.name, subject.bundle.protocol)
    tested = f"Tested {day(subject.bundle.tested).text}, protocol {protocol}; value ± expanded uncertainty (95 %)"
    yield _words(588, tested, _Face(size=22, colour=LIGHT.ink_soft))
    if notice := drawable(archive.notice, ""):
        yield _words(616, notice, _Face(size=16, colour=LIGHT.ink_soft))


@dataclass(frozen=True, kw_only=True)
class _Face:
    size: float
    colour: str = LIGHT.ink
    weight: str = "normal"


def _words(y: int, text: str, face: _Face, *, left: int = _EDGE, room: float = _ROOM) -> ET.Element:
    shown = {"font-family": _FONT, "font-size": f"{face.size:g}", "font-weight": face.weight, "fill": face.colour}
    return element("text", shorten(text, room, face.size), x=str(left), y=str(y), **shown)


def _number(y: int, number: Num, size: float, *, left: int = _EDGE, room: float = _ROOM) -> ET.Element:
    fitted = min(size, size * room / text_width(number.text, size))
    return _words(y, number.text, _Face(size=fitted, weight="bold"), left=left, room=room + 1)
