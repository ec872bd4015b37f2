"""Coolers against the card's own: which cooler that is, retests pooled, difference and share, nothing judged."""

from __future__ import annotations

import datetime as dt

import pytest
from GTC import uncertainty as gtc_u
from GTC import ureal

from builder.archive.catalogue import CoolerKind
from builder.archive.protocol import SpreadByKind
from builder.comparison import AgainstOwn, Standing, Tested, against_own, all_against_own, own_cooler
from builder.core.results import Bound
from tests.support.invented import Given, Shot, air, archive_of, stock_group

OFFSET = 0.6  # of the core's thermometer, standard, in K
SPREAD = SpreadByKind(air=0.4, liquid=0.4)


def one(name: str, rise: float, *, kind: CoolerKind = CoolerKind.AIR, **more: object) -> Given:
    shot = Shot(values={"core_rise": (rise,)}, accuracy={"core_rise": OFFSET})
    return Given(id=name, shots={"stock": shot}, kind=kind, **more)  # type: ignore[arg-type]


def archive(*more: Given) -> Tested:
    own = [
        one(f"own-{year}", rise, kind=CoolerKind.STOCK, cooler="own", tested=dt.date(year, 3, 1))
        for year, rise in ((2024, 44.0), (2025, 46.0))
    ]
    return archive_of([*own, one("slab", 33.0), *more], spread=SPREAD)


def row(found: Tested, bundle: str) -> AgainstOwn:
    against = against_own(found, stock_group(found), bundle)
    assert against is not None
    return against


def test_retests_of_the_own_cooler_are_pooled() -> None:
    own = own_cooler(archive(), stock_group(archive()))
    assert own is not None
    assert own.tests == ("own-2024", "own-2025")
    assert own.member.estimate.value == pytest.approx(45.0)


def test_difference_and_share_agree_with_another_library() -> None:
    """GTC (general-purpose uncertainty calculator) with the thermometer's offset as one input of both."""
    found = row(archive(), "slab")
    assert found.difference is not None
    assert found.share is not None
    offset = ureal(0, OFFSET)
    # The declared spread of a mount stands in for what one mount cannot show.
    a = ureal(33.0, 0.4) + offset
    b = (ureal(44.0, 0.4) + ureal(46.0, 0.4)) / 2 + offset
    assert found.difference.value == pytest.approx(-12.0)
    assert found.difference.u == pytest.approx(gtc_u(a - b), rel=0.02)
    assert found.share.value == pytest.approx(100 * (33 / 45 - 1))
    assert found.share.u == pytest.approx(gtc_u(100 * (a / b - 1)), rel=0.02)
    assert found.apart
    assert found.said == "lower"


def test_an_offset_cancels_in_the_difference_and_not_in_the_share() -> None:
    found = row(archive(), "slab")
    assert found.difference is not None
    assert found.share is not None
    without = 0.4 * (1 + 1 / 2) ** 0.5
    assert found.difference.u == pytest.approx(without, rel=0.02)
    assert found.share.u / 100 * 45 < found.difference.u * 1.2
    assert found.share.u / 100 * 45 != pytest.approx(found.difference.u, rel=0.01)


def test_every_cooler_stands_once_best_first_and_the_own_one_is_marked() -> None:
    rows = all_against_own(archive(one("fold", 55.0)), stock_group(archive()))
    assert [(r.bundle, r.is_own, r.said) for r in rows] == [
        ("slab", False, "lower"),
        ("own-2025", True, "own"),
        ("fold", False, "higher"),
    ]


def test_an_unrelated_cooler_changes_no_difference() -> None:
    before, after = (row(found, "slab").difference for found in (archive(), archive(one("fold", 55.0))))
    assert before == after


def test_a_cooler_marked_as_reference_stands_in_where_the_card_has_none() -> None:
    found = archive_of([one("slab", 33.0), one("twin", 40.0)], spread=SPREAD, reference="twin")
    own = own_cooler(found, stock_group(found))
    assert own is not None
    assert own.tests == ("twin",)


def test_the_card_s_own_cooler_goes_before_one_marked_as_reference() -> None:
    found = archive_of(
        [one("slab", 33.0), one("twin", 40.0), one("own", 45.0, kind=CoolerKind.STOCK)], spread=SPREAD, reference="twin"
    )
    own = own_cooler(found, stock_group(found))
    assert own is not None
    assert own.tests == ("own",)


def test_without_an_own_cooler_nothing_is_said() -> None:
    found = archive_of([one("slab", 33.0)], spread=SPREAD)
    assert own_cooler(found, stock_group(found)) is None
    assert all_against_own(found, stock_group(found)) == ()
    assert against_own(found, stock_group(found), "slab") is None


def test_a_small_difference_is_too_close_to_call() -> None:
    found = row(archive(one("near", 45.3)), "near")
    assert found.said == str(Standing.TOO_CLOSE)


def test_without_a_known_spread_nothing_is_judged_and_it_is_said_why() -> None:
    archive_ = archive_of([air("slab", 33.0), air("own", 45.0, kind=CoolerKind.STOCK)])
    found = row(archive_, "slab")
    assert found.difference is None
    assert found.said == str(Standing.NOT_JUDGED)
    assert found.why


def test_a_bound_is_no_own_cooler() -> None:
    drifting = Given(
        id="own", shots={"stock": Shot(values={"core_rise": (40.0,)}, bound=Bound.LOWER)}, kind=CoolerKind.STOCK
    )
    found = archive_of([drifting, one("slab", 33.0)], spread=SPREAD)
    assert own_cooler(found, stock_group(found)) is None
