"""A chart as a page shows it: its picture, what it says in words, and its numbers, as plain values."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from typing import TypeAlias

from builder.charts.chart import Chart
from builder.charts.svg import chart_svg
from builder.charts.two_units import Said

Draw: TypeAlias = Callable[[Chart], str]  # a chart -> its picture as inline SVG


@dataclass(frozen=True, kw_only=True, eq=False)
class ChartView:
    """A chart on a page. `svg` is safe to place there: it is made from numbers, and every word in it is escaped.

    `two_sizes` says that it holds a wide and a narrow picture, `over_time` that its axis is time; `data` is what
    scripts read, ready for JSON; `cells` are the rows of the table below the picture.
    """

    id: str
    title: str
    svg: str
    two_sizes: bool
    over_time: bool
    data: Mapping[str, object]
    finding: Said
    caption: str
    columns: tuple[str, ...]
    cells: tuple[tuple[Said, ...], ...]


def drawn(chart: Chart) -> str:
    """Return the picture of a chart, whose id makes its own ids unique on a page."""
    return chart_svg(chart, uid=chart.id)


def chart_view(chart: Chart, draw: Draw = drawn) -> ChartView:
    """Return a chart as a page shows it; `draw` gives its picture, or the one that was made before."""
    return ChartView(
        id=chart.id,
        title=chart.title,
        svg=draw(chart),
        two_sizes=len(chart.frames) > 1,
        over_time=chart.trace is not None,
        data=chart.data,
        finding=chart.finding,
        caption=chart.table.caption,
        columns=chart.table.columns,
        cells=chart.cells,
    )
