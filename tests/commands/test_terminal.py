"""Tables for a terminal: a figure is whole at every width, since one that is cut off is another number."""

from __future__ import annotations

import pytest
from rich.console import Console, RenderableType

from builder.commands.reduce import bundle_view
from tests.support.invented import Given, Shot, archive_of

SHOT = Shot(values={"core_rise": [33.14], "board_power": [1282.4], "core_psi": [0.11713], "frame_rate": [103.152]})


def printed(view: RenderableType, width: int) -> str:
    console = Console(width=width, no_color=True, highlight=False)
    with console.capture() as kept:
        console.print(view)
    return kept.get()


@pytest.mark.parametrize("width", [80, 60, 52])
def test_no_figure_of_the_bench_table_is_cut_off(width: int) -> None:
    archive = archive_of([Given(id="slab", shots={"idle": SHOT, "stock": SHOT, "power-80": SHOT})])
    text = printed(bundle_view(archive.results["slab"], "Slab"), width)
    assert "…" not in text
    row = text[text.index("stock") : text.index("power-80")].split()
    assert [word for word in row if word in ("33.14", "1282.40", "0.12", "103.15")] == [
        "33.14",
        "1282.40",
        "0.12",
        "103.15",
    ]
    assert row.count("0.10") == len(SHOT.values)
