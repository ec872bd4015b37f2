"""Addresses of figures: the targets of links in scripts and notes.

- `figure:POINT/KIND`, a figure of this bundle: `figure:stock/core_rise`
- `figure:BUNDLE/POINT/KIND`, a figure of another bundle: `figure:twin-on-orrery/stock/core_rise`
- `...#change`, its change from stock: `figure:power-80/board_power#change`
- `...~BUNDLE`, its difference from another result at the same test point: `figure:stock/core_rise~twin-on-orrery`
"""

from __future__ import annotations

import re
from dataclasses import dataclass

SCHEME = "figure:"
GRAMMAR = "figure:POINT/KIND or figure:BUNDLE/POINT/KIND, then #change or ~BUNDLE where a difference is meant"

_ADDRESS = re.compile(
    r"figure:(?:(?P<bundle>[\w-]+)/)?(?P<point>[\w-]+)/(?P<kind>\w+)(?:~(?P<other>[\w-]+)|(?P<change>#change))?",
    re.ASCII,
)


@dataclass(frozen=True, kw_only=True)
class Address:
    """What a link names: a figure, its change from stock, or how it differs from that of `other`."""

    bundle: str
    point: str
    kind: str
    other: str = ""
    change: bool = False

    @property
    def relative(self) -> bool:
        """Whether it names a difference and no value."""
        return bool(self.other) or self.change

    def text(self, *, here: str = "") -> str:
        """Return the address as one writes it in the files of the bundle `here`.

        >>> Address(bundle="slab", point="stock", kind="core_rise", other="twin").text(here="slab")
        'figure:stock/core_rise~twin'
        """
        bundle = "" if self.bundle == here else f"{self.bundle}/"
        ending = f"~{self.other}" if self.other else "#change" if self.change else ""
        return f"{SCHEME}{bundle}{self.point}/{self.kind}{ending}"


def is_figure_link(target: str) -> bool:
    """Return whether a link's target is in the scheme of figures, well written or not."""
    return target.casefold().startswith(SCHEME)


def parse_address(target: str, *, here: str) -> Address | None:
    """Return the address that a link's target spells in the files of the bundle `here`, or None where it spells none.

    >>> parse_address("figure:power-80/board_power#change", here="slab")
    Address(bundle='slab', point='power-80', kind='board_power', other='', change=True)
    """
    match = _ADDRESS.fullmatch(target)
    if match is None:
        return None
    return Address(
        bundle=match["bundle"] or here,
        point=match["point"],
        kind=match["kind"],
        other=match["other"] or "",
        change=match["change"] is not None,
    )
