"""Which decimal mark a log uses, from its own cells."""

from __future__ import annotations

import re
from collections.abc import Iterable
from dataclasses import dataclass

_NUMERIC = re.compile("[+\\-\N{MINUS SIGN}]?[\\d.,]*\\d(?:[eE][+\\-]?\\d+)?")


def _sure(mark: str, other: str) -> re.Pattern[str]:
    """Match what only a decimal mark explains; `61,250` alone says nothing."""
    signs = (
        rf"^\D?0?{mark}\d",  # after a lone zero or nothing
        rf"{mark}\d{{1,2}}(?!\d)|{mark}\d{{4}}",  # not followed by exactly three digits
        rf"\d{{4}}{mark}",  # after four digits that are no group
        rf"{other}\d{{3}}[.,]",  # after a group of the other mark
    )
    return re.compile("|".join(signs))


_SURE = {".": _sure(r"\.", ","), ",": _sure(",", r"\.")}


@dataclass(frozen=True, kw_only=True)
class Marks:
    """Which cells speak for a decimal point and for a decimal comma, and the first that may be either; "" for none."""

    point: str
    comma: str
    unclear: str


def marks(texts: Iterable[str]) -> Marks:
    """Return what the cells say about the decimal mark.

    >>> marks(["61,5", "1,500"])
    Marks(point='', comma='61,5', unclear='1,500')
    """
    point = comma = unclear = ""
    for text in texts:
        match = _NUMERIC.match(text.strip())
        number = match[0] if match else ""
        if _SURE["."].search(number):
            point = point or text
        elif _SURE[","].search(number):
            comma = comma or text
        elif "," in number:
            unclear = unclear or text
    return Marks(point=point.strip(), comma=comma.strip(), unclear=unclear.strip())
