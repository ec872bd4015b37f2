"""Counts, lists, quotes and cut texts as messages and pages write them."""

from __future__ import annotations

import re
from collections.abc import Iterable

SHOWN = 40  # characters of a text that a message repeats


def noun(number: int, singular: str, plural: str = "") -> str:
    """Return a noun as it stands behind a number; `plural` where it is not made by an s.

    >>> noun(1, "line"), noun(2, "line"), noun(0, "entry", "entries")
    ('line', 'lines', 'entries')
    """
    return singular if number == 1 else plural or f"{singular}s"


def count(number: int, singular: str, plural: str = "", *, space: str = " ") -> str:
    """Return a number with its noun.

    >>> count(1, "mount"), count(3, "mount")
    ('1 mount', '3 mounts')
    """
    return f"{number}{space}{noun(number, singular, plural)}"


def listed(items: Iterable[str], *, last: str = "and") -> str:
    """Return the items in their own order as a sentence lists them.

    >>> listed(["air"]), listed(["air", "stock"]), listed(["air", "stock", "hybrid"], last="or")
    ('air', 'air and stock', 'air, stock or hybrid')
    """
    *front, end = list(items) or [""]
    return f"{', '.join(front)} {last} {end}" if front else end


def listing(choices: Iterable[str], *, limit: int = 12) -> str:
    """Return the choices sorted as `a, b, c`, cut after `limit` with the number left out.

    >>> listing("dcba", limit=2)
    'a, b and 2 more'
    """
    names = sorted(choices)
    shown = ", ".join(names[:limit])
    return f"{shown} and {len(names) - limit} more" if len(names) > limit else shown


def shortened(text: str, longest: int = SHOWN) -> str:
    """Return a text, cut after `longest` characters with an ellipsis.

    >>> shortened("A very long name", 6)
    'A very…'
    """
    return text if len(text) <= longest else f"{text[:longest]}…"


def quoted(text: str, longest: int = SHOWN) -> str:
    r"""Return a text in quotes on one line, cut after `longest` characters.

    >>> quoted("two\nlines")
    '"two lines"'
    """
    flat = re.sub(r"\s", " ", text)
    return f'"{shortened(flat, longest)}"'
