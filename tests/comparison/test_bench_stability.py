"""Repeats of a reference cooler."""

import datetime as dt

import pytest

from builder.comparison import bench_stability, individuals_chart
from builder.core.results import Verdict
from tests.support.invented import Given, Shot, air, archive_of

# NIST/SEMATECH e-Handbook of Statistical Methods, 6.3.2.2, flow rates of ten batches.
BATCHES = [49.6, 47.6, 49.9, 51.3, 47.8, 51.2, 52.6, 52.4, 53.6, 52.1]


def repeats(*rises: float) -> list[Given]:
    first = dt.date(2025, 1, 10)
    return [
        air(f"check-{i}", rise, cooler="gritstone", tested=first + dt.timedelta(days=30 * i))
        for i, rise in enumerate(rises)
    ]


def test_limits_of_the_handbook_example() -> None:
    chart = individuals_chart(BATCHES)
    assert chart.mean == pytest.approx(50.81)
    assert chart.upper == pytest.approx(55.8041, abs=5e-5)
    assert chart.lower == pytest.approx(45.8159, abs=5e-5)
    assert chart.signals == ()


def test_a_value_outside_the_limits_is_a_signal() -> None:
    chart = individuals_chart([*BATCHES, 70.0])
    assert chart.signals == (10,)


def test_one_value_has_no_chart() -> None:
    with pytest.raises(ValueError, match="at least two"):
        individuals_chart([1.0])


def test_repeats_are_taken_in_the_order_of_their_days() -> None:
    archive = archive_of(reversed(repeats(30.0, 30.2, 30.1)), reference="gritstone")
    (found,) = bench_stability(archive)
    assert [r.bundle for r in found.retests] == ["check-0", "check-1", "check-2"]
    assert found.provisional
    assert found.said == "All 3 tests of the reference cooler lie inside the limits."


def test_a_bench_that_moved_is_said() -> None:
    archive = archive_of(repeats(30.0, 30.1, 30.0, 30.1, 30.0, 30.1, 30.0, 30.1, 33.0), reference="gritstone")
    (found,) = bench_stability(archive)
    assert not found.provisional
    assert found.said == "The test of 2025-09-07 lies outside the limits: something on the bench changed."


def test_a_repeat_that_did_not_settle_does_not_count() -> None:
    drifting = Given(
        id="check-9",
        cooler="gritstone",
        shots={"stock": Shot(values={"core_rise": [40.0]}, verdict=Verdict.DRIFTING)},
    )
    archive = archive_of([*repeats(30.0, 30.1), drifting], reference="gritstone")
    (found,) = bench_stability(archive)
    assert len(found.retests) == 2


def test_a_cooler_that_is_no_reference_has_no_chart() -> None:
    assert bench_stability(archive_of(repeats(30.0, 30.1))) == ()
