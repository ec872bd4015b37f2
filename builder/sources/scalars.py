"""What a plain scalar stands for (YAML 1.2.2, 10.3.2, core schema), and which characters text may hold."""

from __future__ import annotations

import math
import re
import unicodedata
from typing import TypeAlias

Json: TypeAlias = "bool | int | float | str | list[Json] | dict[str, Json] | None"

_NULL = frozenset({"", "~", "null", "Null", "NULL"})
_BOOL = {"true": True, "True": True, "TRUE": True, "false": False, "False": False, "FALSE": False}
_INT = re.compile(r"[-+]?[0-9]+")
_OCTAL = re.compile(r"0o[0-7]+")
_HEX = re.compile(r"0x[0-9a-fA-F]+")
_FLOAT = re.compile(r"[-+]?(?:\.[0-9]+|[0-9]+(?:\.[0-9]*)?)(?:[eE][-+]?[0-9]+)?")
_NOT_FINITE = re.compile(r"[-+]?(?:\.inf|\.Inf|\.INF)|\.nan|\.NaN|\.NAN")
_EXACT = 2**53  # whole numbers above this lose digits once they become floating point
_SHOWN = 40

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
    if _INT.fullmatch(text) or _OCTAL.fullmatch(text) or _HEX.fullmatch(text):
        return _whole(text)
    if _FLOAT.fullmatch(text) or _NOT_FINITE.fullmatch(text):
        return _decimal(text)
    return text


def _whole(text: str) -> int:
    # int() refuses thousands of digits, so length is asked first.
    value = int(text, _base(text)) if len(text) <= _SHOWN else _EXACT + 1
    if abs(value) > _EXACT:
        raise ValueError(f"expected a number of at most 15 digits, found {_cut(text)}")
    return value


def _base(text: str) -> int:
    return {"0o": 8, "0x": 16}.get(text[:2], 10)


def _decimal(text: str) -> float:
    value = math.inf if _NOT_FINITE.fullmatch(text) else float(text)
    if not math.isfinite(value):
        raise ValueError(f"expected a finite number, found {_cut(text)}")
    return value


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


def clean_text(text: str) -> str:
    """Return the text with characters that are refused replaced by U+FFFD."""
    return _BAD.sub("\N{REPLACEMENT CHARACTER}", text)


def _cut(text: str) -> str:
    return text if len(text) <= _SHOWN else f"{text[:_SHOWN]}…"
