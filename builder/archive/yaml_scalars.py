"""What an unquoted value stands for (YAML 1.2.2, 10.3.2, core schema), and which characters text may hold."""

from __future__ import annotations

import math
import re
import unicodedata

from builder.core.words import SHOWN, shortened

_NULL = frozenset({"", "~", "null", "Null", "NULL"})
_BOOL = {"true": True, "True": True, "TRUE": True, "false": False, "False": False, "FALSE": False}
_WHOLE = re.compile(r"[-+]?[0-9]+|0o[0-7]+|0x[0-9a-fA-F]+")
_BASES = {"0o": 8, "0x": 16}
_DECIMAL = re.compile(r"[-+]?(?:\.[0-9]+|[0-9]+(?:\.[0-9]*)?)(?:[eE][-+]?[0-9]+)?")
_NOT_FINITE = re.compile(r"[-+]?(?:\.inf|\.Inf|\.INF)|\.nan|\.NaN|\.NAN")
_EXACT = 2**53  # whole numbers above this lose digits once they become floating point

# C0 and C1 controls less tab and line feed, marks that reorder text around them, lone surrogates, noncharacters.
_BAD = re.compile("[\x00-\x08\x0b-\x1f\x7f-\x9f\u202a-\u202e\u2066-\u2069\ud800-\udfff\ufffe\uffff]")


def plain_value(text: str) -> bool | int | float | str | None:
    """Return the value of an unquoted scalar; dates and clock times stay text.

    Raises ValueError for numbers that are not finite or that floating point cannot hold exactly.

    >>> plain_value("0x1F"), plain_value("6:40"), plain_value("yes"), plain_value("~")
    (31, '6:40', 'yes', None)
    """
    if text in _NULL:
        return None
    if text in _BOOL:
        return _BOOL[text]
    if _WHOLE.fullmatch(text):
        # int() refuses thousands of digits, so length is asked first.
        whole = int(text, _BASES.get(text[:2], 10)) if len(text) <= SHOWN else _EXACT + 1
        if abs(whole) > _EXACT:
            raise ValueError(f"expected a number of at most 15 digits, found {shortened(text)}")
        return whole
    if _DECIMAL.fullmatch(text) or _NOT_FINITE.fullmatch(text):
        decimal = math.inf if _NOT_FINITE.fullmatch(text) else float(text)
        if not math.isfinite(decimal):
            raise ValueError(f"expected a finite number, found {shortened(text)}")
        return decimal
    return text


def bad_text(text: str) -> str:
    r"""Return what is wrong with the characters of a text, or an empty text.

    >>> bad_text("برج الهدوء"), bad_text("a\x1bb")
    ('', 'expected text without control characters, found U+001B')
    """
    match = _BAD.search(text)
    if match:
        return f"expected text without control characters, found U+{ord(match.group()):04X}"
    if text and all(c.isspace() or unicodedata.category(c) == "Cf" for c in text) and not text.isspace():
        return "expected text that can be seen, found invisible characters only"
    return ""


def cleaned(text: str) -> str:
    """Return the text with characters that are refused replaced by U+FFFD."""
    return _BAD.sub("\N{REPLACEMENT CHARACTER}", text)
