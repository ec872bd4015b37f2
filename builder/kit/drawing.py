"""Cards as vectors: transparent SVG in the colours of a palette."""

from __future__ import annotations

from xml.etree import ElementTree as ET

from builder.charts.config import FONT
from builder.charts.palette import Palette
from builder.kit.cards import HEIGHT, PAD, WIDTH, Card, CardText

SVG = "http://www.w3.org/2000/svg"


def card_svg(card: Card, palette: Palette) -> str:
    """Return a card as SVG of 1920 by 1080 with nothing behind its text; all text is escaped."""
    root = ET.Element(
        "svg",
        {
            "xmlns": SVG,
            "viewBox": f"0 0 {WIDTH} {HEIGHT}",
            "width": str(WIDTH),
            "height": str(HEIGHT),
            "role": "img",
            "aria-labelledby": "card-title card-desc",
            "font-family": FONT,
        },
    )
    for name, words in (("title", card.title), ("desc", card.description)):
        ET.SubElement(root, name, {"id": f"card-{name}"}).text = words
    for y in card.rules:
        line = {"x1": str(PAD), "x2": str(WIDTH - PAD), "y1": f"{y:g}", "y2": f"{y:g}", "stroke": palette.line}
        ET.SubElement(root, "line", {**line, "stroke-width": "3"})
    for text in card.texts:
        ET.SubElement(root, "text", _attributes(text, palette)).text = text.text
    return ET.tostring(root, encoding="unicode")


def _attributes(text: CardText, palette: Palette) -> dict[str, str]:
    return {
        "x": f"{text.x:g}",
        "y": f"{text.y:g}",
        "font-size": f"{text.size:g}",
        "fill": palette.ink_soft if text.soft else palette.ink,
        **({"text-anchor": text.align} if text.align != "start" else {}),
        **({"font-weight": "bold"} if text.bold else {}),
    }
