"""One cooler on several cards."""

from builder.comparison import across_cards
from builder.core.results import Verdict
from tests.support.invented import Given, Shot, archive_of


def given(name: str, card: str, psi: float, verdict: Verdict = Verdict.SETTLED) -> Given:
    values = {"core_rise": [psi * 280], "core_psi": [psi], "board_power": [280.0]}
    return Given(id=name, cooler="slab", card=card, shots={"stock": Shot(values=values, verdict=verdict)})


def test_a_cooler_is_listed_once_for_each_card_and_not_judged() -> None:
    found = across_cards(archive_of([given("y", "tarn-x9", 0.12), given("x", "orrery-780", 0.14)]), "slab")
    assert [(row.card, row.psi.value, row.watts) for row in found.rows] == [
        ("orrery-780", 0.14, 280.0),
        ("tarn-x9", 0.12, 280.0),
    ]
    assert "not judged" in found.note


def test_a_result_that_did_not_settle_is_left_out_with_its_reason() -> None:
    found = across_cards(archive_of([given("x", "orrery-780", 0.14, Verdict.UNDECIDED)]), "slab")
    assert found.rows == ()
    assert [r.code for r in found.left_out[0].reasons] == ["not-settled"]


def test_a_result_without_psi_is_left_out_with_its_reason() -> None:
    bare = Given(id="x", cooler="slab", shots={"stock": Shot(values={"core_rise": [30.0]})})
    found = across_cards(archive_of([bare]), "slab")
    assert [r.code for r in found.left_out[0].reasons] == ["no-figure"]
