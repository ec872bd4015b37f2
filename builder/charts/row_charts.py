"""Rise over ambient at each test point, for each sensor, with its interval."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass, replace
from functools import partial
from typing import TypeAlias

from builder.archive.catalogue import CoolerKind
from builder.charts.chart import MISSING, Chart, ChartTable, Reading, cell, two_units
from builder.charts.frame import COMPACT
from builder.charts.labels import clean_text
from builder.charts.rows import Dot, DotRow, KeyEntry, RowChart, draw_rows, interval_dot
from builder.charts.style import Slot
from builder.charts.two_units import Axis, Turn, as_it_is, exact, said, turned
from builder.core.quantity import NO_BREAK, SYMBOLS, Estimate, estimate_parts, format_estimate, format_spread
from builder.core.results import FIGURES, Change, Component, Figure
from builder.core.words import listed

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


# --- The uncertainty budget of a figure: how much each source contributes


TYPE_SLOTS = {"A": Slot.MEMORY, "B": Slot.HOTSPOT}
TYPE_NAMES = {"A": "From the run itself", "B": "From elsewhere"}


@dataclass(frozen=True, kw_only=True)
class BudgetFigure:
    """What the chart of a budget shows."""

    id: str
    title: str
    figure: Figure


def budget_chart(budget: BudgetFigure) -> Chart:
    """Return the chart of a budget: standard uncertainties (k = 1) in the figure's unit, largest first."""
    return Chart(
        id=budget.id,
        title=budget.title,
        description=_budget_describe(budget),
        table=_budget_table(budget),
        frames=(COMPACT,),
        there=Reading(description=_budget_describe(budget, turned), table=_budget_table(budget, turned)),
        draw=partial(draw_rows, _budget_rows(budget)),
        fahrenheit=two_units((partial(_budget_words, part), _part(budget, part)) for part in _largest_first(budget)),
    )


def _largest_first(budget: BudgetFigure) -> list[Component]:
    named = (replace(c, name=c.name[:1].upper() + c.name[1:]) for c in budget.figure.budget)
    return sorted(named, key=lambda component: -component.contribution)


def _unit(budget: BudgetFigure) -> str:
    unit = budget.figure.estimate.unit
    return "K" if unit == "degC" else unit


def _part(budget: BudgetFigure, component: Component) -> Estimate:
    return exact(component.contribution, _unit(budget))


def _combined(budget: BudgetFigure) -> Estimate:
    return exact(budget.figure.estimate.u, _unit(budget))


def _spread(u: Estimate) -> str:
    return f"{format_spread(u.value)}{NO_BREAK}{SYMBOLS[u.unit]}".rstrip(NO_BREAK)


def _budget_words(component: Component, u: Estimate) -> str:
    return f"{component.name}: {_spread(u)}"


def _budget_describe(budget: BudgetFigure, turn: Turn = as_it_is) -> str:
    ordered = _largest_first(budget)
    if not ordered:
        return "This figure has no uncertainty budget."
    largest = f"{ordered[0].name.lower()}, {_spread(turn(_part(budget, ordered[0])))}"
    return f"The largest part of the standard uncertainty of {_spread(turn(_combined(budget)))} is {largest}."


def _budget_table(budget: BudgetFigure, turn: Turn = as_it_is) -> ChartTable:
    rows = [(c.name, c.kind, _spread(turn(_part(budget, c)))) for c in _largest_first(budget)]
    rows.append(("Combined", "", _spread(turn(_combined(budget)))))
    return ChartTable(caption=budget.title, columns=("Source", "Type", "Contribution"), rows=tuple(rows))


def _budget_rows(budget: BudgetFigure) -> RowChart:
    ordered = _largest_first(budget)
    present = [kind for kind in TYPE_SLOTS if any(c.kind == kind for c in ordered)]
    return RowChart(
        title=budget.title,
        axis=Axis(words=f"{FIGURES[budget.figure.kind].name}: standard uncertainty, {{}}", unit=_unit(budget)),
        rows=tuple(_row(component, _part(budget, component)) for component in ordered),
        key=tuple(KeyEntry(slot=TYPE_SLOTS[kind], name=f"{TYPE_NAMES[kind]} (type {kind})") for kind in present),
    )


def _row(component: Component, u: Estimate) -> DotRow:
    slot = TYPE_SLOTS.get(component.kind, Slot.AMBIENT)
    dot = Dot(slot=slot, low=0, value=u.value, high=u.value, words=_budget_words(component, u))
    return DotRow(name=component.name, dots=(dot,), remark=said(lambda turn: _spread(turn(u))))


# --- Change of each test point from stock: board power, core rise and frame rate, in percent


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
        description=_changes_describe(changes),
        table=_changes_table(changes),
        frames=(COMPACT,),
        there=Reading(description=_changes_describe(changes), table=_changes_table(changes, turned)),
        draw=partial(draw_rows, _changes_rows(changes)),
    )


def _measured(changes: PointChanges) -> list[Slot]:
    return [slot for slot in COMPARED if any(_percent(point, slot) for point in changes.points)]


def _percent(point: PointChange, slot: Slot) -> Estimate | None:
    change = point.of(slot)
    return change.percent if change else None


def _changes_describe(changes: PointChanges) -> str:
    """Return the two ends in words: the least power, and the most frames."""
    ends = [end for slot, pick in ((Slot.POWER, min), (FRAME_SLOT, max)) if (end := _end(changes, slot, pick))]
    sentences = dict.fromkeys(_sentence(point) for point in ends)
    return " ".join(["Against stock:", *sentences]) if sentences else "No change from stock was measured."


def _end(changes: PointChanges, slot: Slot, pick: _Pick) -> PointChange | None:
    found = [(percent.value, index) for index, p in enumerate(changes.points) if (percent := _percent(p, slot))]
    return changes.points[pick(found)[1]] if found else None


def _sentence(point: PointChange) -> str:
    found = [(name, percent) for slot, name in COMPARED.items() if (percent := _percent(point, slot))]
    return f"{point.name}: {listed([f'{name.lower()} {format_estimate(p, sign=True)}' for name, p in found])}."


def _changes_table(changes: PointChanges, turn: Turn = as_it_is) -> ChartTable:
    measured = _measured(changes)
    rows = tuple((p.name, *(_change_cell(p.of(slot), turn) for slot in measured)) for p in changes.points)
    columns = ("Test point", *(COMPARED[slot] for slot in measured))
    return ChartTable(caption=changes.title, columns=columns, rows=rows)


def _change_cell(change: Change | None, turn: Turn) -> str:
    if change is None:
        return MISSING
    absolute = cell(change.absolute, turn, sign=True)
    return f"{absolute} ({cell(change.percent, sign=True)})" if change.percent else absolute


def _changes_rows(changes: PointChanges) -> RowChart:
    measured = _measured(changes)
    return RowChart(
        title=changes.title,
        axis=Axis(words="{} from stock", unit="percent"),
        rows=tuple(_changes_row(point) for point in changes.points),
        key=tuple(KeyEntry(slot=slot, name=COMPARED[slot]) for slot in measured),
        sublines=True,
    )


def _changes_row(point: PointChange) -> DotRow:
    found = [(slot, name, percent) for slot, name in COMPARED.items() if (percent := _percent(point, slot))]
    dots = (
        interval_dot(p, slot, f"{point.name}, {name.lower()}: {format_estimate(p, sign=True)}", _short(p))
        for slot, name, p in found
    )
    return DotRow(name=point.name, dots=tuple(dots))


def _short(percent: Estimate) -> str:
    return estimate_parts(percent, sign=True).value


# --- Coolers on one card, best first, with intervals; the shape shows the kind of cooler


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
        description=_coolers_describe(figures, ordered),
        table=_coolers_table(figures, ordered),
        frames=(COMPACT,),
        there=Reading(
            description=_coolers_describe(figures, ordered, turned), table=_coolers_table(figures, ordered, turned)
        ),
        draw=partial(draw_rows, _coolers_rows(figures, ordered)),
        fahrenheit=two_units((partial(_coolers_words, cooler), cooler.estimate) for cooler in ordered),
    )


def _coolers_words(cooler: CoolerFigure, estimate: Estimate) -> str:
    return f"{cooler.name}, {cooler.kind}: {format_estimate(estimate)}"


def _ordered(figures: CoolerFigures) -> tuple[CoolerFigure, ...]:
    sign = -1 if FIGURES[figures.figure].better == "higher" else 1
    return tuple(sorted(figures.coolers, key=lambda cooler: (sign * cooler.estimate.value, cooler.name)))


def _coolers_describe(figures: CoolerFigures, ordered: tuple[CoolerFigure, ...], turn: Turn = as_it_is) -> str:
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


def _coolers_table(figures: CoolerFigures, ordered: tuple[CoolerFigure, ...], turn: Turn = as_it_is) -> ChartTable:
    tied = any(cooler.tie for cooler in ordered)
    columns = ("Cooler", "Kind", FIGURES[figures.figure].name, *(["Ties"] if tied else []))
    rows = tuple((c.name, str(c.kind), cell(c.estimate, turn), *([c.tie] if tied else [])) for c in ordered)
    return ChartTable(caption=figures.title, columns=columns, rows=rows)


def _coolers_rows(figures: CoolerFigures, ordered: tuple[CoolerFigure, ...]) -> RowChart:
    kind = FIGURES[figures.figure]
    present = [k for k in KIND_SLOTS if any(cooler.kind is k for cooler in ordered)]
    return RowChart(
        title=figures.title,
        axis=Axis(words=f"{kind.name}, {{}}" if SYMBOLS[kind.unit] else kind.name, unit=kind.unit),
        rows=tuple(_coolers_row(cooler) for cooler in ordered),
        key=tuple(KeyEntry(slot=KIND_SLOTS[k], name=str(k).capitalize()) for k in present),
        zero=True,
    )


def _coolers_row(cooler: CoolerFigure) -> DotRow:
    remark = said(lambda turn: f"{format_estimate(turn(cooler.estimate))} {cooler.tie}".rstrip())
    dot = interval_dot(cooler.estimate, KIND_SLOTS[cooler.kind], clean_text(_coolers_words(cooler, cooler.estimate)))
    return DotRow(name=cooler.name, strong=cooler.here, dots=(dot,), remark=remark)
