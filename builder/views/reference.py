"""The order of coolers on a card at reference conditions: one room and one board power for all of them."""

from __future__ import annotations

from dataclasses import replace

from builder.compare import Basis, Group, Ranking, RankRow, Tested, ranking
from builder.quantity import NO_BREAK
from builder.views.ranking import (
    OrderView,
    behind_cell,
    group_anchor,
    group_title,
    left_out_views,
    order_said,
    places,
    ranked_row,
)
from builder.views.tables import Column, Row, Table, figure_column, text_column
from builder.views.text import Line, Name, num, setting, unit

_NOTE = (
    "Each rise is read from the straight line through all test points of a result, inside the power that was tested. "
    "Where no line reaches the reference power, the last column says what took its place."
)


def reference_view(tested: Tested, group: Group) -> OrderView:
    """Return the order by the core's rise at the card's reference power, with its temperature at the reference ambient.

    The line runs through all test points of a result, so one order serves them all.
    """
    found = ranking(tested, group, "core_rise", Basis.REFERENCE)
    title = group_title(tested, group).removeprefix(group.name)
    return OrderView(
        id=f"{group_anchor(group)}-reference",
        name=Name(text=f"At reference conditions{title}"),
        said=order_said(tested, found) if found.rows else ("No result can be converted to reference conditions.",),
        table=_table(tested, found),
        left_out=left_out_views(tested, found.left_out),
        not_run=(),
        notes=(_NOTE,),
        ranking=found,
    )


def _table(tested: Tested, found: Ranking) -> Table:
    ambient = tested.catalogue.archive.reference.ambient_c
    watts = tested.catalogue.cards[found.group.card].board_power_w
    columns = (
        Column(key="place", label="Place", numeric=True),
        figure_column("core_rise"),
        Column(key="behind", label="Behind the first", unit=unit("K"), numeric=True),
        text_column("letters", "Ties"),
        figure_column("core_temperature"),
        text_column("how", "How"),
    )
    return Table(
        id=f"table-{group_anchor(found.group)}-reference",
        caption=f"At {setting(watts, 'W').text} board power and {setting(ambient, 'degC').text} ambient, best first",
        head="Cooler",
        columns=columns,
        rows=tuple(_row(tested, found, row, place) for row, place in zip(found.rows, places(found.rows), strict=True)),
        missing="not judged",
        ticked=True,
    )


def _row(tested: Tested, found: Ranking, row: RankRow, place: int | None) -> Row:
    ambient = tested.catalogue.archive.reference.ambient_c
    temperature = replace(row.estimate, value=row.estimate.value + ambient, unit="degC")
    cells: tuple[Line, ...] = (
        (str(place),) if place else (),
        (num(row.estimate),),
        behind_cell(row, place),
        (NO_BREAK.join(row.letters),) if row.letters else (),
        (num(temperature),),
        (Name(text=row.note),),
    )
    return ranked_row(tested, found.group, row.bundle, cells)
