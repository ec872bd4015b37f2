"""The lead chart: every cooler of a card by its difference from the card's own, with ties as bars beside the rows."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from functools import partial

from builder.archive.catalogue import CoolerKind
from builder.charts.chart import Chart, ChartTable, Reading, cell, chart_of
from builder.charts.frame import COMPACT, WIDE
from builder.charts.row_charts import kind_words
from builder.charts.rows import Dot, DotRow, RowChart, draw_rows, interval_dot
from builder.charts.style import Slot
from builder.charts.two_units import Axis, Said, Turn, said
from builder.core.quantity import Estimate, format_estimate
from builder.core.words import count

MOST_ROWS = 12  # more are a list, not a picture
OWN_NAME = "The card's own cooler"
_ZERO = "zero line"


@dataclass(frozen=True, kw_only=True)
class AgainstRow:
    """One cooler: its difference from the card's own in K, its tests pooled; the own cooler itself has none.

    `ties` are the letters of rows that the order cannot tell apart; `here` marks what the page is about.
    """

    name: str
    kind: CoolerKind
    difference: Estimate | None
    tests: int = 1
    ties: tuple[str, ...] = ()
    is_own: bool = False
    here: bool = False


@dataclass(frozen=True, kw_only=True)
class AgainstRows:
    """What the chart shows: coolers with the coolest first, of which `left_out` more have no row."""

    id: str
    title: str
    rows: tuple[AgainstRow, ...]
    left_out: int = 0


def own_cooler_chart(given: AgainstRows) -> Chart:
    """Return the lead chart; intervals are those of the differences, 95 %."""
    marks = ((partial(_words, row), row.difference) for row in given.rows if row.difference)
    draw = partial(draw_rows, _drawn(given))
    read = partial(_read, given)
    return chart_of(given.id, given.title, read, draw, frames=(WIDE, COMPACT), marks=marks)


def shown_rows(rows: Sequence[AgainstRow], most: int = MOST_ROWS) -> tuple[AgainstRow, ...]:
    """Return the rows that a picture has room for: the subject, the own cooler, best, worst, and who is nearest."""
    if len(rows) <= most:
        return tuple(rows)
    marked = [i for i, row in enumerate(rows) if row.here or row.is_own]
    about = next((i for i, row in enumerate(rows) if row.here), 0)
    wanted = dict.fromkeys([*marked, 0, len(rows) - 1])
    for index in sorted(range(len(rows)), key=lambda i: (abs(i - about), i)):
        if len(wanted) < most:
            wanted.setdefault(index)
    return tuple(rows[i] for i in sorted(wanted))


def _words(row: AgainstRow, difference: Estimate) -> str:
    return f"{row.name}: {format_estimate(difference, sign=True)} from the card's own cooler"


def _drawn(given: AgainstRows) -> RowChart:
    return RowChart(
        title=given.title,
        axis=Axis(words="{} from the card's own cooler; bars: 95 of 100", unit="K"),
        rows=tuple(_row(row) for row in given.rows),
        sides=("\u25c2 cooler", "warmer \u25b8"),
        ties=tie_spans(given.rows),
    )


def tie_spans(rows: Sequence[AgainstRow]) -> tuple[tuple[int, int], ...]:
    """Return first and last row of each run of rows that are too close to call; a row alone has none."""
    letters = dict.fromkeys(letter for row in rows for letter in row.ties)
    spans = ([i for i, row in enumerate(rows) if letter in row.ties] for letter in letters)
    return tuple(dict.fromkeys((span[0], span[-1]) for span in spans if len(span) > 1))


def _row(row: AgainstRow) -> DotRow:
    kind = kind_words(row.kind) + (f", {count(row.tests, 'test')}" if row.tests > 1 else "")
    slot = Slot.SUBJECT if row.here else Slot.OTHERS
    if row.is_own:
        zero = Dot(slot=slot, low=0.0, value=0.0, high=0.0, words=f"{row.name}: the {_ZERO}")
        return DotRow(name=OWN_NAME, kind=kind, dots=(zero,), remark=Said(text=_ZERO), strong=row.here)
    if row.difference is None:
        return DotRow(name=row.name, kind=kind, dots=(), remark=Said(text="not judged"), strong=row.here)
    difference = row.difference
    return DotRow(
        name=row.name,
        kind=kind,
        dots=(interval_dot(difference, slot, _words(row, difference)),),
        remark=said(lambda turn: format_estimate(turn(difference), sign=True)),
        strong=row.here,
    )


def _read(given: AgainstRows, turn: Turn) -> Reading:
    cells = tuple(
        (
            row.name,
            str(row.kind),
            _ZERO if row.is_own else cell(row.difference, turn, sign=True),
            str(row.tests),
            " ".join(row.ties),
        )
        for row in given.rows
    )
    columns = ("Cooler", "Kind", "From the card's own cooler", "Tests", "Too close to call")
    return Reading(
        description=" ".join(_said(given, turn)),
        table=ChartTable(caption=given.title, columns=columns, rows=cells),
    )


def _said(given: AgainstRows, turn: Turn) -> Iterable[str]:
    judged = [row for row in given.rows if row.difference]
    if not judged:
        yield "No cooler could be judged against the card's own."
    for row in judged[:1] + judged[1:][-1:]:
        if row.difference:
            yield f"{row.name}: {format_estimate(turn(row.difference), sign=True)} from the card's own cooler."
    if tie_spans(given.rows):
        yield "A bar at the right joins coolers that are too close to call."
    if given.left_out:
        yield f"{count(given.left_out, 'more cooler')} on this card."
