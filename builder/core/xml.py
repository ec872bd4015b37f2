"""XML that the program writes: trees of the standard library, without the characters that XML 1.0 cannot hold."""

from __future__ import annotations

import re
from xml.etree import ElementTree as ET

# Source: XML 1.0, production 2 (Char).
_NO_CHARACTER = re.compile("[^\t\n\r\u0020-\ud7ff\ue000-\ufffd\U00010000-\U0010ffff]")


def element(tag: str, /, *inside: str | ET.Element, **attributes: str) -> ET.Element:
    """Return an element that holds a text, or other elements, or nothing.

    >>> xml_text(element("p", element("b", "a < b"), lang="en"))
    '<p lang="en"><b>a &lt; b</b></p>'
    """
    node = ET.Element(tag, {name: _allowed(value) for name, value in attributes.items()})
    node.text = _allowed("".join(part for part in inside if isinstance(part, str)))
    node.extend(part for part in inside if not isinstance(part, str))
    return node


def xml_text(root: ET.Element) -> str:
    """Return a tree as text on one line."""
    return ET.tostring(root, encoding="unicode")


def xml_document(root: ET.Element) -> bytes:
    """Return a tree as a whole document in UTF-8: its declaration, and what elements hold one element a line."""
    ET.indent(root, space="")
    # `>` is escaped everywhere else, so this shortens the ends of empty elements and nothing more.
    text = xml_text(root).replace(" />", "/>")
    return f'<?xml version="1.0" encoding="utf-8"?>\n{text}\n'.encode()


def _allowed(text: str) -> str:
    return _NO_CHARACTER.sub("", text)
