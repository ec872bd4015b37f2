"""The uncertainty budget of a figure: how much each source contributes."""

from __future__ import annotations

from dataclasses import dataclass, replace
from functools import partial

from builder.charts.base import Chart, ChartTable
from builder.charts.frame import COMPACT
from builder.charts.palette import Slot
from builder.charts.rows import Dot, DotRow, KeyEntry, RowChart, draw_rows
from builder.figures import FIGURES, Component, Figure
from builder.quantity import NO_BREAK, SYMBOLS, round_to_uncertainty

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
        draw=partial(draw_rows, _rows(budget)),
    )


def _largest_first(budget: BudgetFigure) -> list[Component]:
    named = (replace(c, name=c.name[:1].upper() + c.name[1:]) for c in budget.figure.budget)
    return sorted(named, key=lambda component: -component.contribution)


def _symbol(budget: BudgetFigure) -> str:
    unit = budget.figure.estimate.unit
    return SYMBOLS["K" if unit == "degC" else unit]


def _said(u: float, symbol: str) -> str:
    digits = round_to_uncertainty(u, u).u if u > 0 else "0"
    return f"{digits}{NO_BREAK}{symbol}".rstrip(NO_BREAK)


def _describe(budget: BudgetFigure) -> str:
    ordered = _largest_first(budget)
    if not ordered:
        return "This figure has no uncertainty budget."
    symbol = _symbol(budget)
    combined = _said(budget.figure.estimate.u, symbol)
    largest = f"{ordered[0].name.lower()}, {_said(ordered[0].contribution, symbol)}"
    return f"The largest part of the standard uncertainty of {combined} is {largest}."


def _table(budget: BudgetFigure) -> ChartTable:
    symbol = _symbol(budget)
    rows = [(c.name, c.kind, _said(c.contribution, symbol)) for c in _largest_first(budget)]
    rows.append(("Combined", "", _said(budget.figure.estimate.u, symbol)))
    return ChartTable(caption=budget.title, columns=("Source", "Type", "Contribution"), rows=tuple(rows))


def _rows(budget: BudgetFigure) -> RowChart:
    symbol = _symbol(budget)
    ordered = _largest_first(budget)
    present = [kind for kind in TYPE_SLOTS if any(c.kind == kind for c in ordered)]
    return RowChart(
        title=budget.title,
        axis=f"{FIGURES[budget.figure.kind].name}: standard uncertainty, {symbol}",
        rows=tuple(_row(component, symbol) for component in ordered),
        key=tuple(KeyEntry(slot=TYPE_SLOTS[kind], name=f"{TYPE_NAMES[kind]} (type {kind})") for kind in present),
    )


def _row(component: Component, symbol: str) -> DotRow:
    u = component.contribution
    said = _said(u, symbol)
    words = f"{component.name}: {said}"
    dot = Dot(slot=TYPE_SLOTS.get(component.kind, Slot.AMBIENT), low=0, value=u, high=u, words=words)
    return DotRow(name=component.name, dots=(dot,), remark=said)
