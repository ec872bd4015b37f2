"""Orders of coolers in words: places, ties, and what is left out."""

from __future__ import annotations

import datetime as dt
from dataclasses import replace

import pytest

from builder.comparison import Basis, LeftOut, RankRow, Tested, group_of, ranking, subjects
from builder.comparison.reasons import of_one
from builder.core.quantity import NO_BREAK, Estimate
from builder.pages.card import card_view
from builder.pages.cooler import cooler_view
from builder.pages.parts import Line, Num, num, plain_text
from builder.pages.rankings import left_out_views, names_of, order_view, ordinal, places, reference_view, standing
from tests.support.site_data import catalogue, results

TESTED = Tested(catalogue=catalogue(), results=results())
SUBJECTS = {s.id: s for s in subjects(TESTED.catalogue, TESTED.results)}
STOCK = order_view(TESTED, group_of(TESTED, "slab-on-780", "stock"))


def words(line: Line) -> str:
    return plain_text(line).replace(NO_BREAK, " ")


def row(bundle: str, *letters: str) -> RankRow:
    return RankRow(bundle=bundle, estimate=Estimate(value=1.0, u=0.1, unit="K"), letters=letters, tests=(bundle,))


def test_a_place_counts_the_results_that_are_better_beyond_doubt() -> None:
    # Source: letters of ties, a "a", b "ab", c "b": c is worse than a and tied with b.
    assert places([row("a", "a"), row("b", "a", "b"), row("c", "b"), row("d", "c")]) == (1, 1, 2, 4)


def test_what_is_not_judged_has_no_place() -> None:
    assert places([row("a"), row("b")]) == (None, None)


def test_places_in_words() -> None:
    assert [ordinal(n) for n in (1, 3, 11, 12, 21, 22, 23, 24, 112)] == [
        "first", "third", "11th", "12th", "21st", "22nd", "23rd", "24th", "112th",
    ]  # fmt: skip


def test_a_tie_for_the_first_place_is_said() -> None:
    assert words(STOCK.said) == "Fenwick Slab and Moorhen Riffle cannot be told apart: they share first place."


def test_the_order_is_best_first_with_letters() -> None:
    assert [words(r.head) for r in STOCK.table.rows] == ["Fenwick Slab", "Moorhen Riffle", "Orrery 780 stock cooler"]
    letters = [words(r.cells[3]) for r in STOCK.table.rows]
    assert letters[0] == letters[1] != letters[2]


def test_a_drifting_run_is_left_out_with_its_reason() -> None:
    left = {x.reason: words(x.names) for x in STOCK.left_out}
    assert left["The run at Stock was still drifting when it ended"] == "مبرد الفانوس"


def test_a_result_on_the_card_knows_its_place() -> None:
    text = words(standing(TESTED, SUBJECTS["slab-on-780"]))
    assert text == (
        "It takes first place of 3 comparable coolers on this card, and cannot be told apart from Moorhen Riffle."
    )


def test_several_tests_of_one_cooler_are_one_row_that_counts_them() -> None:
    rows = [replace(row("slab-on-780"), tests=("slab-again", "slab-on-780")), row("riffle-on-780")]
    assert words(names_of(TESTED, rows)) == "Fenwick Slab (2 tests) and Moorhen Riffle"


def test_a_result_that_is_not_ranked_has_no_place() -> None:
    assert standing(TESTED, SUBJECTS["lantern-on-780"]) == ()
    assert standing(TESTED, SUBJECTS["twin-on-780"]) == ()


def test_a_card_page_starts_with_stock_and_ends_with_idle() -> None:
    view = card_view("orrery-780", TESTED, list(SUBJECTS.values()))
    names = [o.name.text for o in view.orders]
    assert names[:2] == ["Stock", "Stock: memory"]
    assert names[-1] == "Idle"


def test_anchors_on_a_card_page_are_distinct() -> None:
    view = card_view("orrery-780", TESTED, list(SUBJECTS.values()))
    anchors = [o.id for o in view.orders]
    assert len(set(anchors)) == len(anchors)


def test_a_cooler_page_lists_its_cards_and_judges_nothing() -> None:
    view = cooler_view("slab", TESTED, [s for s in SUBJECTS.values() if s.bundle.cooler == "slab"])
    assert {words(r.head) for r in view.results.rows} == {"Orrery 740", "Orrery 780"}
    assert "not judged" in view.across_note


def test_a_card_page_has_one_order_at_reference_conditions_after_those_at_stock() -> None:
    view = card_view("orrery-780", TESTED, list(SUBJECTS.values()))
    assert [o.name.text for o in view.orders].index("At reference conditions") == 2
    order = view.orders[2]
    assert words((order.table.caption,)) == "At 285 W board power and 23 °C ambient, best first"
    found = ranking(TESTED, group_of(TESTED, "slab-on-780", "stock"), "core_rise", Basis.REFERENCE)
    for shown, row_ in zip(order.table.rows, found.rows, strict=True):
        _, rise, _, _, temperature, how = shown.cells
        assert rise == (num(row_.estimate),)
        # Source: design of this archive; a temperature at reference conditions is the rise and the reference ambient.
        assert isinstance(temperature[0], Num)
        assert temperature[0].exact == pytest.approx(row_.estimate.value + 23)
        assert words(how) == row_.note.replace(NO_BREAK, " ") != ""


def test_what_cannot_be_converted_is_named_with_its_reason() -> None:
    far = TESTED.catalogue.cards["orrery-780"].model_copy(update={"board_power_w": 900.0})
    cards = {**TESTED.catalogue.cards, "orrery-780": far}
    moved = Tested(catalogue=TESTED.catalogue.model_copy(update={"cards": cards}), results=TESTED.results)
    order = reference_view(moved, group_of(moved, "slab-on-780", "stock"))
    assert words(order.said) == "No result can be converted to reference conditions."
    assert order.table.empty
    left = {x.reason: words(x.names) for x in order.left_out}
    assert "Fenwick Slab" in left["No test point is near enough to 900 W"]


def test_each_reason_is_given_once_and_tests_of_one_cooler_follow_its_name_by_their_days() -> None:
    bundles = TESTED.catalogue.bundles
    again = bundles["slab-on-780"].model_copy(update={"tested": dt.date(2026, 5, 2)})
    twice = Tested(
        catalogue=TESTED.catalogue.model_copy(update={"bundles": {**bundles, "slab-again": again}}),
        results=TESTED.results,
    )
    left = [
        LeftOut(bundle=b, reasons=(of_one("other-point", twice.label(b), "tested by Brief 5", link=" was "),))
        for b in ("slab-on-780", "riffle-on-780", "slab-again")
    ]
    (only,) = left_out_views(twice, left)
    assert only.reason == "Tested by Brief 5"
    assert words(only.names) == "Fenwick Slab (18 Apr 2026, 2 May 2026) and Moorhen Riffle"
