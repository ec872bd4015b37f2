"""Results read by hand: in no order and no comparison, unless the protocol allows for what they may lack of rest."""

from __future__ import annotations

import datetime as dt

import pytest

from builder.archive.protocol import SpreadByKind
from builder.comparison import NotComparable, PointOf, Standing, Tested, bench_stability, head_to_head, ranking
from builder.core.results import Verdict
from tests.support.invented import Given, Shot, air, archive_of, stock_group

SPREAD = SpreadByKind(air=0.2, liquid=0.2)


def hand(name: str, rise: float, *, allowance: float | None, u: float = 0.05, **more: object) -> Given:
    values = {"core_rise": [rise], "frame_rate": [88.0]}
    shot = Shot(values=values, verdict=Verdict.BY_HAND, allowance_k=allowance, u=u)
    return Given(id=name, shots={"stock": shot}, **more)  # type: ignore[arg-type]


def both(allowance: float | None, *, u: float = 0.05) -> Tested:
    return archive_of([air("slab", 30.0), hand("old", 33.0, allowance=allowance, u=u)], spread=SPREAD)


def at(bundle: str) -> PointOf:
    return PointOf(bundle=bundle, point="stock")


def test_without_an_allowance_it_stands_in_no_order_and_says_why() -> None:
    archive = both(None)
    found = ranking(archive, stock_group(archive), "core_rise")
    assert [row.bundle for row in found.rows] == ["slab"]
    ((reason,),) = (out.reasons for out in found.left_out)
    assert reason.text == ("old: the run at Stock was read by hand, so that nobody can say whether it had settled.")


def test_without_an_allowance_it_is_compared_with_nothing() -> None:
    found = head_to_head(both(None), at("slab"), at("old"))
    assert isinstance(found.comparability, NotComparable)
    assert found.rows == ()


def test_with_an_allowance_it_takes_its_place_and_is_marked() -> None:
    archive = both(2.0)
    rows = ranking(archive, stock_group(archive), "core_rise").rows
    assert [(row.bundle, row.note) for row in rows] == [
        ("slab", ""),
        ("old", "read by hand, with the protocol's allowance"),
    ]


@pytest.mark.parametrize(("u", "standing"), [(0.05, Standing.A_BETTER), (1.6, Standing.TOO_CLOSE)])
def test_its_own_width_decides_whether_it_can_be_told_apart(u: float, standing: Standing) -> None:
    rows = {row.kind: row for row in head_to_head(both(2.0, u=u), at("slab"), at("old")).rows}
    assert rows["core_rise"].standing is standing


def test_a_figure_that_nothing_is_allowed_for_is_not_compared() -> None:
    given = Given(id="slab", shots={"stock": Shot(values={"core_rise": [30.0], "frame_rate": [90.0]})})
    archive = archive_of([given, hand("old", 33.0, allowance=2.0)], spread=SPREAD)
    rows = {row.kind: row for row in head_to_head(archive, at("slab"), at("old")).rows}
    assert rows["frame_rate"].difference is None
    assert rows["frame_rate"].text == (
        "old: Mean frame rate was read by hand, and how far such a reading may be off is not known."
    )


def test_a_cooler_that_was_logged_too_stands_in_the_order_by_its_logs_alone() -> None:
    old = hand("old", 36.0, allowance=2.0, cooler="slab", tested=dt.date(2024, 1, 10))
    archive = archive_of([air("slab", 30.0), old, air("fold", 31.0)], spread=SPREAD)
    found = ranking(archive, stock_group(archive, "slab"), "core_rise")
    assert [(row.bundle, row.tests, row.estimate.value) for row in found.rows] == [
        ("slab", ("slab",), 30.0),
        ("fold", ("fold",), 31.0),
    ]
    ((reason,),) = (out.reasons for out in found.left_out)
    assert reason.short == "read by hand, and its cooler stands in the order with a test that was logged"


def test_readings_draw_no_limits_of_the_bench() -> None:
    tests = [air("first", 30.0, cooler="slab"), hand("second", 33.0, allowance=2.0, cooler="slab")]
    assert bench_stability(archive_of(tests, spread=SPREAD, reference="slab")) == ()
