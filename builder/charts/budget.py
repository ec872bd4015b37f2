"""The uncertainty budget of a figure: how much each source contributes."""

from __future__ import annotations

from dataclasses import dataclass, replace
from functools import partial

from builder.charts.base import Chart, ChartTable, Reading, two_units
from builder.charts.frame import COMPACT
from builder.charts.palette import Slot
from builder.charts.rows import Dot, DotRow, KeyEntry, RowChart, draw_rows
from builder.charts.said import Axis, Turn, as_it_is, exact, said, turned
from builder.figures import FIGURES, Component, Figure
from builder.quantity import NO_BREAK, SYMBOLS, Estimate, format_spread

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
        description=_describe(budget),
        table=_table(budget),
        frames=(COMPACT,),
        there=Reading(description=_describe(budget, turned), table=_table(budget, turned)),
        draw=partial(draw_rows, _rows(budget)),
        fahrenheit=two_units((partial(_words, part), _part(budget, part)) for part in _largest_first(budget)),
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


def _words(component: Component, u: Estimate) -> str:
    return f"{component.name}: {_spread(u)}"


def _describe(budget: BudgetFigure, turn: Turn = as_it_is) -> str:
    ordered = _largest_first(budget)
    if not ordered:
        return "This figure has no uncertainty budget."
    largest = f"{ordered[0].name.lower()}, {_spread(turn(_part(budget, ordered[0])))}"
    return f"The largest part of the standard uncertainty of {_spread(turn(_combined(budget)))} is {largest}."


def _table(budget: BudgetFigure, turn: Turn = as_it_is) -> ChartTable:
    rows = [(c.name, c.kind, _spread(turn(_part(budget, c)))) for c in _largest_first(budget)]
    rows.append(("Combined", "", _spread(turn(_combined(budget)))))
    return ChartTable(caption=budget.title, columns=("Source", "Type", "Contribution"), rows=tuple(rows))


def _rows(budget: BudgetFigure) -> RowChart:
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
    dot = Dot(slot=slot, low=0, value=u.value, high=u.value, words=_words(component, u))
    return DotRow(name=component.name, dots=(dot,), remark=said(lambda turn: _spread(turn(u))))
