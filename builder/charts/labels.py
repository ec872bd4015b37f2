"""Where labels go so that they do not cover one another."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from builder.charts.text import text_width


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
