"""Change of each test point from stock: board power, core rise and frame rate, in percent."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from functools import partial
from typing import TypeAlias

from builder.charts.base import MISSING, Chart, ChartTable, Reading, cell, join_words
from builder.charts.frame import COMPACT
from builder.charts.palette import Slot
from builder.charts.rows import DotRow, KeyEntry, RowChart, draw_rows, interval_dot
from builder.charts.said import Axis, Turn, as_it_is, turned
from builder.figures import Change
from builder.quantity import Estimate, estimate_parts, format_estimate

# Percent of a temperature in °C has no meaning, so the rise stands for it.
COMPARED = {Slot.POWER: "Board power", Slot.CORE: "Core over ambient", Slot.MEMORY: "Frame rate"}
_Pick: TypeAlias = Callable[[list[tuple[float, int]]], tuple[float, int]]
FRAME_SLOT = Slot.MEMORY  # its square is free here


@dataclass(frozen=True, kw_only=True)
class PointChange:
    """Changes of one test point from stock; None where a figure was not measured or has no percentage."""

    name: str
    power: Change | None = None
    core_rise: Change | None = None
    frame_rate: Change | None = None

    def of(self, slot: Slot) -> Change | None:
        """Return the change that a slot shows."""
        return {Slot.POWER: self.power, Slot.CORE: self.core_rise, FRAME_SLOT: self.frame_rate}.get(slot)


@dataclass(frozen=True, kw_only=True)
class PointChanges:
    """What the chart of changes shows, in the protocol's order, without stock itself."""

    id: str
    title: str
    points: tuple[PointChange, ...]


def changes_chart(changes: PointChanges) -> Chart:
    """Return the chart of changes from stock; intervals are 95 %, and the table adds the change in its own unit."""
    return Chart(
        id=changes.id,
        title=changes.title,
        description=_describe(changes),
        table=_table(changes),
        frames=(COMPACT,),
        there=Reading(description=_describe(changes), table=_table(changes, turned)),
        draw=partial(draw_rows, _rows(changes)),
    )


def _measured(changes: PointChanges) -> list[Slot]:
    return [slot for slot in COMPARED if any(_percent(point, slot) for point in changes.points)]


def _percent(point: PointChange, slot: Slot) -> Estimate | None:
    change = point.of(slot)
    return change.percent if change else None


def _describe(changes: PointChanges) -> str:
    """Return the two ends in words: the least power, and the most frames."""
    ends = [end for slot, pick in ((Slot.POWER, min), (FRAME_SLOT, max)) if (end := _end(changes, slot, pick))]
    sentences = dict.fromkeys(_sentence(point) for point in ends)
    return " ".join(["Against stock:", *sentences]) if sentences else "No change from stock was measured."


def _end(changes: PointChanges, slot: Slot, pick: _Pick) -> PointChange | None:
    found = [(percent.value, index) for index, p in enumerate(changes.points) if (percent := _percent(p, slot))]
    return changes.points[pick(found)[1]] if found else None


def _sentence(point: PointChange) -> str:
    found = [(name, percent) for slot, name in COMPARED.items() if (percent := _percent(point, slot))]
    return f"{point.name}: {join_words([f'{name.lower()} {format_estimate(p, sign=True)}' for name, p in found])}."


def _table(changes: PointChanges, turn: Turn = as_it_is) -> ChartTable:
    measured = _measured(changes)
    rows = tuple((p.name, *(_change_cell(p.of(slot), turn) for slot in measured)) for p in changes.points)
    columns = ("Test point", *(COMPARED[slot] for slot in measured))
    return ChartTable(caption=changes.title, columns=columns, rows=rows)


def _change_cell(change: Change | None, turn: Turn) -> str:
    if change is None:
        return MISSING
    absolute = cell(change.absolute, turn, sign=True)
    return f"{absolute} ({cell(change.percent, sign=True)})" if change.percent else absolute


def _rows(changes: PointChanges) -> RowChart:
    measured = _measured(changes)
    return RowChart(
        title=changes.title,
        axis=Axis(words="{} from stock", unit="percent"),
        rows=tuple(_row(point) for point in changes.points),
        key=tuple(KeyEntry(slot=slot, name=COMPARED[slot]) for slot in measured),
        sublines=True,
    )


def _row(point: PointChange) -> DotRow:
    found = [(slot, name, percent) for slot, name in COMPARED.items() if (percent := _percent(point, slot))]
    dots = (
        interval_dot(p, slot, f"{point.name}, {name.lower()}: {format_estimate(p, sign=True)}", _short(p))
        for slot, name, p in found
    )
    return DotRow(name=point.name, dots=tuple(dots))


def _short(percent: Estimate) -> str:
    return estimate_parts(percent, sign=True).value
