"""Rise over ambient at each test point, for each sensor, with its interval."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from functools import partial

from builder.charts.base import Chart, ChartTable, Reading, cell, two_units
from builder.charts.frame import COMPACT
from builder.charts.palette import Slot
from builder.charts.rows import Dot, DotRow, KeyEntry, RowChart, draw_rows, interval_dot
from builder.charts.said import Axis, Turn, as_it_is, turned
from builder.quantity import Estimate, format_estimate

SENSORS = {Slot.CORE: "Core", Slot.HOTSPOT: "Hotspot", Slot.MEMORY: "Memory"}


@dataclass(frozen=True, kw_only=True)
class PointRise:
    """Rises over ambient at one test point, in K; None where a sensor was not logged."""

    name: str
    core: Estimate | None = None
    hotspot: Estimate | None = None
    memory: Estimate | None = None

    def sensor(self, slot: Slot) -> Estimate | None:
        """Return the rise of one sensor."""
        return {Slot.CORE: self.core, Slot.HOTSPOT: self.hotspot, Slot.MEMORY: self.memory}.get(slot)


@dataclass(frozen=True, kw_only=True)
class PointRises:
    """What the chart of test points shows, in the protocol's order."""

    id: str
    title: str
    points: tuple[PointRise, ...]


def points_chart(rises: PointRises) -> Chart:
    """Return the chart of rise at each test point; intervals are 95 %."""
    return Chart(
        id=rises.id,
        title=rises.title,
        description=_describe(rises),
        table=_table(rises),
        frames=(COMPACT,),
        there=Reading(description=_describe(rises, turned), table=_table(rises, turned)),
        draw=partial(draw_rows, _rows(rises)),
        fahrenheit=two_units(
            (partial(_words, p, s), rise) for p in rises.points for s in SENSORS if (rise := p.sensor(s))
        ),
    )


def _words(point: PointRise, slot: Slot, rise: Estimate) -> str:
    return f"{point.name}, {SENSORS[slot].lower()}: {format_estimate(rise)}"


def _logged(rises: PointRises) -> list[Slot]:
    return [slot for slot in SENSORS if any(point.sensor(slot) for point in rises.points)]


def _describe(rises: PointRises, turn: Turn = as_it_is) -> str:
    return " ".join(_extremes(rises, turn)) or "No rise over ambient was measured."


def _extremes(rises: PointRises, turn: Turn) -> Iterator[str]:
    for slot in _logged(rises):
        found = [(rise.value, point.name, rise) for point in rises.points if (rise := point.sensor(slot))]
        low, high = min(found, key=lambda item: item[0]), max(found, key=lambda item: item[0])
        span = f"{format_estimate(turn(low[2]))} ({low[1]})"
        if len(found) > 1:
            span = f"from {span} to {format_estimate(turn(high[2]))} ({high[1]})"
        yield f"{SENSORS[slot]} over ambient: {span}."


def _table(rises: PointRises, turn: Turn = as_it_is) -> ChartTable:
    logged = _logged(rises)
    rows = tuple((p.name, *(cell(p.sensor(slot), turn) for slot in logged)) for p in rises.points)
    columns = ("Test point", *(f"{SENSORS[slot]} over ambient" for slot in logged))
    return ChartTable(caption=rises.title, columns=columns, rows=rows)


def _rows(rises: PointRises) -> RowChart:
    logged = _logged(rises)
    return RowChart(
        title=rises.title,
        axis=Axis(words="{} over ambient", unit="K"),
        rows=tuple(DotRow(name=p.name, dots=tuple(_dots(p))) for p in rises.points),
        key=tuple(KeyEntry(slot=slot, name=SENSORS[slot]) for slot in logged),
        sublines=True,
    )


def _dots(point: PointRise) -> Iterator[Dot]:
    for slot in SENSORS:
        if rise := point.sensor(slot):
            yield interval_dot(rise, slot, _words(point, slot, rise))
