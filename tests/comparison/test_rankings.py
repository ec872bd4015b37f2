"""Order, ties, and what is left out."""

import math
from itertools import combinations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy import stats
from statsmodels.stats.multitest import multipletests

from builder.archive.protocol import SpreadByKind
from builder.comparison import Basis, Tested, family, group_of, ranking, two_sided_p
from builder.core.quantity import Estimate
from builder.core.results import Bound, Verdict
from builder.uncertainty import holm
from tests.support.invented import Given, Shot, air, archive_of, power_line, stock_group

# The example of scipy.stats.tukey_hsd (minutes of relief from headache, three brands).
BRANDS = {
    "a": (24.5, 23.5, 26.4, 27.1, 29.9),
    "b": (28.4, 34.2, 29.5, 32.2, 30.1),
    "c": (26.1, 28.3, 24.3, 26.2, 27.8),
}
SPREAD = SpreadByKind(air=0.4, liquid=0.4)


def brands() -> Tested:
    return archive_of(air(name, *values, u=1e-6) for name, values in BRANDS.items())


def test_pooled_pairs_have_the_p_values_of_students_test_with_holm() -> None:
    """Independent oracle: t from the pooled variance (scipy), adjusted by statsmodels multipletests."""
    within = np.mean([np.var(v, ddof=1) for v in BRANDS.values()])
    pairs = list(combinations(BRANDS, 2))
    t = [abs(np.mean(BRANDS[x]) - np.mean(BRANDS[y])) / math.sqrt(within * 2 / 5) for x, y in pairs]
    expected = multipletests([2 * stats.t.sf(x, 12) for x in t], method="holm")[1]
    archive = brands()
    found = family(archive, stock_group(archive), "core_rise", Basis.MEASURED).pairs
    for (x, y), p in zip(pairs, expected, strict=True):
        judged = found.get((x, y)) or found[(y, x)]
        assert judged.adjusted_p == pytest.approx(float(p), rel=1e-5)


def test_verdicts_agree_with_tukeys_test_on_its_documented_example() -> None:
    """Documented p values of scipy.stats.tukey_hsd: 0.01444833, 0.98031072, 0.02033114, so b differs from a and c."""
    p = stats.tukey_hsd(*BRANDS.values()).pvalue
    assert [p[0, 1], p[0, 2], p[1, 2]] == pytest.approx([0.01444833, 0.98031072, 0.02033114], abs=5e-9)
    archive = brands()
    rows = ranking(archive, stock_group(archive), "core_rise").rows
    assert [(row.bundle, row.letters) for row in rows] == [("a", ("a",)), ("c", ("a",)), ("b", ("b",))]


def test_unequal_spreads_give_welchs_p_values_with_holm() -> None:
    """Independent oracle: scipy.stats.ttest_ind(equal_var=False) and statsmodels multipletests."""
    groups = {
        "calm": (30.0, 30.1, 29.9, 30.05, 29.95),
        "even": (31.0, 31.2, 30.9, 31.1, 31.0),
        "wild": (28.0, 36.0, 30.0, 38.0, 33.0),
    }
    archive = archive_of(air(name, *values, u=1e-6) for name, values in groups.items())
    found = family(archive, stock_group(archive), "core_rise", Basis.MEASURED).pairs
    pairs = list(combinations(groups, 2))
    raw = [float(stats.ttest_ind(groups[x], groups[y], equal_var=False).pvalue) for x, y in pairs]
    for (x, y), p in zip(pairs, multipletests(raw, method="holm")[1], strict=True):
        judged = found.get((x, y)) or found[(y, x)]
        assert judged.adjusted_p == pytest.approx(float(p), rel=1e-5)


def test_games_howell_of_the_documented_example_gives_the_same_verdicts_as_welch_with_holm() -> None:
    """Documented p values of scipy.stats.tukey_hsd(equal_var=False): 0.03905805, 0.97881639, 0.02470245."""
    p = stats.tukey_hsd(*BRANDS.values(), equal_var=False).pvalue
    assert [p[0, 1], p[0, 2], p[1, 2]] == pytest.approx([0.03905805, 0.97881639, 0.02470245], abs=5e-9)
    raw = [
        two_sided_p(Estimate(value=float(np.mean(x) - np.mean(y)), u=u, unit="K", dof=dof))
        for x, y in combinations(BRANDS.values(), 2)
        for u, dof in [_welch(x, y)]
    ]
    assert [q <= 0.05 for q in holm(raw)] == [q <= 0.05 for q in (p[0, 1], p[0, 2], p[1, 2])]


def _welch(x: tuple[float, ...], y: tuple[float, ...]) -> tuple[float, float]:
    parts = [float(np.var(v, ddof=1)) / len(v) for v in (x, y)]
    dof = sum(parts) ** 2 / sum(q**2 / (len(v) - 1) for q, v in zip(parts, (x, y), strict=True))
    return math.sqrt(sum(parts)), dof


def test_the_best_comes_first_in_either_direction() -> None:
    shots = {"x": (30.0, 90.0), "y": (28.0, 95.0)}
    archive = archive_of(
        Given(id=name, shots={"stock": Shot(values={"core_rise": [rise], "frame_rate": [rate]})})
        for name, (rise, rate) in shots.items()
    )
    group = stock_group(archive)
    assert [row.bundle for row in ranking(archive, group, "core_rise").rows] == ["y", "x"]
    assert [row.bundle for row in ranking(archive, group, "frame_rate").rows] == ["y", "x"]


def test_every_row_says_how_far_it_is_behind_the_first() -> None:
    archive = archive_of([air("x", 30.0), air("y", 28.0)], spread=SPREAD)
    first, second = ranking(archive, stock_group(archive), "core_rise").rows
    assert first.behind is None
    assert second.behind is not None
    assert second.behind.value == pytest.approx(2.0)


def test_one_mount_and_nothing_declared_is_not_judged() -> None:
    archive = archive_of([air("x", 30.0), air("y", 20.0)])
    rows = ranking(archive, stock_group(archive), "core_rise").rows
    assert [row.letters for row in rows] == [(), ()]
    assert rows[0].note == "mounting spread unknown: differences are not judged"


def test_results_that_do_not_compare_are_left_out_with_their_reason() -> None:
    archive = archive_of(
        [
            air("good", 30.0),
            Given(id="warm", shots={"stock": Shot(values={"core_rise": [30.0]}, in_band=False)}),
            Given(id="unknown", shots={"stock": Shot(values={"core_rise": [30.0]}, in_band=None)}),
            Given(id="slow", shots={"stock": Shot(values={"core_rise": [30.0]}, verdict=Verdict.DRIFTING)}),
            Given(id="idle-only", shots={"idle": Shot(values={"core_rise": [9.0]})}),
            Given(id="silent", shots={"stock": Shot(values={"sound_level": [30.0]})}),
            air("other-sample", 30.0, sample="b"),
            air("other-card", 30.0, card="tarn-x9"),
        ]
    )
    found = ranking(archive, stock_group(archive, "good"), "core_rise")
    assert [row.bundle for row in found.rows] == ["good"]
    assert {x.bundle: [r.code for r in x.reasons] for x in found.left_out} == {
        "warm": ["ambient-outside"],
        "unknown": ["ambient-unknown"],
        "slow": ["not-settled"],
        "idle-only": ["no-run"],
        "silent": ["no-figure"],
        "other-sample": ["other-sample"],
    }


def test_protocols_declared_equivalent_share_a_group_and_others_do_not() -> None:
    shot = Shot(values={"core_rise": [30.0]})
    both = {"stock": shot, "power-80": shot}
    archive = archive_of([Given(id="long", shots=both), Given(id="short", shots=both, protocol="brief-5")])
    stock = ranking(archive, stock_group(archive), "core_rise")
    assert {row.bundle for row in stock.rows} == {"long", "short"}
    lowered = ranking(archive, group_of(archive, "long", "power-80"), "core_rise")
    assert {row.bundle for row in lowered.rows} == {"long"}
    assert lowered.left_out[0].reasons[0].code == "other-point"


def test_figures_defined_in_two_ways_do_not_compare() -> None:
    def low(name: str, definition: str) -> Given:
        return Given(id=name, shots={"stock": Shot(values={"low_1pct": [60.0]}, definition=definition)})

    archive = archive_of([low("x", "percentile"), low("y", "percentile"), low("z", "slowest mean")])
    found = ranking(archive, stock_group(archive), "low_1pct")
    assert [row.bundle for row in found.rows] == ["x", "y"]
    assert found.left_out[0].reasons[0].code == "other-definition"


def test_an_upper_bound_is_listed_but_not_judged() -> None:
    quiet = Shot(values={"sound_level": [28.0, 28.4]}, bound=Bound.UPPER)
    loud = Shot(values={"sound_level": [38.0, 38.4]})
    archive = archive_of([Given(id="x", shots={"stock": quiet}), Given(id="y", shots={"stock": loud})])
    rows = ranking(archive, stock_group(archive), "sound_level").rows
    assert [(row.bundle, row.letters) for row in rows] == [("x", ()), ("y", ("a",))]
    assert rows[0].note == "an upper bound: differences are not judged"


def test_temperatures_as_measured_are_not_judged_since_they_include_the_room() -> None:
    archive = archive_of(
        [
            Given(id=n, shots={"stock": Shot(values={"core_temperature": [v, v + 0.1]})})
            for n, v in (("x", 50), ("y", 60))
        ]
    )
    rows = ranking(archive, stock_group(archive), "core_temperature").rows
    assert [row.bundle for row in rows] == ["x", "y"]
    assert [row.letters for row in rows] == [(), ()]


@settings(max_examples=40)
@given(st.lists(st.tuples(st.floats(20, 40), st.floats(0, 2)), min_size=1, max_size=6), st.randoms())
def test_order_of_bundles_does_not_change_a_ranking(values: list[tuple[float, float]], random: object) -> None:
    bundles = [air(f"c{i}", v, v + d) for i, (v, d) in enumerate(values)]
    mixed = list(bundles)
    random.shuffle(mixed)  # type: ignore[attr-defined]
    one, other = archive_of(bundles, spread=SPREAD), archive_of(mixed, spread=SPREAD)
    group = stock_group(one)
    assert ranking(one, group, "core_rise") == ranking(other, group, "core_rise")


@settings(max_examples=40)
@given(st.lists(st.floats(20, 40), min_size=2, max_size=7))
def test_two_rows_share_a_letter_if_and_only_if_their_pair_is_not_separable(values: list[float]) -> None:
    archive = archive_of([air(f"c{i}", v) for i, v in enumerate(values)], spread=SPREAD)
    found = family(archive, stock_group(archive), "core_rise", Basis.MEASURED)
    for (a, b), judged in found.pairs.items():
        assert bool(set(found.letters[a]) & set(found.letters[b])) == (not judged.separable)


def test_equal_coolers_are_rarely_called_different() -> None:
    """Family-wise error over 300 studies of five equal coolers, two mounts each: at most 5 %, plus three sigma."""
    rng = np.random.default_rng(20260418)
    wrong = 0
    for _ in range(300):
        draws = 30 + 0.5 * rng.standard_normal((5, 2))
        archive = archive_of(air(f"c{i}", *map(float, row), u=0.01) for i, row in enumerate(draws))
        pairs = family(archive, stock_group(archive), "core_rise", Basis.MEASURED).pairs
        wrong += any(judged.separable for judged in pairs.values())
    assert wrong / 300 < 0.05 + 3 * math.sqrt(0.05 * 0.95 / 300)


def test_reference_conditions_use_the_line_inside_the_tested_range() -> None:
    shot = {"stock": Shot(values={"core_rise": [41.0], "board_power": [280.0]})}
    archive = archive_of([Given(id="x", shots=shot, lines={"core_rise": power_line(2.0, 0.14)})], spread=SPREAD)
    found = ranking(archive, stock_group(archive), "core_rise", Basis.REFERENCE)
    assert found.rows[0].estimate.value == pytest.approx(2.0 + 0.14 * 285)
    assert found.rows[0].note == "by the line through 3 test points"
    # the mounting spread, in proportion to power, and the line's own at 285 W
    own = math.hypot(0.1, 0.001 * 50)
    mounts = math.hypot(0.4, 0.05) * 285 / 280
    assert found.rows[0].estimate.u == pytest.approx(math.hypot(own, mounts))


def test_reference_temperature_is_reference_ambient_and_rise() -> None:
    shot = {"stock": Shot(values={"core_rise": [41.0], "board_power": [280.0]})}
    archive = archive_of([Given(id="x", shots=shot, lines={"core_rise": power_line(2.0, 0.14)})], spread=SPREAD)
    found = ranking(archive, stock_group(archive), "core_temperature", Basis.REFERENCE)
    assert found.rows[0].estimate.value == pytest.approx(23 + 2.0 + 0.14 * 285)
    assert found.rows[0].estimate.unit == "degC"
    assert found.notes[0] == "At 285 W and 23 °C."


@pytest.mark.parametrize(
    ("lines", "why"),
    [
        ({}, "no line was fitted"),
        ({"core_rise": power_line(2.0, 0.14, span=(170.0, 281.0))}, "outside the line's range"),
        ({"core_rise": power_line(2.0, 0.14, fits=False)}, "no line or curve fits its points"),
    ],
)
def test_without_a_usable_line_the_nearest_points_psi_is_used_and_said(lines: dict[str, object], why: str) -> None:
    shot = {"stock": Shot(values={"core_rise": [41.0], "board_power": [280.0]})}
    archive = archive_of([Given(id="x", shots=shot, lines=lines)], spread=SPREAD)  # type: ignore[arg-type]
    row = ranking(archive, stock_group(archive), "core_rise", Basis.REFERENCE).rows[0]
    assert row.estimate.value == pytest.approx(41.0 / 280 * 285)
    assert row.note == f"by the Ψ of Stock at 280 W, since {why}"


def test_a_result_far_from_the_reference_power_is_left_out_there() -> None:
    shot = {"stock": Shot(values={"core_rise": [20.0], "board_power": [150.0]})}
    archive = archive_of([Given(id="x", shots=shot)], spread=SPREAD)
    found = ranking(archive, stock_group(archive), "core_rise", Basis.REFERENCE)
    assert not found.rows
    assert found.left_out[0].reasons[0].code == "outside-power"


def test_a_frame_rate_has_no_value_at_reference_conditions() -> None:
    archive = archive_of([air("x", 30.0)])
    with pytest.raises(ValueError, match="frame_rate has no value at reference conditions"):
        ranking(archive, stock_group(archive), "frame_rate", Basis.REFERENCE)


def test_at_reference_power_no_point_stands_in_that_differs_in_more_than_power() -> None:
    """At equal fan duty one cooler is 8.6 K cooler; set one's fast fan against the other's slow one and it is not.

    The points with a fan setting are declared as matched clocks here, since no line may go through them either.
    """

    def shot(slow: float, fast: float) -> dict[str, Shot]:
        def at(rise: float, watts: float) -> Shot:
            return Shot(values={"core_rise": [rise, rise + 0.2], "board_power": [watts, watts]})

        return {"fan-30": at(slow, 286.0), "fan-60": at(fast, 284.0)}

    archive = archive_of(
        [Given(id="slab", shots=shot(40.0, 31.0)), Given(id="twin", shots=shot(48.6, 38.0))], spread=SPREAD
    )
    for point, expected in (("fan-30", 8.6), ("fan-60", 7.0)):
        rows = ranking(archive, group_of(archive, "slab", point), "core_rise", Basis.REFERENCE).rows
        assert [row.bundle for row in rows] == ["slab", "twin"]
        assert all(point.replace("-", " ").capitalize() in row.note for row in rows)
        assert rows[1].behind is not None
        assert rows[1].behind.value == pytest.approx(expected, abs=0.3)
