"""The claims audit itself, on a few archives: every kind of claim is found, and what is false is counted as false."""

from __future__ import annotations

from dataclasses import replace
from functools import cache

from tests.studies.claims import Claim
from tests.studies.claims_audit import Archive, counted, markdown, published, rows_of, unread
from tests.studies.invented_truth import Test, World
from tests.studies.page_words import page_words

SEEDS = (2, 62)  # fans and two benches; runs that are far from rest


@cache
def archives() -> tuple[Archive, ...]:
    return tuple(map(published, SEEDS))


def total(found: list[Claim]) -> dict[str, int]:
    names = ("claims", "false", "unlike", "intervals", "held")
    return dict(zip(names, map(int, rows_of(counted(found))[-1][1:]), strict=True))


def true_claims() -> list[Claim]:
    return [claim for archive in archives() for claim in archive.claims()]


def test_every_kind_of_sentence_is_read_on_some_page() -> None:
    assert unread(counted(true_claims())) == ()


def test_few_claims_are_false_and_most_intervals_hold() -> None:
    whole = total(true_claims())
    assert whole["claims"] > 500
    assert whole["intervals"] > 1000
    assert whole["false"] <= 0.05 * whole["claims"]
    assert whole["unlike"] == 0
    assert whole["held"] >= 0.88 * whole["intervals"]


def turned(world: World) -> World:
    """Return a truth in which the cooler that was best is the worst: what is told apart is then told wrongly."""

    def turn(test: Test) -> Test:
        return replace(test, cooler=replace(test.cooler, core=0.4 - test.cooler.core, memory=0.4 - test.cooler.memory))

    return replace(world, tests=tuple(map(turn, world.tests)))


def test_against_a_wrong_truth_what_is_said_of_coolers_is_counted_as_false() -> None:
    wrong = [c for archive in archives() for c in replace(archive, world=turned(archive.world)).claims()]
    comparing = (
        "pair as measured",
        "pair at reference conditions",
        "order as measured",
        "page: who is cooler by how much",
    )
    tally = counted(wrong)
    for about in comparing:
        assert tally[about, "claims"] > 0, about
        assert tally[about, "false"] >= 0.9 * tally[about, "claims"], about
    assert tally["page: who leads an order", "false"] > 0
    assert tally["page: which place a result takes", "false"] > 0
    assert tally["figure: core_rise", "held"] < 0.2 * tally["figure: core_rise", "intervals"]


def equal(world: World) -> World:
    """Return a truth in which all coolers are alike: whatever tells two apart is then false."""
    alike = world.tests[0].cooler
    tests = (replace(t, cooler=replace(t.cooler, core=alike.core, memory=alike.memory)) for t in world.tests)
    return replace(world, tests=tuple(tests))


def test_where_all_coolers_are_truly_equal_every_pair_told_apart_is_false() -> None:
    found = [c for archive in archives() for c in replace(archive, world=equal(archive.world)).claims()]
    tally = counted(found)
    for about in ("pair as measured", "order as measured", "page: who leads an order"):
        assert tally[about, "false"] == tally[about, "claims"] > 0, about


def test_the_table_sums_up_in_one_sentence_and_has_a_row_for_all() -> None:
    found = [
        Claim(about="a", where="", false=True, holds=True),
        Claim(about="a", where="", false=False),
        Claim(about="b", where="", holds=False, unlike=True),
    ]
    text = markdown(rows_of(counted(found)), 1)
    assert "50.0 % of 2 claims were false, 1 compared unlike settings, and 50.0 % of 2 intervals held the truth" in text
    assert "| all | 2 | 1 | 1 | 2 | 50.0 % |" in text


def test_a_cell_is_read_with_its_section_row_and_column() -> None:
    html = """<h2 id="s">Stock</h2><svg>no words</svg><p class="x">One&nbsp;&minus; two</p><table><caption>C</caption>
    <thead><tr><th>Cooler</th><th>Rise, <b>K</b></th></tr></thead>
    <tbody><tr><th>A</th><td>1.0 ± 0.1</td></tr></tbody></table>"""
    blocks = page_words(html)
    assert [b.text for b in blocks if b.tag == "p"] == ["One - two"]
    cell = blocks[-1]
    place = (cell.text, cell.section, cell.caption, cell.row, cell.column)
    assert place == ("1.0 ± 0.1", "s", "C", "A", "Rise, K")
