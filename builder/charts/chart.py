"""What a chart is: its title, the finding in words, its numbers as a table, and a drawing at any size."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass, field
from typing import Any, TypeAlias

from builder.charts.frame import COMPACT, Frame
from builder.charts.labels import Json, clean, clean_text
from builder.charts.style import PAGE, Palette, config
from builder.charts.two_units import Said, Turn, as_it_is, turned, twins
from builder.core.quantity import NO_BREAK, SYMBOLS, Estimate, format_estimate, format_number, in_fahrenheit

Spec: TypeAlias = dict[str, Any]
Row: TypeAlias = dict[str, Json]

MISSING = "not measured"


@dataclass(frozen=True, kw_only=True)
class ChartTable:
    """The numbers of a chart as text: head cells, and rows whose first cell names the row."""

    caption: str
    columns: tuple[str, ...]
    rows: tuple[tuple[str, ...], ...]


@dataclass(frozen=True, kw_only=True)
class Reading:
    """What a chart says beside its picture: the finding in words, and its numbers."""

    description: str
    table: ChartTable


@dataclass(frozen=True, kw_only=True)
class Chart:
    """A chart: id unique on its page, title, the finding in words, its numbers, and how it is drawn.

    `frames` are the sizes a page needs: one, or a wide one and a compact one that the style sheet switches. `draw`
    gives a specification without colours for any frame; it is a function of its frame alone, so that a cache can tell
    one drawing from another. `there` holds words and numbers, and `fahrenheit` what marks say by what they say else,
    where readers chose °F; `trace` gives the columns of a chart over time, for scripts.
    """

    id: str
    title: str
    description: str
    table: ChartTable
    frames: tuple[Frame, ...]
    draw: Callable[[Frame], Spec]
    there: Reading | None = None
    fahrenheit: Mapping[str, str] = field(default_factory=dict)
    trace: Callable[[], Row] | None = None

    @property
    def data(self) -> Row:
        """What scripts read of the chart, ready for JSON; empty where the picture says everything."""
        words: Row = {"fahrenheit": dict(self.fahrenheit)} if self.fahrenheit else {}
        return words | ({"trace": clean(self.trace())} if self.trace else {})

    @property
    def finding(self) -> Said:
        """The finding in words, in both units."""
        return twins(self.description, self.there.description if self.there else "")

    @property
    def cells(self) -> tuple[tuple[Said, ...], ...]:
        """The rows of the table, in both units."""
        here = self.table.rows
        rows = zip(here, self.there.table.rows if self.there else here, strict=True)
        return tuple(tuple(twins(*pair) for pair in zip(*row, strict=True)) for row in rows)

    def spec_for(self, frame: Frame, palette: Palette = PAGE) -> Spec:
        """Return the whole Vega-Lite specification for one frame in one palette."""
        return self.draw(frame) | {"config": config(palette, frame.text)}

    @property
    def spec(self) -> Spec:
        """The specification of the first frame, in the colours of the page."""
        return self.spec_for(self.frames[0])


def chart_of(  # noqa: PLR0913 - the parts of a chart
    id: str,  # noqa: A002 - the field is called so
    title: str,
    read: Callable[[Turn], Reading],
    draw: Callable[[Frame], Spec],
    *,
    frames: tuple[Frame, ...] = (COMPACT,),
    marks: Iterable[tuple[Callable[[Estimate], str], Estimate]] = (),
    trace: Callable[[], Row] | None = None,
) -> Chart:
    """Return a chart that is read in both units.

    `read` gives words and numbers with every figure passed through the function it is given; `marks` are pairs of what
    a mark says and the figure that it says.
    """
    here = read(as_it_is)
    return Chart(
        id=id,
        title=title,
        description=here.description,
        table=here.table,
        frames=frames,
        draw=draw,
        there=read(turned),
        fahrenheit={
            clean_text(words(figure)): clean_text(words(there))
            for words, figure in marks
            if (there := in_fahrenheit(figure))
        },
        trace=trace,
    )


def cell(estimate: Estimate | None, turn: Turn = as_it_is, *, sign: bool = False) -> str:
    """Return a table cell: value with its expanded uncertainty and unit."""
    return MISSING if estimate is None else format_estimate(turn(estimate), sign=sign)


def interval(estimate: Estimate) -> tuple[float, float]:
    """Return the two ends of the 95 % interval."""
    half = estimate.expanded()
    return estimate.value - half, estimate.value + half


def plain(number: Estimate, decimals: int) -> str:
    """Return a number with its unit and without its uncertainty.

    >>> plain(Estimate(value=284.0, u=0.8, unit="W"), 0).replace(NO_BREAK, " ")
    '284 W'
    """
    return f"{format_number(number.value, decimals)}{NO_BREAK}{SYMBOLS[number.unit]}"
