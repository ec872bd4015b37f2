"""Orders of coolers in words: places, ties, and what is left out."""

from __future__ import annotations

from builder.compare import RankRow, Tested, group_of
from builder.quantity import NO_BREAK, Estimate
from builder.views.card import card_view
from builder.views.cooler import cooler_view
from builder.views.ranking import order_view, ordinal, places, standing
from builder.views.subject import subjects
from builder.views.text import Line, plain_text
from tests.support.site_data import catalogue, results

TESTED = Tested(catalogue=catalogue(), results=results())
SUBJECTS = {s.id: s for s in subjects(TESTED.catalogue, TESTED.results)}
STOCK = order_view(TESTED, group_of(TESTED, "slab-on-780", "stock"))


def words(line: Line) -> str:
    return plain_text(line).replace(NO_BREAK, " ")


def row(bundle: str, *letters: str) -> RankRow:
    return RankRow(bundle=bundle, estimate=Estimate(value=1.0, u=0.1, unit="K"), letters=letters)


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
    left = {x.name.text: x.reasons for x in STOCK.left_out}
    assert any("still drifting" in reason for reason in left["مبرد الفانوس"])


def test_a_result_on_the_card_knows_its_place() -> None:
    text = words(standing(TESTED, SUBJECTS["slab-on-780"]))
    assert text == (
        "It takes first place of 3 comparable results on this card, and cannot be told apart from Moorhen Riffle."
        " See the order on this card."
    )


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
