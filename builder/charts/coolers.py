"""Coolers on one card, best first, with intervals; the shape shows the kind of cooler."""

from __future__ import annotations

from dataclasses import dataclass
from functools import partial

from builder.charts.base import Chart, ChartTable, Reading, cell, two_units
from builder.charts.frame import COMPACT
from builder.charts.palette import Slot
from builder.charts.rows import DotRow, KeyEntry, RowChart, draw_rows, interval_dot
from builder.charts.said import Axis, Turn, as_it_is, said, turned
from builder.charts.text import clean_text
from builder.figures import FIGURES
from builder.model import CoolerKind
from builder.quantity import SYMBOLS, Estimate, format_estimate

KIND_SLOTS = {
    CoolerKind.WATER_BLOCK: Slot.MEMORY,
    CoolerKind.HYBRID: Slot.COOLANT,
    CoolerKind.AIR: Slot.HOTSPOT,
    CoolerKind.STOCK: Slot.AMBIENT,
}


@dataclass(frozen=True, kw_only=True)
class CoolerFigure:
    """One cooler's figure; `tie` holds letters shared by coolers that are not told apart, empty where not judged."""

    name: str
    kind: CoolerKind
    estimate: Estimate
    tie: str = ""
    here: bool = False  # the cooler that the page is about


@dataclass(frozen=True, kw_only=True)
class CoolerFigures:
    """What the chart of coolers shows: one figure kind (id of `FIGURES`) of coolers that compare directly."""

    id: str
    title: str
    figure: str
    coolers: tuple[CoolerFigure, ...]


def coolers_chart(figures: CoolerFigures) -> Chart:
    """Return the chart of coolers, ordered by value with the better end first; intervals are 95 %."""
    ordered = _ordered(figures)
    return Chart(
        id=figures.id,
        title=figures.title,
        description=_describe(figures, ordered),
        table=_table(figures, ordered),
        frames=(COMPACT,),
        there=Reading(description=_describe(figures, ordered, turned), table=_table(figures, ordered, turned)),
        draw=partial(draw_rows, _rows(figures, ordered)),
        fahrenheit=two_units((partial(_words, cooler), cooler.estimate) for cooler in ordered),
    )


def _words(cooler: CoolerFigure, estimate: Estimate) -> str:
    return f"{cooler.name}, {cooler.kind}: {format_estimate(estimate)}"


def _ordered(figures: CoolerFigures) -> tuple[CoolerFigure, ...]:
    sign = -1 if FIGURES[figures.figure].better == "higher" else 1
    return tuple(sorted(figures.coolers, key=lambda cooler: (sign * cooler.estimate.value, cooler.name)))


def _describe(figures: CoolerFigures, ordered: tuple[CoolerFigure, ...], turn: Turn = as_it_is) -> str:
    if not ordered:
        return "No cooler compares here."
    kind = FIGURES[figures.figure]
    end = {"higher": "highest", "lower": "lowest"}.get(kind.better, "first")
    first = f"{kind.name}: {end} with {_with_value(ordered[0], turn)}"
    last = f", then up to {_with_value(ordered[-1], turn)}" if len(ordered) > 1 else ""
    return f"{first}{last}.{_ties(ordered)}"


def _with_value(cooler: CoolerFigure, turn: Turn) -> str:
    return f"{cooler.name} ({format_estimate(turn(cooler.estimate))})"


def _ties(ordered: tuple[CoolerFigure, ...]) -> str:
    equal = [c.name for c in ordered[1:] if set(c.tie) & set(ordered[0].tie)]
    return f" Not told apart from {ordered[0].name}: {', '.join(equal)}." if equal else ""


def _table(figures: CoolerFigures, ordered: tuple[CoolerFigure, ...], turn: Turn = as_it_is) -> ChartTable:
    tied = any(cooler.tie for cooler in ordered)
    columns = ("Cooler", "Kind", FIGURES[figures.figure].name, *(["Ties"] if tied else []))
    rows = tuple((c.name, str(c.kind), cell(c.estimate, turn), *([c.tie] if tied else [])) for c in ordered)
    return ChartTable(caption=figures.title, columns=columns, rows=rows)


def _rows(figures: CoolerFigures, ordered: tuple[CoolerFigure, ...]) -> RowChart:
    kind = FIGURES[figures.figure]
    present = [k for k in KIND_SLOTS if any(cooler.kind is k for cooler in ordered)]
    return RowChart(
        title=figures.title,
        axis=Axis(words=f"{kind.name}, {{}}" if SYMBOLS[kind.unit] else kind.name, unit=kind.unit),
        rows=tuple(_row(cooler) for cooler in ordered),
        key=tuple(KeyEntry(slot=KIND_SLOTS[k], name=str(k).capitalize()) for k in present),
        zero=True,
    )


def _row(cooler: CoolerFigure) -> DotRow:
    remark = said(lambda turn: f"{format_estimate(turn(cooler.estimate))} {cooler.tie}".rstrip())
    dot = interval_dot(cooler.estimate, KIND_SLOTS[cooler.kind], clean_text(_words(cooler, cooler.estimate)))
    return DotRow(name=cooler.name, strong=cooler.here, dots=(dot,), remark=remark)
