"""The tables of one result: test points, every figure, changes from stock, runs, uncertainty budgets, corrections."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

from builder.archive.bundle import Correction
from builder.comparison import Subject, Tested, by_hand, leads, settled
from builder.core.quantity import SYMBOLS, round_to_uncertainty
from builder.core.results import FIGURES, Component, Figure, PointResult, RunResult, Use, figures_for
from builder.narration import parse_address
from builder.pages.at_rest import figure_label, labelled_cell
from builder.pages.parts import (
    Column,
    Line,
    Name,
    Row,
    Table,
    Unit,
    capital,
    day,
    difference_unit,
    figure_cell,
    figure_column,
    filled_columns,
    kinds_present,
    num,
    plain,
    point_name,
    text,
    text_column,
    unbroken,
)
from builder.pages.sentences import verdict_tag

CORRECTION_COLUMNS = (
    text_column("figure", "Figure"),
    text_column("was", "Was"),
    text_column("now", "Now"),
    text_column("reason", "Reason"),
)
_MANY_DOF = 1000  # degrees of freedom above which their number says no more


def points_table(subject: Subject) -> Table:
    """Return the main figures, one row for each test point."""
    kinds = figures_for(Use.POINTS)
    columns = [text_column("verdict", "Verdict"), *map(figure_column, kinds)]
    rows = [
        Row(head=_unlike(p), cells=((verdict_tag(p.verdict),), *(figure_cell(p.figures, k) for k in kinds)))
        for p in subject.result.points
    ]
    kept, thin = filled_columns(columns, rows)
    return Table(id="points", caption="Figures at each test point", head="Test point", columns=kept, rows=thin)


def _unlike(point: PointResult) -> Line:
    """Return a test point's name beside its verdict, with its mark where its figures are of another setting."""
    return _marked(point) if point.over_limit else (point_name(point.name),)


def all_figures_table(subject: Subject) -> Table:
    """Return every figure of a result, one row for each kind and one column for each test point."""
    points = subject.result.points
    rows = tuple(
        Row(
            head=(figure_label(kind),),
            cells=tuple(labelled_cell(p, kind) for p in points),
            anchors=tuple(figure_anchor(p.point, kind) if kind in p.figures else "" for p in points),
        )
        for kind in kinds_present(FIGURES, [p.figures for p in points])
    )
    columns = tuple(Column(key=p.point, label=_column_label(p), numeric=True) for p in points)
    return Table(id="all-figures", caption="Every figure of this result", head="Figure", columns=columns, rows=rows)


def _column_label(point: PointResult) -> str:
    name = unbroken(point.name)
    return f"{name} ({point.mark})" if point.over_limit else name


def figure_anchor(point: str, kind: str) -> str:
    """Return the anchor of a figure in the table of every figure, to which links in words lead.

    >>> figure_anchor("power-80", "core_rise")
    'f-power-80-core_rise'
    """
    return f"f-{point}-{kind}"


def figure_place(here: str, tested: Tested, target: str) -> str:
    """Return where a link in the words of the bundle `here` leads: to the figure's cell, there or on another result.

    From the site's root, or an anchor of the same page; empty where there is no such figure.
    """
    address = parse_address(target, here=here)
    point = tested.point(address.bundle, address.point) if address else None
    if address is None or point is None or address.kind not in point.figures:
        return ""
    anchor = f"#{figure_anchor(address.point, address.kind)}"
    return anchor if address.bundle == here else f"results/{address.bundle}.html{anchor}"


def changes_table(subject: Subject) -> Table:
    """Return the change of every test point from stock: absolute, and in percent where stock is positive."""
    kinds = figures_for(Use.CHANGES)
    columns = []
    for shown in map(figure_column, kinds):
        percent = replace(shown, key=f"{shown.key}-pct", unit=Unit(text="%"))
        columns += [shown, percent]
    rows = [
        Row(head=_marked(p), cells=tuple(cell for kind in kinds for cell in _change_cells(p, kind)))
        for p in subject.result.points
        if p.changes
    ]
    kept, thin = filled_columns(columns, rows)
    stock = subject.stock
    is_ = "was read" if stock and by_hand(stock) else "is"
    mark = f", which {is_} {stock.verdict}" if stock and not settled(stock) else ""
    caption = f"Change of each figure from stock{mark}"
    return Table(id="changes", caption=caption, head="Test point", columns=kept, rows=thin)


def _marked(point: PointResult) -> Line:
    """Return a test point's name, with its mark where it has one."""
    return (point_name(point.name), f" ({point.mark})") if point.mark else (point_name(point.name),)


def _change_cells(point: PointResult, kind: str) -> tuple[Line, Line]:
    change = point.changes.get(kind)
    if change is None:
        return (), ()
    percent: Line = (num(change.percent, sign=True),) if change.percent else ()
    return (num(change.absolute, sign=True),), percent


def runs_table(subject: Subject) -> Table:
    """Return every run with its verdict and what was found in its log."""
    columns = (
        text_column("mount", "Mount"),
        text_column("verdict", "Verdict"),
        figure_column("core_rise"),
        text_column("said", "Settling"),
        text_column("found", "Found in the log"),
        text_column("note", "The tester's note"),
    )
    rows = [
        Row(head=(point_name(p.name),), cells=(*_run_cells(run), _run_note(subject, run)))
        for p in subject.result.points
        for run in p.runs
    ]
    kept, thin = filled_columns(columns, rows)
    return Table(
        id="runs",
        caption="Every run and its verdict",
        head="Test point",
        columns=kept,
        rows=thin,
        missing="nothing to report",
    )


def _run_note(subject: Subject, run: RunResult) -> Line:
    runs = (given for mount in subject.bundle.mounts[run.mount - 1 : run.mount] for given in mount.runs)
    return text(next((given.note for given in runs if given.point == run.point), ""))


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
    """Return the uncertainty budgets of the main figures at stock where these lead; the data files hold all."""
    figures = subject.stock.figures if subject.stock and leads(subject.stock) else {}
    shown = (figures.get(kind) for kind in figures_for(Use.BUDGET))
    return tuple(_budget(figure) for figure in shown if figure and figure.budget)


def _budget(figure: Figure) -> Budget:
    kind, name = figure.kind, FIGURES[figure.kind].name
    contribution = Unit(text=difference_unit(kind).text)  # without °F: a budget is in the units of its inputs
    table = Table(
        id=f"budget-{kind.replace('_', '-')}",
        caption=f"{name} at stock: contributions to the standard uncertainty",
        head="Source",
        columns=(
            text_column("type", "Type"),
            Column(key="u", label="Standard uncertainty", numeric=True),
            Column(key="contribution", label="Contribution", unit=contribution, numeric=True),
            Column(key="dof", label="Degrees of freedom", numeric=True),
        ),
        rows=(
            *(_budget_row(c) for c in sorted(figure.budget, key=lambda c: -c.contribution)),
            Row(
                head=("Combined",),
                cells=(("",), ("",), (_digits(figure.estimate.u),), (_dof(figure.estimate.dof),)),
                faint=True,
            ),
        ),
    )
    return Budget(figure=(f"{name}: ", num(figure.estimate)), table=table)


def _budget_row(component: Component) -> Row:
    return Row(
        head=(capital(component.name),),
        cells=(
            (component.kind,),
            (_digits(component.u, SYMBOLS.get(component.unit, component.unit)),),
            (_digits(component.contribution),),
            (_dof(component.dof),),
        ),
    )


def _digits(u: float, unit: str = "") -> str:
    text = round_to_uncertainty(u, u).u if u > 0 else "0"
    return f"{text} {unit}" if unit else text


def _dof(dof: float) -> str:
    if math.isinf(dof):
        return "infinite"
    return plain(int(dof)).value if dof < _MANY_DOF else f"over {_MANY_DOF}"


def corrections_table(subject: Subject) -> Table:
    """Return the corrections of one result, newest first."""
    rows = tuple(
        Row(head=(day(c.date),), cells=correction_cells(subject, c))
        for c in sorted(subject.bundle.corrections, key=lambda c: c.date, reverse=True)
    )
    return Table(
        id="corrections-table", caption="Corrected figures", head="Date", columns=CORRECTION_COLUMNS, rows=rows
    )


def correction_cells(subject: Subject, correction: Correction) -> tuple[Line, ...]:
    """Return the cells of one correction, as `CORRECTION_COLUMNS` names them."""
    words = (correction.was, correction.now, correction.reason)
    return (figure_in_words(subject, correction.figure), *((Name(text=w),) for w in words))


def figure_in_words(subject: Subject, figure: str) -> Line:
    """Return a figure's id, such as `stock/core_rise`, in words; other text stays as it is."""
    point, _, kind = figure.rpartition("/")
    known = subject.protocol.point(point)
    if known is None or kind not in FIGURES:
        return (Name(text=figure),)
    return (f"{FIGURES[kind].name} at ", Name(text=known.name))
