"""Comparison of the demo's results against the truth that its logs were made from."""

from __future__ import annotations

import pytest

from builder.comparison import (
    Basis,
    Group,
    Judged,
    PointOf,
    Standing,
    Tested,
    all_against_own,
    family,
    groups,
    head_to_head,
    own_cooler,
)
from tests.demo.conftest import Demo

KINDS = ("core_rise", "memory_rise", "core_psi", "board_power", "frame_rate")


def judged(demo: Demo, kind: str) -> list[tuple[Judged, float]]:
    """Every judged pair of the archive with its true difference; the truth of a bundle leaves its mounts out."""
    tested = Tested(catalogue=demo.catalogue, results=demo.results)
    found = []
    for group in groups(tested):
        for (a, b), pair in family(tested, group, kind, Basis.MEASURED).pairs.items():
            true = [
                demo.truth[x]["points"].get(group.point_of(demo.catalogue.bundles[x]), {}).get(kind) for x in (a, b)
            ]
            if None not in true:
                found.append((pair, true[0] - true[1]))
    return found


@pytest.mark.parametrize("kind", KINDS)
def test_intervals_of_differences_hold_the_truth(demo: Demo, kind: str) -> None:
    pairs = judged(demo, kind)
    estimates = [(pair.difference.estimate, true) for pair, true in pairs]
    held = [abs(e.value - true) <= e.expanded() for e, true in estimates]
    assert len(pairs) > 20
    assert sum(held) >= 0.93 * len(held)


@pytest.mark.parametrize("kind", KINDS)
def test_no_pair_is_told_apart_the_wrong_way_round(demo: Demo, kind: str) -> None:
    apart = [(pair.difference.estimate.value, true) for pair, true in judged(demo, kind) if pair.separable]
    assert all(value * true > 0 for value, true in apart)


def test_most_pairs_whose_truth_is_two_kelvins_apart_are_told_apart(demo: Demo) -> None:
    far = [pair.separable for pair, true in judged(demo, "core_rise") if abs(true) > 2]
    assert sum(far) >= 0.8 * len(far)


def test_two_water_blocks_are_too_close_to_call(demo: Demo) -> None:
    tested = Tested(catalogue=demo.catalogue, results=demo.results)
    slab, riffle = (
        PointOf(bundle=f"{cooler}-on-tarn-x9", point="stock") for cooler in ("fenwick-slab", "moorhen-riffle")
    )
    rows = {row.kind: row for row in head_to_head(tested, slab, riffle).rows}
    assert rows["core_rise"].standing is Standing.TOO_CLOSE


def test_differences_from_the_own_cooler_hold_the_truth(demo: Demo) -> None:
    tested = Tested(catalogue=demo.catalogue, results=demo.results)
    held = []
    for group in groups(tested):
        own = own_cooler(tested, group)
        if own is None or group.role in ("idle", "closing"):
            continue

        def true(bundle: str, group: Group = group) -> float:
            points = demo.truth[bundle]["points"]
            return float(points[group.point_of(demo.catalogue.bundles[bundle]) or ""]["core_rise"])

        reference = sum(true(bundle) for bundle in own.tests) / len(own.tests)
        for row in all_against_own(tested, group):
            if row.difference:
                less = true(row.bundle) - reference
                held.append(abs(row.difference.value - less) <= row.difference.expanded())
                assert not row.apart or row.difference.value * less > 0
    assert len(held) > 20
    assert sum(held) >= 0.93 * len(held)
