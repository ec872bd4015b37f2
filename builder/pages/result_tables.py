"""Tables of one result: test points, changes from stock, runs, uncertainty budgets."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

from builder.comparison.subject import Subject
from builder.core.quantity import SYMBOLS, round_to_uncertainty
from builder.core.results import FIGURES, Change, Component, Figure, PointResult, RunResult, Use, figures_for
from builder.pages.parts import (
    Column,
    Line,
    Name,
    Row,
    Table,
    Unit,
    capital,
    figure_cell,
    figure_column,
    filled_columns,
    kinds_present,
    num,
    plain,
    point_name,
    text_column,
    unbroken,
)
from builder.pages.sentences import verdict_tag


def points_table(subject: Subject) -> Table:
    """Return the main figures, one row for each test point."""
    points = subject.result.points
    columns = [text_column("verdict", "Verdict"), *(figure_column(k) for k in figures_for(Use.POINTS))]
    rows = [
        Row(
            head=(point_name(p.name),),
            cells=((verdict_tag(p.verdict),), *(figure_cell(p.figures, k) for k in figures_for(Use.POINTS))),
        )
        for p in points
    ]
    kept, thin = filled_columns(columns, rows)
    caption = "Figures at each test point"
    return Table(id="points", caption=caption, head="Test point", columns=kept, rows=thin)


def all_figures_table(subject: Subject) -> Table:
    """Return every figure of a result, one row for each kind and one column for each test point."""
    points = subject.result.points
    kinds = kinds_present(FIGURES, [p.figures for p in points])
    columns = tuple(Column(key=p.point, label=unbroken(p.name), numeric=True) for p in points)
    rows = tuple(
        Row(
            head=_kind_head(kind),
            cells=tuple(figure_cell(p.figures, kind) for p in points),
            anchors=tuple(figure_anchor(p.point, kind) if kind in p.figures else "" for p in points),
        )
        for kind in kinds
    )
    return Table(id="all-figures", caption="Every figure of this result", head="Figure", columns=columns, rows=rows)


def figure_anchor(point: str, kind: str) -> str:
    """Return the anchor of a figure on its result page, to which links in words lead.

    >>> figure_anchor("power-80", "core_rise")
    'f-power-80-core_rise'
    """
    return f"f-{point}-{kind}"


def _kind_head(kind: str) -> Line:
    return (FIGURES[kind].name,)


def changes_table(subject: Subject) -> Table:
    """Return the change of every test point from stock: absolute, and in percent where stock is positive."""
    changed = [p for p in subject.result.points if p.changes]
    kinds = figures_for(Use.CHANGES)
    columns = [c for kind in kinds for c in _change_columns(kind)]
    rows = [
        Row(head=(point_name(p.name),), cells=tuple(c for kind in kinds for c in _change_cells(p, kind)))
        for p in changed
    ]
    kept, thin = filled_columns(columns, rows)
    return Table(id="changes", caption="Change of each figure from stock", head="Test point", columns=kept, rows=thin)


def _change_columns(kind: str) -> tuple[Column, Column]:
    absolute = figure_column(kind)
    label = absolute.label
    return absolute, Column(key=f"{kind}-pct", label=label, unit=Unit(text="%"), numeric=True, title=absolute.title)


def _change_cells(point: PointResult, kind: str) -> tuple[Line, Line]:
    change: Change | None = point.changes.get(kind)
    if change is None:
        return (), ()
    percent: Line = (num(change.percent, sign=True),) if change.percent else ()
    return (num(change.absolute, sign=True),), percent


def runs_table(subject: Subject) -> Table:
    """Return every run with its verdict and what was found in its log."""
    runs = [(p, run) for p in subject.result.points for run in p.runs]
    columns = (
        text_column("mount", "Mount"),
        text_column("verdict", "Verdict"),
        figure_column("core_rise"),
        text_column("said", "Settling"),
        text_column("found", "Found in the log"),
    )
    rows = [Row(head=(point_name(p.name),), cells=_run_cells(run)) for p, run in runs]
    kept, thin = filled_columns(columns, rows)
    missing = "nothing to report"
    return Table(
        id="runs", caption="Every run and its verdict", head="Test point", columns=kept, rows=thin, missing=missing
    )


def _run_cells(run: RunResult) -> tuple[Line, ...]:
    found = (*run.settlement.notes, *run.warnings, *run.repairs)
    return (
        (plain(run.mount),),
        (verdict_tag(run.settlement.verdict),),
        figure_cell(run.figures, "core_rise"),
        (Name(text=run.settlement.message),) if run.settlement.message else (),
        (Name(text=" ".join(_sentence(f) for f in found)),) if found else (),
    )


def _sentence(text: str) -> str:
    clean = text.strip()
    return capital(clean if clean.endswith((".", "!", "?")) else f"{clean}.")


@dataclass(frozen=True, kw_only=True)
class Budget:
    """Where the uncertainty of one figure comes from: the figure in words and its table."""

    figure: Line
    table: Table


def budgets(subject: Subject) -> tuple[Budget, ...]:
    """Return the uncertainty budgets of the figures at stock that have one."""
    stock = subject.stock
    shown = (stock.figures.get(kind) for kind in figures_for(Use.BUDGET)) if stock else ()
    return tuple(_budget(figure) for figure in shown if figure and figure.budget)


def _budget(figure: Figure) -> Budget:
    shown = FIGURES[figure.kind]
    unit = figure.estimate.unit
    columns = (
        text_column("type", "Type"),
        Column(key="u", label="Standard uncertainty", numeric=True),
        Column(key="contribution", label="Contribution", unit=Unit(text=SYMBOLS[_difference(unit)]), numeric=True),
        Column(key="dof", label="Degrees of freedom", numeric=True),
    )
    rows = (*(_budget_row(c) for c in _largest_first(figure.budget)), _budget_total(figure))
    caption = f"{shown.name} at stock: contributions to the standard uncertainty"
    table = Table(
        id=f"budget-{figure.kind.replace('_', '-')}", caption=caption, head="Source", columns=columns, rows=rows
    )
    return Budget(figure=(f"{shown.name}: ", num(figure.estimate)), table=table)


def _largest_first(components: Sequence[Component]) -> list[Component]:
    return sorted(components, key=lambda c: -c.contribution)


def _budget_row(component: Component) -> Row:
    unit = SYMBOLS.get(component.unit, component.unit)
    cells = (
        (component.kind,),
        (_digits(component.u, unit),),
        (_digits(component.contribution),),
        (_dof(component.dof),),
    )
    return Row(head=(capital(component.name),), cells=cells)


def _budget_total(figure: Figure) -> Row:
    cells: tuple[Line, ...] = (("",), ("",), (_digits(figure.estimate.u),), (_dof(figure.estimate.dof),))
    return Row(head=("Combined",), cells=cells, faint=True)


def _digits(u: float, unit: str = "") -> str:
    text = round_to_uncertainty(u, u).u if u > 0 else "0"
    return f"{text} {unit}" if unit else text


_MANY = 1000


def _dof(dof: float) -> str:
    if math.isinf(dof):
        return "infinite"
    return plain(int(dof)).value if dof < _MANY else f"over {_MANY}"


def _difference(unit_id: str) -> str:
    return "K" if unit_id == "degC" else unit_id
