"""Two results side by side."""

import math
from dataclasses import replace

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from builder.archive.bench import Loop, Sensor
from builder.archive.catalogue import CoolerKind
from builder.archive.protocol import SpreadByKind
from builder.comparison import (
    Basis,
    ByPsi,
    Direct,
    HeadToHead,
    NotComparable,
    PointOf,
    Standing,
    Tested,
    VersusRow,
    comparability,
    family,
    head_to_head,
    ranking,
)
from builder.core.quantity import NO_BREAK
from builder.core.results import Quantity, Verdict
from tests.support.invented import Given, Shot, air, archive_of, power_line, stock_group

SPREAD = SpreadByKind(air=0.2, liquid=0.2)


def stock(bundle: str) -> PointOf:
    return PointOf(bundle=bundle, point="stock")


def row(found: HeadToHead, kind: str) -> VersusRow:
    return next(r for r in found.rows if r.kind == kind)


def plain(text: str) -> str:
    return text.replace(NO_BREAK, " ")


def swapped(standing: Standing) -> Standing:
    pair = {Standing.A_BETTER: Standing.B_BETTER, Standing.B_BETTER: Standing.A_BETTER}
    return pair.get(standing, standing)


def reasons(archive: Tested, a: PointOf, b: PointOf) -> list[str]:
    found = comparability(archive, a, b)
    assert isinstance(found, NotComparable)
    return [r.text for r in found.reasons]


def test_a_winner_is_named_with_its_margin() -> None:
    archive = archive_of([air("slab", 26.0), air("twin", 30.0)], spread=SPREAD)
    found = head_to_head(archive, stock("slab"), stock("twin"))
    assert isinstance(found.comparability, Direct)
    # u of a mount: √(0.2² + 0.05²), of the difference √2 times that, t(0.975; 10) = 2.228 (JCGM 100:2008, table G.2)
    assert plain(row(found, "core_rise").text) == "slab is 4.0 ± 0.7 K cooler than twin."
    difference = row(found, "core_rise").difference
    assert difference is not None
    assert difference.expanded() == pytest.approx(2.228 * math.sqrt(2) * math.hypot(0.2, 0.05), rel=1e-3)
    assert row(found, "core_rise").standing is Standing.A_BETTER


def test_too_close_is_no_winner() -> None:
    archive = archive_of([air("slab", 30.1), air("twin", 30.0)], spread=SPREAD)
    found = row(head_to_head(archive, stock("slab"), stock("twin")), "core_rise")
    assert found.standing is Standing.TOO_CLOSE
    assert plain(found.text) == (
        "Too close to call: 0.1 ± 0.7 K. Even 8 more mounts of each would not tell a difference of this size."
    )


def test_a_pair_keeps_its_verdict_whatever_else_the_archive_holds() -> None:
    """0.75 K is beyond its own 0.65 K: one comparison was asked for, so four other coolers change nothing."""
    two = [air("slab", 30.0), air("twin", 30.75)]
    alone, many = (
        archive_of(two, spread=SPREAD),
        archive_of([*two, *(air(f"c{i}", 30.4) for i in range(4))], spread=SPREAD),
    )
    found = [row(head_to_head(archive, stock("slab"), stock("twin")), "core_rise") for archive in (alone, many)]
    assert [one.standing for one in found] == [Standing.A_BETTER, Standing.A_BETTER]
    assert found[0] == found[1]
    letters = [
        set(r.letters) for r in ranking(many, stock_group(many), "core_rise").rows if r.bundle in ("slab", "twin")
    ]
    assert letters[0] & letters[1], "six coolers in one order are 15 comparisons, and 0.75 K may be luck among them"


@given(st.lists(st.floats(10, 60), max_size=6), st.floats(25, 40), st.booleans())
def test_an_unrelated_cooler_never_changes_a_pairs_verdict(others: list[float], rise: float, declared: bool) -> None:
    """Growing archives; an unrelated cooler was mounted once, or is of another kind and may have several mounts."""
    spread = SPREAD if declared else None
    pair = [air("slab", 30.0, 30.3), air("twin", rise)]
    strangers = [air(f"c{i}", value) for i, value in enumerate(others)]
    strangers += [replace(air("loop", 20.0, 24.0, 29.0), kind=CoolerKind.WATER_BLOCK)] if others else []
    found = [head_to_head(archive_of([*pair, *strangers[:n]], spread=spread), stock("slab"), stock("twin")).rows
             for n in range(len(strangers) + 1)]  # fmt: skip
    assert all(rows == found[0] for rows in found)


def test_six_retests_of_one_cooler_are_one_entry_of_an_order() -> None:
    """Seven coolers make 21 pairs; six tests of one of them make no more of them, and tell more apart."""
    coolers = [air(f"c{i}", 30.0 + 1.1 * i) for i in range(7)]
    again = [air(f"again-{i}", 30.0 + 0.01 * i, cooler="c0") for i in range(6)]
    few, many = (archive_of(bundles, spread=SPREAD) for bundles in (coolers, [*coolers, *again]))
    rows = {
        name: ranking(archive, stock_group(archive), "core_rise").rows
        for name, archive in (("few", few), ("many", many))
    }
    assert [len(found) for found in rows.values()] == [7, 7]
    assert rows["many"][0].tests == ("again-0", "again-1", "again-2", "again-3", "again-4", "again-5", "c0")
    assert [row.letters for row in rows["many"][1:]] == [row.letters for row in rows["few"][1:]]
    assert len(family(many, stock_group(many), "core_rise", Basis.MEASURED).pairs) == 21


def test_settings_are_shown_and_not_judged() -> None:
    """1000 against 1783 r/min was called too close to call."""
    shots = {
        name: {"stock": Shot(values={"fan_speed": [n, n + 5.0], "core_rise": [30.0, 30.1]})}
        for name, n in (("a", 1000.0), ("b", 1783.0))
    }
    archive = archive_of([Given(id=name, shots=shot) for name, shot in shots.items()])
    found = row(head_to_head(archive, stock("a"), stock("b")), "fan_speed")
    assert found.standing is Standing.NOT_JUDGED
    assert found.difference is None
    assert plain(found.text) == "A setting of the card or the bench: shown, not judged."


def test_faster_and_quieter_are_said_in_their_own_words() -> None:
    def shots(rate: float, level: float) -> dict[str, Shot]:
        values = {"frame_rate": [rate, rate + 0.1], "sound_level": [level, level + 0.1]}
        return {"stock": Shot(values=values)}

    archive = archive_of([Given(id="slab", shots=shots(99, 32)), Given(id="twin", shots=shots(90, 36))])
    found = head_to_head(archive, stock("twin"), stock("slab"))
    assert plain(row(found, "frame_rate").text) == "slab is 9.00 ± 0.30 fps faster than twin."
    assert plain(row(found, "sound_level").text) == "slab is 4.00 ± 0.30 dB(A) quieter than twin."
    assert row(found, "frame_rate").standing is Standing.B_BETTER


def test_where_neither_direction_is_better_the_pair_is_only_different() -> None:
    archive = archive_of(
        [Given(id=n, shots={"stock": Shot(values={"board_power": [v, v + 1]})}) for n, v in (("x", 280), ("y", 200))]
    )
    found = row(head_to_head(archive, stock("x"), stock("y")), "board_power")
    assert found.standing is Standing.DIFFERENT
    assert found.text.startswith("x is 80")


def test_a_figure_of_one_side_only_is_shown_with_the_reason() -> None:
    both = {"core_rise": [30.0], "sound_level": [36.0]}
    archive = archive_of([Given(id="x", shots={"stock": Shot(values=both)}), air("y", 28.0)], spread=SPREAD)
    found = row(head_to_head(archive, stock("x"), stock("y")), "sound_level")
    assert (found.b, found.difference, found.standing) == (None, None, Standing.NOT_JUDGED)
    assert found.text == "y: Sound pressure level was not measured."


def test_a_cooler_without_a_loop_has_no_row_for_coolant() -> None:
    block = {"core_rise": [20.0], "flow_rate": [3.6], "sound_level": [30.0]}
    wet = Given(id="slab", kind=CoolerKind.WATER_BLOCK, shots={"stock": Shot(values=block)})
    archive = archive_of([wet, air("twin", 30.0)], spread=SPREAD)
    found = head_to_head(archive, stock("slab"), stock("twin"))
    assert [r.kind for r in found.rows] == ["core_rise", "sound_level"]


def test_unknown_mounting_spread_is_said() -> None:
    archive = archive_of([air("x", 30.0), air("y", 20.0)])
    found = row(head_to_head(archive, stock("x"), stock("y")), "core_rise")
    assert found.text == "Mounting spread unknown: differences are not judged."
    assert found.difference is None


def test_reference_conditions_compare_rises_temperatures_and_psi() -> None:
    shots = {"stock": Shot(values={"core_rise": [41.0], "board_power": [284.0]})}
    archive = archive_of(
        [
            Given(id="x", shots=shots, lines={"core_rise": power_line(2.0, 0.14)}),
            Given(id="y", shots=shots, lines={"core_rise": power_line(2.0, 0.12)}),
        ],
        spread=SPREAD,
    )
    found = head_to_head(archive, stock("x"), stock("y"), Basis.REFERENCE)
    assert {r.kind for r in found.rows} == {"core_rise", "core_temperature", "core_psi"}
    rise, psi = row(found, "core_rise").difference, row(found, "core_psi").difference
    assert rise is not None
    assert psi is not None
    assert rise.value == pytest.approx(0.02 * 285)
    assert psi.value == pytest.approx(0.02)
    assert row(found, "core_temperature").difference == rise


def test_the_sensors_offset_is_in_the_figures_and_not_in_their_difference() -> None:
    shot = {n: Shot(values={"core_rise": [v]}, accuracy={"core_rise": 0.6}) for n, v in (("x", 30.0), ("y", 26.0))}
    archive = archive_of([Given(id=n, shots={"stock": s}) for n, s in shot.items()], spread=SPREAD)
    found = row(head_to_head(archive, stock("x"), stock("y")), "core_rise")
    assert found.a is not None
    assert found.difference is not None
    assert found.a.u > 0.6
    assert found.difference.u == pytest.approx(math.sqrt(2) * math.hypot(0.2, 0.05))


def test_a_declared_gain_error_stays_in_proportion_to_the_difference() -> None:
    """A half-width of 3 % leaves 0.03/√3 of the 8 K between the readings (JCGM 100:2008, 4.3.7 and 5.2.2)."""
    sensor = Sensor(quantity=Quantity.CORE_TEMPERATURE, accuracy=0.5, accuracy_pct=3.0)

    def given(name: str, core: float) -> Given:
        offset, gain = 0.5 / math.sqrt(3), 0.03 * core / math.sqrt(3)
        values = {"core_temperature": [core], "core_rise": [core - 22]}
        shot = Shot(values=values, accuracy={"core_rise": offset}, gain={"core_rise": gain})
        return Given(id=name, shots={"stock": shot})

    archive = archive_of([given("x", 60.0), given("y", 52.0)], spread=SPREAD, sensors=(sensor,))
    found = row(head_to_head(archive, stock("x"), stock("y")), "core_rise").difference
    assert found is not None
    assert found.u == pytest.approx(math.hypot(math.sqrt(2) * math.hypot(0.2, 0.05), 0.03 * 8 / math.sqrt(3)))


def test_other_card_and_other_sample_do_not_compare() -> None:
    archive = archive_of([air("x", 30.0), air("y", 30.0, card="tarn-x9"), air("z", 30.0, sample="b")], spread=SPREAD)
    assert reasons(archive, stock("x"), stock("y")) == ["They were tested on different cards, Orrery-780 and Tarn-X9."]
    assert reasons(archive, stock("x"), stock("z")) == [
        "They were tested on different samples (a and b) of the Orrery-780."
    ]
    assert head_to_head(archive, stock("x"), stock("y")).rows == ()


@pytest.mark.parametrize(
    ("verdict", "words"),
    [
        (Verdict.DRIFTING, "was still drifting when it ended"),
        (Verdict.UNDECIDED, "cannot be shown to have settled"),
        (Verdict.TOO_SHORT, "was too short"),
    ],
    ids=str,
)
def test_a_run_that_did_not_settle_does_not_compare(verdict: Verdict, words: str) -> None:
    slow = Given(id="slow", shots={"stock": Shot(values={"core_rise": [30.0]}, verdict=verdict)})
    archive = archive_of([air("x", 30.0), slow], spread=SPREAD)
    assert reasons(archive, stock("x"), stock("slow")) == [f"slow: the run at Stock {words}."]


def test_a_room_outside_the_band_does_not_compare() -> None:
    values = {"core_rise": [30.0], "ambient_temperature": [31.24]}
    archive = archive_of([air("x", 30.0), Given(id="y", shots={"stock": Shot(values=values, in_band=False)})])
    assert reasons(archive, stock("x"), stock("y")) == [
        "y: the room at Stock (31.2 °C) was outside the 18 to 28 °C that the protocol allows."
    ]


def test_every_reason_is_given_at_once() -> None:
    bad = Given(
        id="y",
        card="tarn-x9",
        shots={"stock": Shot(values={"core_rise": [30.0]}, in_band=None, verdict=Verdict.DRIFTING)},
    )
    found = comparability(archive_of([air("x", 30.0), bad]), stock("x"), stock("y"))
    assert isinstance(found, NotComparable)
    assert [r.code for r in found.reasons] == ["other-card", "not-settled", "ambient-unknown"]


def test_a_result_is_not_compared_with_itself() -> None:
    archive = archive_of([air("x", 30.0)])
    assert reasons(archive, stock("x"), stock("x")) == [
        "They belong to one result; its own page gives the change from stock."
    ]


def test_the_same_cooler_tested_twice_is_told_apart_by_its_days() -> None:
    archive = archive_of([air("x", 26.0, cooler="slab"), air("y", 30.0, cooler="slab")], spread=SPREAD)
    text = row(head_to_head(archive, stock("x"), stock("y")), "core_rise").text
    assert plain(text) == "slab, tested 2026-04-18 is 4.0 ± 0.7 K cooler than slab, tested 2026-04-18."


def lowered(name: str, slope: float, **more: object) -> Given:
    shots = {
        point: Shot(values={"core_rise": [slope * watts], "board_power": [watts]})
        for point, watts in (("stock", 280.0), ("power-80", 228.0), ("power-60", 171.0))
    }
    line = power_line(0.0, slope, span=(171.0, 280.0))
    return Given(id=name, shots=shots, lines={"core_rise": line}, **more)  # type: ignore[arg-type]


def test_unlike_test_points_compare_by_psi_at_a_power_that_both_reached() -> None:
    archive = archive_of([lowered("x", 0.14), lowered("y", 0.10)], spread=SPREAD)
    found = head_to_head(archive, stock("x"), PointOf(bundle="y", point="power-80"))
    assert isinstance(found.comparability, ByPsi)
    assert found.comparability.watts == pytest.approx(254.0)
    assert found.comparability.reasons[0].text == (
        "Their test points are not declared equivalent: Stock by soak-10 and Power 80 by soak-10."
    )
    (only,) = found.rows
    assert only.kind == "core_psi"
    assert only.difference is not None
    assert only.difference.value == pytest.approx(0.04)
    assert plain(only.text).endswith("K/W lower than x.")


def test_psi_is_not_used_outside_what_both_reached() -> None:
    one = Given(id="y", shots={"power-60": Shot(values={"core_rise": [17.0], "board_power": [171.0]})})
    archive = archive_of([lowered("x", 0.14), one], spread=SPREAD)
    found = comparability(archive, stock("x"), PointOf(bundle="y", point="power-60"))
    assert isinstance(found, NotComparable)
    assert [r.code for r in found.reasons] == ["other-point", "outside-power"]
    assert found.reasons[1].text == (
        "Half-way between their board powers, at 226 W, not both were tested (171 to 280 W and 171 to 171 W)."
    )


def test_meter_gain_leaves_psi_in_proportion_to_the_difference() -> None:
    """Ψ = rise/P with a meter wrong by 2 % (half-width): what stays is 0.02/√3 of the difference of Ψ, not of Ψ."""
    sensor = Sensor(quantity=Quantity.BOARD_POWER, accuracy_pct=2.0)

    def given(name: str, slope: float) -> Given:
        values = {"core_rise": [slope * 280.0], "board_power": [280.0]}
        u = 0.02 * 280.0 / math.sqrt(3)
        line = power_line(0.0, slope, u=1e-6)
        shot = Shot(values=values, u=1e-6, gain={"board_power": u})
        return Given(id=name, shots={"stock": shot}, lines={"core_rise": line})

    archive = archive_of([given("x", 0.14), given("y", 0.10)], spread=SpreadByKind(air=1e-6), sensors=(sensor,))
    found = row(head_to_head(archive, stock("x"), stock("y"), Basis.REFERENCE), "core_psi").difference
    assert found is not None
    assert found.u == pytest.approx(0.02 / math.sqrt(3) * 0.04 * 280 / 285, rel=1e-3)


@settings(max_examples=50)
@given(
    st.lists(st.floats(20, 40), min_size=1, max_size=3),
    st.lists(st.floats(20, 40), min_size=1, max_size=3),
    st.sampled_from(list(CoolerKind)),
)
def test_swapping_two_results_only_swaps_the_answer(x: list[float], y: list[float], kind: CoolerKind) -> None:
    archive = archive_of([air("x", *x), air("y", *y, kind=kind)], spread=SPREAD)
    one, other = (row(head_to_head(archive, *pair), "core_rise") for pair in _both_ways())
    assert (one.a, one.b) == (other.b, other.a)
    assert one.text == other.text
    assert one.standing is swapped(other.standing)
    assert one.difference is not None
    assert other.difference is not None
    assert one.difference.value == -other.difference.value
    assert one.difference.u == other.difference.u


def _both_ways() -> tuple[tuple[PointOf, PointOf], tuple[PointOf, PointOf]]:
    return ((stock("x"), stock("y")), (stock("y"), stock("x")))


def blocks(second: Loop | None) -> Tested:
    first = Loop(radiators="two of 360 mm")
    shot = {
        "stock": Shot(
            values={"core_rise": [20.0, 20.2], "core_coolant_psi": [0.060, 0.061], "board_power": [285.0, 285.0]}
        )
    }
    block = CoolerKind.WATER_BLOCK
    return archive_of([
        Given(id="slab", shots=shot, kind=block, loop=first, bench="old"),
        Given(id="riffle", shots=shot, kind=block, loop=second, bench="old" if second == first else "new"),
        Given(id="twin", shots={"stock": Shot(values={"core_rise": [30.0, 30.2]})}, bench="new", loop=second),
    ])  # fmt: skip


def test_two_water_blocks_compare_over_the_room_in_one_declared_loop_only() -> None:
    """Over the room a block is measured together with its radiators, fans and coolant: common practice, no source."""
    one = blocks(Loop(radiators="two of 360 mm"))
    assert row(head_to_head(one, stock("slab"), stock("riffle")), "core_rise").difference is not None
    assert len(ranking(one, stock_group(one), "core_rise").rows) == 3
    for loop in (Loop(radiators="one of 240 mm"), None):
        apart = blocks(loop)
        found = head_to_head(apart, stock("slab"), stock("riffle"))
        assert row(found, "core_rise").standing is Standing.NOT_JUDGED
        assert "in loops that differ or are not declared" in row(found, "core_rise").text
        assert row(found, "core_coolant_psi").difference is not None
        order = ranking(apart, stock_group(apart), "core_rise")
        kept = "slab" if loop is None else "riffle"  # of two loops that are equally frequent, the first bundle's
        assert {r.bundle for r in order.rows} == {kept, "twin"}
        assert [x.reasons[0].code for x in order.left_out if x.bundle in ("slab", "riffle")] == ["other-loop"]
        assert row(head_to_head(apart, stock("riffle"), stock("twin")), "core_rise").difference is not None
