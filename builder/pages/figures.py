"""Where links to figures lead on the site."""

from __future__ import annotations

from builder.compare import Tested
from builder.speech import parse_address
from builder.views.figures_table import figure_anchor


def figure_place(here: str, tested: Tested, target: str) -> str:
    """Return where a link in the words of the bundle `here` leads: to the figure's cell, there or on another result.

    From the site's root, or an anchor of the same page; empty where there is no such figure.
    """
    address = parse_address(target, here=here)
    point = tested.point(address.bundle, address.point) if address else None
    if address is None or point is None or address.kind not in point.figures:
        return ""
    anchor = f"#{figure_anchor(address.point, address.kind)}"
    return anchor if address.bundle == here else f"results/{address.bundle}.html{anchor}"
