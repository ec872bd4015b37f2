"""Which test points and results belong together."""

from dataclasses import replace
from itertools import permutations

import pytest

from builder.archive.protocol import PointRef, PointRole, Protocol, SpreadByKind, TestPoint
from builder.comparison import Basis, PointOf, Tested, family, group_of, groups, head_to_head, ranking
from builder.comparison.members import mount_values
from builder.core.results import Verdict
from tests.support.invented import LIMITS, Given, Shot, air, archive_of, stock_group

SPREAD = SpreadByKind(air=0.2, liquid=0.2)


def protocol(name: str, *equivalent: str) -> Protocol:
    refs = tuple(PointRef(protocol=other, point="stock") for other in equivalent)
    point = TestPoint(id="stock", name="Stock", role=PointRole.STOCK, equivalent=refs)
    return Protocol(name=name, version=1, air=LIMITS, liquid=LIMITS, points=(point,))


def archive_by(**protocols: Protocol) -> Tested:
    catalogue = archive_of([air("x", 30.0)]).catalogue.model_copy(update={"protocols": protocols})
    return Tested(catalogue=catalogue, results={})


def test_equivalence_counts_from_either_side_and_through_a_third() -> None:
    archive = archive_by(a=protocol("a", "b"), b=protocol("b"), c=protocol("c", "b"), d=protocol("d"))
    assert archive.equivalents["a", "stock"] == (("a", "stock"), ("b", "stock"), ("c", "stock"))
    assert archive.equivalents["a", "stock"] == archive.equivalents["c", "stock"]
    assert archive.equivalents["d", "stock"] == (("d", "stock"),)


def test_an_unknown_test_point_raises() -> None:
    with pytest.raises(KeyError):
        group_of(archive_of([air("x", 30.0)]), "x", "stok")
    with pytest.raises(KeyError):
        group_of(archive_of([air("x", 30.0)]), "y", "stock")


def test_groups_are_in_the_order_of_cards_samples_and_test_points() -> None:
    shots = {point: Shot(values={"core_rise": [30.0]}) for point in ("power-80", "idle", "stock")}
    archive = archive_of(
        [
            Given(id="a", shots=shots, protocol="brief-5"),
            Given(id="b", shots=shots, sample="b"),
            Given(id="c", shots=shots, card="a-card"),
        ]
    )
    assert [(g.card, g.sample, g.name) for g in groups(archive)] == [
        ("a-card", "a", "Idle"),
        ("a-card", "a", "Stock"),
        ("a-card", "a", "Power 80"),
        ("orrery-780", "a", "Idle"),
        ("orrery-780", "a", "Stock"),
        ("orrery-780", "a", "Power 80"),
        ("orrery-780", "b", "Idle"),
        ("orrery-780", "b", "Stock"),
        ("orrery-780", "b", "Power 80"),
    ]


def test_mounts_that_did_not_settle_are_no_part_of_the_spread() -> None:
    archive = archive_of([air("x", 30.0, 31.0, 45.0)])
    result = archive.results["x"].points[0]
    drifting = replace(result.runs[2].settlement, verdict=Verdict.DRIFTING)
    runs = (*result.runs[:2], replace(result.runs[2], settlement=drifting))
    assert mount_values(replace(result, runs=runs), "core_rise") == (30.0, 31.0)


def test_two_runs_in_one_mount_are_one_value() -> None:
    result = archive_of([air("x", 30.0, 31.0)]).results["x"].points[0]
    runs = tuple(replace(run, mount=1) for run in result.runs)
    assert mount_values(replace(result, runs=runs), "core_rise") == (30.5,)


def test_what_an_order_tells_apart_its_pair_tells_apart_too() -> None:
    archive = archive_of([air(f"c{i}", 30.0 + 0.35 * i) for i in range(6)], spread=SPREAD)
    rows = ranking(archive, stock_group(archive), "core_rise").rows
    letters = {row.bundle: set(row.letters) for row in rows}
    for a, b in permutations(letters, 2):
        found = head_to_head(archive, PointOf(bundle=a, point="stock"), PointOf(bundle=b, point="stock"))
        assert letters[a] & letters[b] or "better" in found.rows[0].standing


def test_a_family_is_judged_once() -> None:
    archive = archive_of([air("x", 30.0)])
    group = stock_group(archive)
    assert family(archive, group, "core_rise", Basis.MEASURED) is family(archive, group, "core_rise", Basis.MEASURED)


def test_an_archive_without_results_has_no_groups() -> None:
    archive = archive_of([air("x", 30.0)])
    assert groups(Tested(catalogue=archive.catalogue, results={})) == ()
