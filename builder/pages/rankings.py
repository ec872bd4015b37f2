"""The order of coolers on a card at one test point, with ties, and what is left out and why."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

from builder.comparison import Basis, Group, LeftOut, Ranking, RankRow, Tested, group_of, groups, ranking
from builder.comparison.subject import Subject
from builder.core.quantity import NO_BREAK
from builder.core.results import FIGURES
from builder.pages.parts import (
    Column,
    Line,
    Name,
    Row,
    Table,
    capital,
    count,
    figure_column,
    joined,
    num,
    setting,
    short_day,
    text_column,
    ticked_row,
    unbroken,
    unit,
)


@dataclass(frozen=True, kw_only=True)
class LeftOutView:
    """Why results are not in an order, and which they are."""

    reason: str
    names: Line


@dataclass(frozen=True, kw_only=True, eq=False)
class OrderView:
    """One order as a page shows it: a sentence, a table, what is left out, and what to know about it."""

    id: str
    name: Name
    said: Line
    table: Table
    left_out: tuple[LeftOutView, ...]
    not_run: Line
    notes: tuple[str, ...]
    ranking: Ranking


def order_view(tested: Tested, group: Group, kind: str = "core_rise") -> OrderView:
    """Return the order of results in a group by one kind of figure."""
    found = ranking(tested, group, kind, Basis.MEASURED)
    anchor = f"{group_anchor(group)}{'' if kind == 'core_rise' else '-' + kind.replace('_', '-')}"
    return OrderView(
        id=anchor,
        name=Name(text=unbroken(group_title(tested, group)) + _WHAT.get(kind, "")),
        said=order_said(tested, found),
        table=_table(tested, found, anchor),
        left_out=left_out_views(tested, found.left_out),
        not_run=_links(tested, [x.bundle for x in found.left_out if _is_absent(x)]),
        notes=tuple(dict.fromkeys([*found.notes, *(f"{_label(tested, r)}: {r.note}" for r in found.rows if r.note)])),
        ranking=found,
    )


def _is_absent(left_out: LeftOut) -> bool:
    return any(reason.code in ("no-run", "no-point") for reason in left_out.reasons)


def left_out_views(tested: Tested, left_out: Sequence[LeftOut]) -> tuple[LeftOutView, ...]:
    """Return each reason once, with every result that it keeps out of an order; what was not run is no part of it."""
    found: dict[str, list[str]] = {}
    for one in left_out:
        for reason in () if _is_absent(one) else one.reasons:
            found.setdefault(_without_name(reason.text, tested.label(one.bundle)), []).append(one.bundle)
    return tuple(LeftOutView(reason=reason, names=_links(tested, bundles)) for reason, bundles in found.items())


def _without_name(reason: str, label: str) -> str:
    return unbroken(capital(reason.removeprefix(label).lstrip(": ").removeprefix("was ").removesuffix(".")))


def _links(tested: Tested, bundles: Sequence[str]) -> Line:
    """Return results by their coolers' names; the tests of one cooler follow it by their days."""
    by_cooler: dict[str, list[str]] = {}
    for bundle in sorted(
        bundles, key=lambda b: (tested.setup(b).cooler.name.casefold(), tested.setup(b).bundle.tested, b)
    ):
        by_cooler.setdefault(tested.setup(bundle).cooler.name, []).append(bundle)
    return joined([_tests(tested, name, tests) for name, tests in by_cooler.items()])


def _tests(tested: Tested, name: str, bundles: Sequence[str]) -> Line:
    if len(bundles) == 1:
        return (_linked(tested, bundles[0]),)
    days = (replace(_linked(tested, b), text=short_day(tested.setup(b).bundle.tested).text) for b in bundles)
    return (Name(text=name), " (", *joined([(day,) for day in days], last=", "), ")")


def group_anchor(group: Group) -> str:
    """Return the anchor of a group on its card's page."""
    return "-".join(("at", group.sample, *group.points[0]))


def group_title(tested: Tested, group: Group) -> str:
    """Return a group's name on its card's page, with protocol and card sample where the name alone would not do."""
    here = [g for g in groups(tested) if g.card == group.card]
    same_name = [g for g in here if (g.sample, g.name) == (group.sample, group.name)]
    protocol = tested.catalogue.protocols[group.points[0][0]].name
    name = f"{group.name} ({protocol})" if len(same_name) > 1 else group.name
    return f"{name}, card sample {group.sample.upper()}" if len({g.sample for g in here}) > 1 else name


def _table(tested: Tested, found: Ranking, anchor: str) -> Table:
    shown = FIGURES[found.kind]
    difference = "K" if shown.unit == "degC" else shown.unit
    columns = (
        Column(key="place", label="Place", numeric=True),
        figure_column(found.kind),
        Column(key="behind", label="Behind the first", unit=unit(difference), numeric=True),
        text_column("letters", "Ties"),
        text_column("tested", "Tested"),
    )
    ranked = zip(found.rows, places(found.rows), strict=True)
    rows = tuple(_row(tested, found.group, row, place) for row, place in ranked)
    caption = unbroken(f"{shown.name} at {group_title(tested, found.group)}, best first")
    return Table(
        id=f"table-{anchor}",
        caption=caption,
        head="Cooler",
        columns=columns,
        rows=rows,
        missing="not judged",
        ticked=True,
    )


def _row(tested: Tested, group: Group, row: RankRow, place: int | None) -> Row:
    cells: tuple[Line, ...] = (
        (str(place),) if place else (),
        (num(row.estimate),),
        behind_cell(row, place),
        (NO_BREAK.join(row.letters),) if row.letters else (),
        (short_day(tested.setup(row.bundle).bundle.tested),),
    )
    return ranked_row(tested, group, row.bundle, cells)


def behind_cell(row: RankRow, place: int | None) -> Line:
    """Return how far a result is behind the first; empty where it is not judged."""
    if row.behind:
        return (num(row.behind, sign=True),)
    return ("first",) if place == 1 and row.letters else ()


def ranked_row(tested: Tested, group: Group, bundle: str, cells: tuple[Line, ...]) -> Row:
    """Return a row of an order that can be ticked."""
    tick = ticked_row(bundle, tested.label(bundle), group.point_of(tested.setup(bundle).bundle) or "", group.name)
    return Row(head=(_linked(tested, bundle),), cells=cells, data=tick)


def _linked(tested: Tested, bundle: str) -> Name:
    return Name(text=tested.setup(bundle).cooler.name, href=f"results/{bundle}.html")


def _label(tested: Tested, row: RankRow) -> str:
    return tested.label(row.bundle)


def places(rows: Sequence[RankRow]) -> tuple[int | None, ...]:
    """Return each result's place: one more than the number of results that are better and can be told apart from it.

    Results that are not judged have none.
    """
    return tuple(
        1 + sum(not _tied(better, row) for better in rows[:i]) if row.letters else None for i, row in enumerate(rows)
    )


def _tied(one: RankRow, other: RankRow) -> bool:
    return bool(set(one.letters) & set(other.letters))


_WHAT = {"memory_rise": ": memory"}
_COOLEST = {"core_rise": "keeps the core coolest", "memory_rise": "keeps the memory coolest"}


def order_said(tested: Tested, found: Ranking) -> Line:
    """Return who comes first in an order, and whether beyond doubt."""
    if not found.rows:
        return ("No result compares at this test point.",)
    if len(found.rows) == 1:
        return ("One result only, so there is nothing to compare it with.",)
    first = found.rows[0]
    if not first.letters:
        return (f"{count(len(found.rows), 'result')}, listed by figure; their differences are not judged.",)
    return _first_place(tested, found, tied_with(found.rows, first))


def _first_place(tested: Tested, found: Ranking, tied: Sequence[RankRow]) -> Line:
    names = names_of(tested, [*tied, found.rows[0]] if not tied else [found.rows[0], *tied])
    if not tied:
        what = _COOLEST.get(found.kind, "is first")
        return (*names, f" {what} of {count(len(found.rows), 'result')}, by more than the uncertainty.")
    return (*names, " cannot be told apart: they share first place.")


def tied_with(rows: Sequence[RankRow], row: RankRow) -> tuple[RankRow, ...]:
    """Return the other results that share a letter with one."""
    return tuple(r for r in rows if r is not row and _tied(r, row))


_NAMED = 3


def names_of(tested: Tested, rows: Sequence[RankRow]) -> Line:
    """Return the coolers of results as a list of words, cut after a few; several tests of one cooler are counted."""
    by_cooler: dict[str, list[str]] = {}
    for row in rows:
        by_cooler.setdefault(tested.setup(row.bundle).bundle.cooler, []).append(row.bundle)
    names: list[Line] = [(Name(text=_counted(tested, bundles)),) for bundles in by_cooler.values()]
    if len(names) > _NAMED + 1:
        names = [*names[:_NAMED], (count(len(names) - _NAMED, "other"),)]
    return joined(names)


def _counted(tested: Tested, bundles: Sequence[str]) -> str:
    first = bundles[0]
    name = tested.setup(first).cooler.name
    if len(bundles) > 1:
        return f"{name} ({count(len(bundles), 'test')})"
    return name if tested.label(first) == name else f"{name} ({short_day(tested.setup(first).bundle.tested).text})"


# --- one result among the others -------------------------------------------------------------------------------


def standing(tested: Tested, subject: Subject) -> Line:
    """Return where a result stands among those on its card at stock; empty where it stands alone."""
    stock = subject.stock
    if stock is None:
        return ()
    group = group_of(tested, subject.id, stock.point)
    found = ranking(tested, group, "core_rise")
    row = next((r for r in found.rows if r.bundle == subject.id), None)
    if row is None or not row.letters or len(found.rows) == 1:
        return ()
    place = places(found.rows)[found.rows.index(row)]
    of = f"{ordinal(place or 1)} place of {count(len(found.rows), 'comparable result')} on this card"
    order = Name(text=of, href=f"cards/{subject.bundle.card}.html#{group_anchor(group)}")
    return ("It takes ", order, *_ties(tested, found, row), ".")


def _ties(tested: Tested, found: Ranking, row: RankRow) -> Line:
    mine = tested.setup(row.bundle).bundle.cooler
    # That a cooler equals itself at another time is the bench's business, not this sentence's.
    tied = [r for r in tied_with(found.rows, row) if tested.setup(r.bundle).bundle.cooler != mine]
    return (", and cannot be told apart from ", *names_of(tested, tied)) if tied else ()


_ORDINALS = ("first", "second", "third", "fourth", "fifth", "sixth", "seventh", "eighth", "ninth", "tenth")


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


# --- The order of coolers on a card at reference conditions: one room and one board power for all of them


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
        table=_reference_table(tested, found),
        left_out=left_out_views(tested, found.left_out),
        not_run=(),
        notes=(_NOTE,),
        ranking=found,
    )


def _reference_table(tested: Tested, found: Ranking) -> Table:
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
        rows=tuple(
            _reference_row(tested, found, row, place) for row, place in zip(found.rows, places(found.rows), strict=True)
        ),
        missing="not judged",
        ticked=True,
    )


def _reference_row(tested: Tested, found: Ranking, row: RankRow, place: int | None) -> Row:
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
