"""Coolers in order at one test point of a card: who is first, ties, what is left out; and one result's place in it."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace

from builder.archive.catalogue import Setup
from builder.archive.protocol import PointRole
from builder.charts.of_result import order_chart
from builder.comparison import Basis, Group, LeftOut, Ranking, RankRow, Subject, Tested, group_of, groups, ranking
from builder.core.quantity import NO_BREAK
from builder.core.results import FIGURES
from builder.pages.chart_view import ChartView, Draw, chart_view, drawn
from builder.pages.parts import (
    Column,
    Line,
    Name,
    Row,
    Table,
    capital,
    count,
    difference_unit,
    figure_column,
    joined,
    num,
    setting,
    short_day,
    text_column,
    ticked_row,
    unbroken,
)

_NAMED = 3  # coolers that a sentence names before it counts the others
_WHAT = {"memory_rise": ": memory", "core_coolant_psi": ": water blocks by core over coolant per watt"}
_COOLEST = {
    "core_rise": "keeps the core coolest",
    "memory_rise": "keeps the memory coolest",
    "core_coolant_psi": "has the lowest core over coolant per watt",
}
_ORDINALS = ("first", "second", "third", "fourth", "fifth", "sixth", "seventh", "eighth", "ninth", "tenth")
_REFERENCE_NOTE = (
    "Each rise is read from the straight line through the test points that differ in power alone, where they reach. "
    "Where no line reaches the reference power, the last column says what took its place."
)


@dataclass(frozen=True, kw_only=True)
class LeftOutView:
    """Why results are not in an order, and which they are."""

    reason: str
    names: Line


@dataclass(frozen=True, kw_only=True, eq=False)
class OrderView:
    """One order as a page shows it: a sentence, a table, a chart, what is left out, and what to know about it."""

    id: str
    name: Name
    said: Line
    table: Table
    left_out: tuple[LeftOutView, ...]
    not_run: Line
    notes: tuple[str, ...]
    chart: ChartView | None = None


def order_view(tested: Tested, group: Group, kind: str = "core_rise", draw: Draw = drawn) -> OrderView:
    """Return the order of the results in a group by one kind of figure as measured; at stock with its chart."""
    found = ranking(tested, group, kind, Basis.MEASURED)
    anchor = f"{group_anchor(group)}{'' if kind == 'core_rise' else '-' + kind.replace('_', '-')}"
    title = group_title(tested, group)
    chart = order_chart(tested, found, chart_id=f"chart-{anchor}") if group.role is PointRole.STOCK else None
    row_notes = (f"{tested.label(row.bundle)}: {row.note}" for row in found.rows if row.note)
    return OrderView(
        id=anchor,
        name=Name(text=unbroken(title) + _WHAT.get(kind, "")),
        said=order_said(tested, found),
        table=_table(
            tested,
            found,
            id=f"table-{anchor}",
            caption=unbroken(f"{FIGURES[kind].name} at {title}, best first"),
            columns=(text_column("tested", "Tested"),),
            cells_of=lambda row: ((short_day(tested.setup(row.bundle).bundle.tested),),),
        ),
        left_out=left_out_views(tested, found.left_out),
        not_run=_links(tested, [x.bundle for x in found.left_out if _not_run(x)]),
        notes=tuple(dict.fromkeys([*found.notes, *row_notes])),
        chart=chart_view(chart, draw) if chart else None,
    )


def reference_view(tested: Tested, group: Group) -> OrderView:
    """Return the order by the core's rise at the card's reference power, with its temperature at the reference ambient.

    The line runs through all test points of a result, so one order serves them all.
    """
    found = ranking(tested, group, "core_rise", Basis.REFERENCE)
    anchor = f"{group_anchor(group)}-reference"
    ambient = tested.catalogue.archive.reference.ambient_c
    power = setting(tested.catalogue.cards[group.card].board_power_w, "W")

    def cells(row: RankRow) -> tuple[Line, ...]:
        temperature = replace(row.estimate, value=row.estimate.value + ambient, unit="degC")
        return (num(temperature),), (Name(text=row.note),)

    return OrderView(
        id=anchor,
        name=Name(text=f"At reference conditions{_told_apart(tested, group)}"),
        said=order_said(tested, found) if found.rows else ("No result can be converted to reference conditions.",),
        table=_table(
            tested,
            found,
            id=f"table-{anchor}",
            caption=f"At {power.text} board power and {setting(ambient, 'degC').text} ambient, best first",
            columns=(figure_column("core_temperature"), text_column("how", "How")),
            cells_of=cells,
        ),
        left_out=left_out_views(tested, found.left_out),
        not_run=(),
        notes=(_REFERENCE_NOTE,),
    )


def _table(  # noqa: PLR0913 - an order, its names, and what stands in the last columns
    tested: Tested,
    found: Ranking,
    *,
    id: str,  # noqa: A002 - the field is called so
    caption: str,
    columns: Sequence[Column],
    cells_of: Callable[[RankRow], tuple[Line, ...]],
) -> Table:
    """Return an order as a table; `columns` and `cells_of` are what follows place, figure, difference and ties."""
    ranked = zip(found.rows, places(found.rows), strict=True)
    return Table(
        id=id,
        caption=caption,
        head="Cooler",
        columns=(
            Column(key="place", label="Place", numeric=True),
            figure_column(found.kind),
            Column(key="behind", label="Behind the first", unit=difference_unit(found.kind), numeric=True),
            text_column("letters", "Ties"),
            *columns,
        ),
        rows=tuple(_row(tested, found.group, row, place, cells_of(row)) for row, place in ranked),
        missing="not judged",
        ticked=True,
    )


def _row(tested: Tested, group: Group, row: RankRow, place: int | None, cells: tuple[Line, ...]) -> Row:
    setup = tested.setup(row.bundle)
    several: Line = (f" ({count(len(row.tests), 'test')})",) if len(row.tests) > 1 else ()
    behind: Line = (num(row.behind, sign=True),) if row.behind else ("first",) if place == 1 and row.letters else ()
    return Row(
        head=(_linked(setup, setup.cooler.name), *several),
        cells=(
            (str(place),) if place else (),
            (num(row.estimate),),
            behind,
            (NO_BREAK.join(row.letters),) if row.letters else (),
            *cells,
        ),
        data=ticked_row(setup.id, tested.label(setup.id), group.point_of(setup.bundle) or "", group.name),
    )


def left_out_views(tested: Tested, left_out: Sequence[LeftOut]) -> tuple[LeftOutView, ...]:
    """Return each reason once, with every result that it keeps out of an order; what was not run is no part of it."""
    found: dict[str, list[str]] = {}
    for one in left_out:
        for reason in () if _not_run(one) else one.reasons:
            found.setdefault(unbroken(capital(reason.short)), []).append(one.bundle)
    return tuple(LeftOutView(reason=reason, names=_links(tested, bundles)) for reason, bundles in found.items())


def _not_run(left_out: LeftOut) -> bool:
    return any(reason.code == "no-run" for reason in left_out.reasons)


def _links(tested: Tested, bundles: Sequence[str]) -> Line:
    """Return results by their coolers' names; the tests of one cooler follow it by their days."""
    setups = sorted(map(tested.setup, bundles), key=lambda s: (s.cooler.name.casefold(), s.bundle.tested, s.id))
    by_cooler: dict[str, list[Setup]] = {}
    for setup in setups:
        by_cooler.setdefault(setup.cooler.name, []).append(setup)
    return joined([_tests(name, tests) for name, tests in by_cooler.items()])


def _tests(name: str, tests: Sequence[Setup]) -> Line:
    if len(tests) == 1:
        return (_linked(tests[0], name),)
    days = [(_linked(test, short_day(test.bundle.tested).text),) for test in tests]
    return (Name(text=name), " (", *joined(days, last=", "), ")")


def _linked(setup: Setup, text: str) -> Name:
    return Name(text=text, href=f"results/{setup.id}.html")


def group_anchor(group: Group) -> str:
    """Return the anchor of a group on its card's page."""
    return "-".join(("at", group.sample, *group.points[0]))


def group_title(tested: Tested, group: Group) -> str:
    """Return a group's name on its card's page, with protocol and card sample where the name alone would not do."""
    return f"{group.name}{_told_apart(tested, group)}"


def _told_apart(tested: Tested, group: Group) -> str:
    here = [g for g in groups(tested) if g.card == group.card]
    same_name = [g for g in here if (g.sample, g.name) == (group.sample, group.name)]
    protocol = f" ({tested.catalogue.protocols[group.points[0][0]].name})" if len(same_name) > 1 else ""
    sample = f", card sample {group.sample.upper()}" if len({g.sample for g in here}) > 1 else ""
    return f"{protocol}{sample}"


def places(rows: Sequence[RankRow]) -> tuple[int | None, ...]:
    """Return each result's place: one more than the number of results that are better and can be told apart from it.

    Results that are not judged have none.
    """
    return tuple(
        1 + sum(not _tied(better, row) for better in rows[:i]) if row.letters else None for i, row in enumerate(rows)
    )


def _tied(one: RankRow, other: RankRow) -> bool:
    return bool(set(one.letters) & set(other.letters))


def _tied_with(rows: Sequence[RankRow], row: RankRow) -> list[RankRow]:
    return [r for r in rows if r is not row and _tied(r, row)]


def order_said(tested: Tested, found: Ranking) -> Line:
    """Return who comes first in an order, and whether beyond doubt."""
    if not found.rows:
        return ("No result compares at this test point.",)
    if len(found.rows) == 1:
        return ("One cooler only, so there is nothing to compare it with.",)
    first, number = found.rows[0], count(len(found.rows), "cooler")
    if not first.letters:
        return (f"{number}, listed by figure; their differences are not judged.",)
    tied = _tied_with(found.rows, first)
    names = names_of(tested, [first, *tied])
    if tied:
        return (*names, " cannot be told apart: they share first place.")
    return (*names, f" {_COOLEST.get(found.kind, 'is first')} of {number}, by more than the uncertainty.")


def standing(tested: Tested, subject: Subject) -> Line:
    """Return where a result stands among those on its card at stock; empty where it stands alone."""
    if subject.stock is None:
        return ()
    group = group_of(tested, subject.id, subject.stock.point)
    rows = ranking(tested, group, "core_rise").rows
    placed = zip(rows, places(rows), strict=True)
    row, place = next(((r, p) for r, p in placed if subject.id in r.tests), (None, None))
    if row is None or place is None or len(rows) == 1:
        return ()
    said = f"{ordinal(place)} place of {count(len(rows), 'comparable cooler')} on this card"
    order = Name(text=said, href=f"cards/{subject.bundle.card}.html#{group_anchor(group)}")
    tied = _tied_with(rows, row)
    ties: Line = (", and cannot be told apart from ", *names_of(tested, tied)) if tied else ()
    return ("It takes ", order, *ties, ".")


def names_of(tested: Tested, rows: Sequence[RankRow]) -> Line:
    """Return the coolers of rows as a list of words, cut after a few; several tests of one cooler are counted."""
    names: list[Line] = [(Name(text=_counted(tested, row)),) for row in rows]
    if len(names) > _NAMED + 1:
        names = [*names[:_NAMED], (count(len(names) - _NAMED, "other"),)]
    return joined(names)


def _counted(tested: Tested, row: RankRow) -> str:
    name = tested.setup(row.bundle).cooler.name
    return f"{name} ({count(len(row.tests), 'test')})" if len(row.tests) > 1 else name


def ordinal(number: int) -> str:
    """Return a place in words.

    >>> ordinal(2), ordinal(11), ordinal(22)
    ('second', '11th', '22nd')
    """
    if number <= len(_ORDINALS):
        return _ORDINALS[number - 1]
    last_two, last = number % 100, number % 10
    ending = "th" if last_two in (11, 12, 13) else {1: "st", 2: "nd", 3: "rd"}.get(last, "th")
    return f"{number}{ending}"
