"""Text in pictures: what the renderer can take, how wide it is, how it is shortened, and where labels find room."""

from __future__ import annotations

import math
import unicodedata
from collections.abc import Sequence
from dataclasses import dataclass
from typing import TypeAlias, cast

Json: TypeAlias = "bool | int | float | str | list[Json] | dict[str, Json] | None"

# --- what the renderer can take --------------------------------------------------------------------------------

ELLIPSIS = "…"
JOINER = "\N{ZERO WIDTH JOINER}"

# Control characters, lone surrogates and noncharacters end the renderer's process; private use has no picture. Of
# the format characters only the joiners stay (scripts and emoji need them): an override could reorder a whole label.
# Code points that this Python does not know yet stay: they may be new emoji.
_NO_PICTURE = frozenset({"Cc", "Cs", "Co"})
_KEPT_FORMAT = frozenset({JOINER, "\N{ZERO WIDTH NON-JOINER}"})


def clean_text(text: str) -> str:
    r"""Return the text without characters that have no picture; white space becomes single spaces.

    >>> clean_text("a\x00b\ud800\ufffe\tc ")
    'ab c'
    """
    return " ".join("".join(_kept(character) for character in text).split())


def _kept(character: str) -> str:
    if character.isspace():
        return " "
    category, code = unicodedata.category(character), ord(character)
    # Set aside for ever: U+FDD0 to U+FDEF and the last two code points of each plane.
    noncharacter = 0xFDD0 <= code <= 0xFDEF or code & 0xFFFE == 0xFFFE  # noqa: PLR2004 - the standard's own numbers
    if category in _NO_PICTURE or noncharacter:
        return ""
    return "" if category == "Cf" and character not in _KEPT_FORMAT else character


def clean(value: Json) -> Json:
    """Return JSON-like data with every text cleaned and every number that is not finite turned into None."""
    if isinstance(value, str):
        plain = value.isascii() and value.isprintable()
        return value if plain else "".join(_kept(character) for character in value)
    if isinstance(value, float):
        return value if math.isfinite(value) else None
    if isinstance(value, list):
        return [clean(item) for item in value]
    if isinstance(value, dict):
        return {cast("str", clean(key)): clean(item) for key, item in value.items()}
    return value


# --- width, and texts that are too wide ------------------------------------------------------------------------


def text_width(text: str, size: float) -> float:
    """Return about how wide a text is in a sans-serif face of `size`, in the same unit; errs on the wide side."""
    return size * sum(_advance(character) for character in text)


def _advance(character: str) -> float:
    if unicodedata.combining(character) or unicodedata.category(character) in {"Mn", "Me", "Cf"}:
        return 0.0
    if unicodedata.east_asian_width(character) in "WF":
        return 1.0
    if character in "ijl.,:;'|!()[]fIt /-\N{NO-BREAK SPACE}":
        return 0.31
    if character in "mwMW%@":
        return 0.9
    return 0.7 if character.isupper() else 0.56


def shorten(text: str, width: float, size: float) -> str:
    """Return the text cut with an ellipsis to fit `width`; never cuts inside a cluster of joined characters.

    >>> shorten("A very long cooler name", 60, 13)
    'A very l…'
    """
    if text_width(text, size) <= width:
        return text
    room = width - text_width(ELLIPSIS, size)
    end = used = 0.0
    for index, character in enumerate(text):
        used += size * _advance(character)
        if used > room:
            break
        end = index + 1
    return text[: _whole_cluster(text, int(end))].rstrip() + ELLIPSIS


def shorten_middle(text: str, width: float, size: float) -> str:
    """Return the text cut in its middle to fit `width`: names that begin alike often differ at their end.

    >>> shorten_middle("A very long cooler name", 80, 13)
    'A very…ame'
    """
    if text_width(text, size) <= width:
        return text
    tail = shorten(text[::-1], width * 0.45, size).removesuffix(ELLIPSIS)[::-1]
    start = _whole_cluster(text, len(text) - len(tail))
    tail = text[start:].lstrip()
    head = shorten(text[:start], width - text_width(tail, size), size)
    return f"{head.removesuffix(ELLIPSIS).rstrip()}{ELLIPSIS}{tail}"


def shorten_apart(texts: Sequence[str], widths: Sequence[float], size: float) -> tuple[str, ...]:
    """Return texts shortened each to its width; those that would then look alike are cut in the middle instead."""
    short = [shorten(text, width, size) for text, width in zip(texts, widths, strict=True)]
    return tuple(
        shorten_middle(text, width, size) if short.count(cut) > 1 else cut
        for text, width, cut in zip(texts, widths, short, strict=True)
    )


def _whole_cluster(text: str, end: int) -> int:
    def inside(place: int) -> bool:
        joined = JOINER in (text[place - 1], text[place])
        return joined or unicodedata.category(text[place]) in {"Mn", "Me"}

    while 0 < end < len(text) and inside(end):
        end -= 1
    return end


# --- places for labels -----------------------------------------------------------------------------------------


def spread(wanted: Sequence[float], gap: float, low: float, high: float) -> tuple[float, ...]:
    """Return positions in the order given, near their wish, at least `gap` apart, inside [low, high] where they fit.

    Neighbours that are too close form a block around their mean (pool adjacent violators).

    >>> spread([10, 12, 50], 8, 0, 100)
    (7.0, 15.0, 50.0)
    """
    order = sorted(range(len(wanted)), key=lambda index: wanted[index])
    blocks: list[list[float]] = []  # each: sum of (wish - rank * gap), count
    for rank, index in enumerate(order):
        blocks.append([wanted[index] - rank * gap, 1.0])
        while len(blocks) > 1 and blocks[-2][0] / blocks[-2][1] > blocks[-1][0] / blocks[-1][1]:
            total, count = blocks.pop()
            blocks[-1][0] += total
            blocks[-1][1] += count
    bases = [total / count for total, count in blocks for _ in range(int(count))]
    highest = high - (len(order) - 1) * gap
    placed = {
        index: max(low, min(base, highest)) + rank * gap
        for rank, (index, base) in enumerate(zip(order, bases, strict=True))
    }
    return tuple(placed[index] for index in range(len(wanted)))


@dataclass(frozen=True, kw_only=True)
class Spot:
    """A label's anchor relative to the plot, and its alignment."""

    x: float
    y: float
    align: str


@dataclass(frozen=True, kw_only=True)
class _Box:
    left: float
    top: float
    right: float
    bottom: float

    def meets(self, other: _Box) -> bool:
        apart_x = self.right <= other.left or other.right <= self.left
        return not (apart_x or self.bottom <= other.top or other.bottom <= self.top)


@dataclass(frozen=True, kw_only=True)
class Room:
    """Where labels may stand: text size, plot size, and places that lines and other marks take."""

    size: float
    width: float
    height: float
    taken: Sequence[tuple[float, float]] = ()


def beside_points(points: Sequence[tuple[float, float]], texts: Sequence[str], room: Room) -> tuple[Spot | None, ...]:
    """Return a place for each text beside its point, inside the plot and clear of marks and other labels.

    None where no place is free: the table holds the number anyway.
    """
    filled = [_around(x, y, room.size * 0.45) for x, y in points]
    filled += [_around(x, y, room.size * 0.25) for x, y in room.taken]
    spots: list[Spot | None] = []
    for point, text in zip(points, texts, strict=True):
        spot = _free_spot(point, text, filled, room)
        spots.append(spot)
        if spot:
            filled.append(_box(spot, text, room.size))
    return tuple(spots)


def _around(x: float, y: float, reach: float) -> _Box:
    return _Box(left=x - reach, top=y - reach, right=x + reach, bottom=y + reach)


def _free_spot(point: tuple[float, float], text: str, filled: Sequence[_Box], room: Room) -> Spot | None:
    for spot in _candidates(*point, room.size):
        box = _box(spot, text, room.size)
        inside = 0 <= box.left <= box.right <= room.width and -room.size <= box.top <= box.bottom <= room.height
        if inside and not any(box.meets(other) for other in filled):
            return spot
    return None


def _candidates(x: float, y: float, size: float) -> tuple[Spot, ...]:
    near, far = 0.75 * size, 1.05 * size
    return (
        Spot(x=x + near, y=y, align="left"),
        Spot(x=x - near, y=y, align="right"),
        Spot(x=x + near * 0.6, y=y + far, align="left"),
        Spot(x=x - near * 0.6, y=y - far, align="right"),
        Spot(x=x, y=y + far * 1.1, align="center"),
        Spot(x=x, y=y - far * 1.1, align="center"),
        Spot(x=x + near * 0.6, y=y - far, align="left"),
        Spot(x=x - near * 0.6, y=y + far, align="right"),
    )


def _box(spot: Spot, text: str, size: float) -> _Box:
    width = text_width(text, size)
    left = spot.x - {"left": 0.0, "right": 1.0, "center": 0.5}[spot.align] * width
    return _Box(left=left, top=spot.y - size * 0.55, right=left + width, bottom=spot.y + size * 0.55)
