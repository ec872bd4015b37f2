"""What would this cooler do in my room."""

import math
from dataclasses import replace

import pytest
from hypothesis import given
from hypothesis import strategies as st

from builder.archive.protocol import SpreadByKind
from builder.comparison import Tested, evaluate, line_at, room_estimate, room_models
from builder.core.quantity import Estimate, coverage_factor
from builder.core.results import Bend, NoLine, PowerLine
from tests.support.invented import Given, Shot, archive_of, power_line


def archive(line: PowerLine | None = None, spread: float | None = 0.4) -> Tested:
    shots = {"stock": Shot(values={"core_rise": [42.0], "board_power": [285.0]}, accuracy={"core_rise": 0.6})}
    lines = {"core_rise": line or power_line(2.0, 0.14)}
    return archive_of([Given(id="x", shots=shots, lines=lines)], spread=SpreadByKind(air=spread))


def test_the_temperature_is_ambient_and_the_lines_rise() -> None:
    (core,) = room_estimate(archive(), "x", 26.0, 250.0).temperatures
    assert core.kind == "core_temperature"
    assert core.value == pytest.approx(26.0 + 2.0 + 0.14 * 250.0)


def test_the_interval_holds_line_sensor_and_one_more_mount() -> None:
    """Variances add (JCGM 100:2008, 5.1.2); a mount to come adds its own to that of the mean: s²(1 + 1/n)."""
    (core,) = room_estimate(archive(), "x", 26.0, 285.0).temperatures
    line = line_at(power_line(2.0, 0.14), 285.0).u
    mounts = math.hypot(0.4, 0.05) * math.sqrt(2)
    u = math.hypot(line, mounts, 0.6)
    (model,) = room_models(archive(), "x")
    assert core.half_width == pytest.approx(model.k * u)
    assert coverage_factor(math.inf) < model.k < coverage_factor(10)


def test_the_lines_covariance_is_kept() -> None:
    """Line through points about 235 W with u 0.1 K there and 0.001 K/W of slope: u(285) = hypot(0.1, 0.05) by hand."""
    assert line_at(power_line(2.0, 0.14), 285.0).u == pytest.approx(math.hypot(0.1, 0.05))


@pytest.mark.parametrize("power", [169.9, 300.1, 0.0, -5.0])
def test_power_outside_the_tested_range_is_declined(power: float) -> None:
    found = room_estimate(archive(), "x", 23.0, power)
    assert found.temperatures == ()
    assert found.refusal.startswith("Tested from 170 to 300 W. ")


def test_the_refusal_is_one_plain_sentence_pair() -> None:
    assert room_estimate(archive(), "x", 23.0, 340.0).refusal == (
        "Tested from 170 to 300 W. 340 W is outside that range, and a line says nothing about what happens there."
    )


def test_limits_in_a_refusal_are_rounded_inwards() -> None:
    found = room_estimate(archive(power_line(2.0, 0.14, span=(170.6, 299.4))), "x", 23.0, 340.0)
    assert found.refusal.startswith("Tested from 171 to 299 W.")


def test_the_ends_of_the_tested_range_are_answered() -> None:
    assert room_estimate(archive(), "x", 23.0, 170.0).temperatures
    assert room_estimate(archive(), "x", 23.0, 300.0).temperatures


def test_a_line_that_does_not_fit_says_nothing() -> None:
    found = room_estimate(archive(power_line(2.0, 0.14, fits=False)), "x", 23.0, 250.0)
    assert found.temperatures == ()
    assert found.refusal == (
        "No line of rise on power is known for this result, so nothing is said between its test points."
    )


@pytest.mark.parametrize("why", NoLine)
def test_each_temperature_without_a_line_has_its_own_reason(why: NoLine) -> None:
    tested = archive()
    result = replace(tested.results["x"], no_lines={"memory_rise": why})
    found = room_estimate(Tested(catalogue=tested.catalogue, results={"x": result}), "x", 23.0, 250.0)
    assert [(u.kind, str(u.why)) for u in found.unsaid] == [
        ("hotspot_temperature", "not measured"),
        ("memory_temperature", why.value),
    ]


def test_a_temperature_tested_over_other_powers_says_which() -> None:
    memory = replace(power_line(5.0, 0.1, span=(220.4, 299.6)), kind="memory_rise")
    values = {"core_rise": [42.0], "memory_rise": [33.0], "board_power": [285.0]}
    lines = {"core_rise": power_line(2.0, 0.14), "memory_rise": memory}
    tested = archive_of([Given(id="x", shots={"stock": Shot(values=values)}, lines=lines)])
    found = room_estimate(tested, "x", 23.0, 200.0)
    assert [t.kind for t in found.temperatures] == ["core_temperature"]
    assert [(u.kind, str(u.why)) for u in found.unsaid] == [
        ("hotspot_temperature", "not measured"),
        ("memory_temperature", "tested from 221 to 299 W only"),
    ]


def test_a_curve_bends_value_and_interval() -> None:
    """By hand: q = x² - 470 x + 53 000 is 2 000 at 300 W; 1e-4 of it is 0.2 K, and u 2e-5 of it is 0.04 K."""
    bend = Bend(coefficient=Estimate(value=1e-4, u=2e-5, unit="K/W**2"), q1=470.0, q0=-53000.0)
    straight, bent = (archive(line) for line in (power_line(2.0, 0.14), replace(power_line(2.0, 0.14), bend=bend)))
    (before,), (after,) = (room_estimate(one, "x", 23.0, 300.0).temperatures for one in (straight, bent))
    assert after.value - before.value == pytest.approx(0.2)
    ks = [room_models(one, "x")[0].k for one in (straight, bent)]
    widths = before.half_width / ks[0], after.half_width / ks[1]
    assert widths[1] ** 2 - widths[0] ** 2 == pytest.approx((2e-5 * 2000) ** 2, rel=1e-6)


def test_unknown_mounting_spread_is_said() -> None:
    found = room_estimate(archive(spread=None), "x", 23.0, 250.0)
    assert found.temperatures
    assert found.note.endswith("The mounting spread is unknown, so the true range is wider than shown.")


@pytest.mark.parametrize(("ambient", "power"), [(math.nan, 250.0), (23.0, math.inf)])
def test_numbers_that_are_not_finite_are_refused(ambient: float, power: float) -> None:
    with pytest.raises(ValueError, match="must be finite"):
        room_estimate(archive(), "x", ambient, power)


@given(st.floats(-10, 45), st.floats(170, 300))
def test_a_warmer_room_adds_exactly_its_warmth(ambient: float, power: float) -> None:
    (model,) = room_models(archive(), "x")
    here, there = evaluate(model, ambient, power), evaluate(model, ambient + 5.0, power)
    assert there.value - here.value == pytest.approx(5.0)
    assert there.half_width == here.half_width > 0
