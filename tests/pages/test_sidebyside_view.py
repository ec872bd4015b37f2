"""The static part of the side by side page: what can be chosen, and the ready pairs of each card."""

from __future__ import annotations

import datetime as dt

from builder.archive.protocol import SpreadByKind
from builder.comparison import PointOf, head_to_head, subjects
from builder.pages.parts import plain_text
from builder.pages.side_by_side import card_pairs, side_by_side_view
from tests.support.invented import air, archive_of
from tests.support.pair_archives import every_rule, small

SPREAD = SpreadByKind(air=0.2, liquid=0.2)


def test_every_result_can_be_chosen_under_its_card() -> None:
    tested = small()
    view = side_by_side_view(tested, subjects(tested.catalogue, tested.results))
    chosen = {card.id: {result.id for result in card.results} for card in view.choices}
    bundles = tested.catalogue.bundles
    assert chosen == {c: {b for b in bundles if bundles[b].card == c} for c in tested.catalogue.cards}
    assert view.points["orrery-740"] == [("stock", "Stock")]


def test_card_samples_are_named_where_a_card_has_several() -> None:
    tested = archive_of([air("x", 26.0), air("y", 30.0, sample="b"), air("z", 30.0, card="tarn-x9")])
    view = side_by_side_view(tested, subjects(tested.catalogue, tested.results))
    labels = [result.label for card in view.choices for result in card.results]
    assert labels == ["x, 18 Apr 2026, card sample A", "y, 18 Apr 2026, card sample B", "z, 18 Apr 2026"]


def test_ready_pairs_are_neighbours_in_the_order_with_the_programs_verdicts() -> None:
    tested = archive_of([air("warm", 34.0), air("cool", 26.0), air("middle", 30.0)], spread=SPREAD)
    pairs = card_pairs(tested, "orrery-780").pairs
    assert [p.id for p in pairs] == ["stock-cool-and-middle", "stock-middle-and-warm"]
    found = head_to_head(tested, PointOf(bundle="cool", point="stock"), PointOf(bundle="middle", point="stock"))
    assert pairs[0].said == found.rows[0].text
    assert [plain_text(row.cells[3]) for row in pairs[0].table.rows] == [row.text for row in found.rows]
    assert pairs[0].query == "?r=cool&r=middle&point=stock"


def test_of_a_cooler_that_was_tested_often_the_latest_test_stands_in_the_pairs() -> None:
    again = [air(f"again-{n}", 30.0 + n, cooler="again", tested=dt.date(2026, 4, n)) for n in (1, 2, 3)]
    tested = archive_of([air("cool", 26.0), *again, air("warm", 36.0)], spread=SPREAD)
    assert [p.id for p in card_pairs(tested, "orrery-780").pairs] == [
        "stock-cool-and-again-3",
        "stock-again-3-and-warm",
    ]


def test_samples_of_a_card_have_pairs_of_their_own() -> None:
    pairs = card_pairs(every_rule(), "orrery-780").pairs
    assert "stock-sample-and-sample-too" in {p.id for p in pairs}
    assert not any(p.id.startswith("stock-sample-and-") and p.id != "stock-sample-and-sample-too" for p in pairs)


def test_a_card_with_one_result_has_no_pairs() -> None:
    tested = archive_of([air("x", 26.0)])
    assert card_pairs(tested, "orrery-780").pairs == ()
    assert side_by_side_view(tested, subjects(tested.catalogue, tested.results)).cards == ()
