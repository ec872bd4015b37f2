"""XML as text: everything escaped, and characters that XML 1.0 cannot hold left out."""

from __future__ import annotations

import re
from collections.abc import Iterable
from xml.sax.saxutils import escape, quoteattr

DECLARATION = '<?xml version="1.0" encoding="utf-8"?>'

# Source: XML 1.0, production 2 (Char).
_NO_CHARACTER = re.compile("[^\t\n\r\u0020-\ud7ff\ue000-\ufffd\U00010000-\U0010ffff]")


def element(tag: str, text: str = "", /, **attributes: str) -> str:
    """Return an element that holds text; an empty one where there is none.

    >>> element("title", "a < b"), element("link", href="x")
    ('<title>a &lt; b</title>', '<link href="x"/>')
    """
    start = f"{tag}{_attributes(attributes)}"
    return f"<{start}>{escape(_allowed(text))}</{tag}>" if text else f"<{start}/>"


def parent(tag: str, children: Iterable[str], /, **attributes: str) -> str:
    """Return an element that holds others, which are already XML."""
    inner = "\n".join(children)
    return f"<{tag}{_attributes(attributes)}>\n{inner}\n</{tag}>"


def document(root: str) -> bytes:
    """Return a whole document."""
    return f"{DECLARATION}\n{root}\n".encode()


def _attributes(attributes: dict[str, str]) -> str:
    named = ((name.replace("_", ":"), value) for name, value in attributes.items())
    return "".join(f" {name}={quoteattr(_allowed(value))}" for name, value in named)


def _allowed(text: str) -> str:
    return _NO_CHARACTER.sub("", text)
