"""The lead chart: who has a row, ties as bars, what it says, and the zero line."""

from __future__ import annotations

from dataclasses import replace

import pytest

from builder.archive.catalogue import CoolerKind
from builder.charts.own_cooler_chart import AgainstRow, own_cooler_chart, shown_rows, tie_spans
from builder.core.quantity import NO_BREAK, Estimate
from tests.support import chart_samples as samples


def row(name: str, less: float | None, *, ties: tuple[str, ...] = (), here: bool = False) -> AgainstRow:
    difference = None if less is None else Estimate(value=less, u=0.5, unit="K")
    return AgainstRow(name=name, kind=CoolerKind.AIR, difference=difference, ties=ties, is_own=less is None, here=here)


MANY = tuple(row(f"c{i}", float(i - 20), here=i == 30) if i != 20 else row("own", None) for i in range(41))


def test_a_few_coolers_all_have_a_row() -> None:
    assert shown_rows(MANY[:12]) == MANY[:12]


def test_of_many_the_subject_the_own_cooler_best_worst_and_the_nearest_are_shown() -> None:
    shown = shown_rows(MANY)
    assert [r.name for r in shown] == ["c0", "own", *(f"c{i}" for i in range(26, 35)), "c40"]


def test_without_a_subject_the_best_are_shown() -> None:
    shown = shown_rows(tuple(replace(r, here=False) for r in MANY))
    assert [r.name for r in shown] == [*(f"c{i}" for i in range(10)), "own", "c40"]


@pytest.mark.parametrize(
    ("letters", "spans"),
    [
        (("a", "b", "c"), ()),
        (("a", "a", "b"), ((0, 1),)),
        (("a", "ab", "b"), ((0, 1), (1, 2))),
        (("a", "a", "a"), ((0, 2),)),
        (("", "", ""), ()),
    ],
)
def test_rows_that_share_a_letter_are_joined_by_a_bar(letters: tuple[str, ...], spans: object) -> None:
    assert tie_spans([row(str(i), 1.0, ties=tuple(ties)) for i, ties in enumerate(letters)]) == spans


def test_it_says_the_best_and_the_worst_and_what_the_bars_mean() -> None:
    said = own_cooler_chart(samples.against()).description.replace(NO_BREAK, " ")
    assert said == (
        "Fenwick Slab: −12.3 ± 1.0 K from the card's own cooler. Gritstone Fold: +9.7 ± 1.0 K from the card's own "
        "cooler. A bar at the right joins coolers that are too close to call."
    )


def test_the_own_cooler_is_the_zero_line_and_has_no_interval() -> None:
    chart = own_cooler_chart(samples.against())
    dots = chart.spec["datasets"]["dots"]
    assert [d for d in dots if d["lo"] == d["hi"] == 0]
    assert chart.table.rows[2][2] == "zero line"


def test_what_has_no_row_is_counted() -> None:
    few = replace(samples.against(), left_out=28)
    assert own_cooler_chart(few).description.replace(NO_BREAK, " ").endswith("28 more coolers on this card.")
