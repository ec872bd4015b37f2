"""Tables as pages show them: a caption, columns with units, rows with a heading each."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass, replace

from builder.figures import FIGURES, Figure
from builder.views.text import Line, Num, Unit, num, unit


@dataclass(frozen=True, kw_only=True)
class Column:
    """A column: its heading, unit (shown once, in the heading) and whether it holds numbers."""

    key: str
    label: str
    unit: Unit | None = None
    numeric: bool = False
    title: str = ""  # the full name where the heading is short


@dataclass(frozen=True, kw_only=True)
class Row:
    """A row: its heading, then one cell for each column; an empty cell was not measured.

    `anchors` are the addresses of its cells on the page, empty where links lead to none of them.
    """

    head: Line
    cells: tuple[Line, ...]
    data: Mapping[str, str] | None = None  # what scripts filter by
    faint: bool = False
    anchors: tuple[str, ...] = ()


@dataclass(frozen=True, kw_only=True)
class Group:
    """Rows under a heading of their own."""

    id: str
    label: str
    rows: tuple[Row, ...]


@dataclass(frozen=True, kw_only=True)
class Table:
    """A table; `head` names the column of row headings, `missing` is read aloud in an empty cell.

    `ticked` says that its rows are results that can be ticked and put side by side.
    """

    id: str
    caption: str
    head: str
    columns: tuple[Column, ...]
    rows: tuple[Row, ...] = ()
    groups: tuple[Group, ...] = ()
    note: Line = ()
    missing: str = "not measured"
    ticked: bool = False

    @property
    def empty(self) -> bool:
        """Whether there is nothing to show."""
        return not (self.rows or self.groups)


def ticked_row(bundle: str, label: str, point: str, at: str) -> dict[str, str]:
    """Return what a script needs to put a row side by side with others: result, its name, test point, its name."""
    return {"r": bundle, "name": label, "point": point, "at": at}


def sort_key(cell: Line) -> str:
    """Return the number that a cell is sorted by, or an empty text."""
    return next((repr(part.exact) for part in cell if isinstance(part, Num)), "")


def figure_column(kind: str) -> Column:
    """Return the column of one kind of figure."""
    k = FIGURES[kind]
    shown = unit(k.unit)
    return Column(key=kind, label=k.short, unit=shown if shown.text else None, numeric=True, title=k.name)


def figure_cell(figures: Mapping[str, Figure], kind: str) -> Line:
    """Return a figure's cell; empty where it was not measured."""
    figure = figures.get(kind)
    return (num(figure.estimate),) if figure else ()


def kinds_present(kinds: Iterable[str], figure_sets: Sequence[Mapping[str, Figure]]) -> tuple[str, ...]:
    """Return the kinds that at least one set holds, in the order given."""
    return tuple(kind for kind in kinds if any(kind in figures for figures in figure_sets))


def filled_columns(columns: Sequence[Column], rows: Sequence[Row]) -> tuple[tuple[Column, ...], tuple[Row, ...]]:
    """Return columns and rows without the columns that no row fills."""
    keep = [i for i in range(len(columns)) if any(row.cells[i] for row in rows)]
    thin = (replace(r, cells=tuple(r.cells[i] for i in keep)) for r in rows)
    whole = (replace(r, anchors=tuple(r.anchors[i] for i in keep)) if r.anchors else r for r in thin)
    return tuple(columns[i] for i in keep), tuple(whole)


def text_column(key: str, label: str) -> Column:
    """Return a column of words."""
    return Column(key=key, label=label)


CellMaker = Callable[[Mapping[str, Figure]], Line]
