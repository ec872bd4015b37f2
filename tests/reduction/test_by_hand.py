"""Runs read by hand: one reading of each quantity, with the uncertainty of its last digit and its sensor."""

from __future__ import annotations

import datetime as dt
import math
from dataclasses import replace
from decimal import Decimal

import GTC
import pytest

from builder.archive.bench import Bench, Sensor, SoundSetup
from builder.archive.bundle import Bundle, Mount, Run
from builder.archive.catalogue import Card, Cooler, CoolerKind, Setup
from builder.archive.protocol import PointRole, Protocol, SettleLimits, TestPoint
from builder.core.results import Quantity, Role, RunResult, Verdict
from builder.reduction import HandInput, combine_runs, reduce_bundle
from builder.reduction.by_hand import ALLOWANCE, reduce_readings

STOCK = TestPoint(id="stock", name="Stock", role=PointRole.STOCK)
POWER = TestPoint(id="power-80", name="80 %", role=PointRole.POWER_LIMIT, power_limit_pct=80.0)
SENSORS = (
    Sensor(quantity=Quantity.CORE_TEMPERATURE, accuracy=1.0),
    Sensor(quantity=Quantity.AMBIENT_TEMPERATURE, accuracy=0.3, resolution=0.1),
    Sensor(quantity=Quantity.BOARD_POWER, accuracy_pct=2.0),
)
READ = {"core_temperature": "61", "ambient_temperature": "22.0", "board_power": "298", "frame_rate": "88"}


def setup(
    *, allowance: float | None = None, sensors: tuple[Sensor, ...] = SENSORS, kind: CoolerKind = CoolerKind.AIR
) -> Setup:
    limits = SettleLimits(tau_s=150.0, window_s=300.0, soak_s=600.0)
    protocol = Protocol(
        name="Soak", version=1, air=limits, liquid=limits, points=(STOCK, POWER), by_hand_allowance_k=allowance
    )
    run = Run(point="stock", log="x.csv")
    return Setup(
        id="slab",
        bundle=Bundle(
            card="c", cooler="k", bench="b", protocol="p", tested=dt.date(2024, 1, 10), mounts=(Mount(runs=(run,)),)
        ),
        card=Card(name="Orrery", board_power_w=300.0),
        cooler=Cooler(name="Slab", kind=kind),
        bench=Bench(name="Open frame", sensors=sensors, readers=(), sound=SoundSetup(background_dba=20.0)),
        protocol=protocol,
    )


def read(given: dict[str, str] | None = None, *, mount: int = 1, point: TestPoint = STOCK, **of: object) -> RunResult:
    run = Run(point=point.id, readings={Quantity(k): Decimal(v) for k, v in (given or READ).items()})
    return reduce_readings(setup(**of), HandInput(mount=mount, run=run), point)  # type: ignore[arg-type]


def test_a_rise_is_the_difference_of_two_readings_with_their_digits_and_sensors() -> None:
    rise = read().figures["core_rise"].estimate
    # By hand: (1² + 0.3²) / 3 of the sensors, (1² + 0.1²) / 12 of the last digits.
    assert rise.value == 39.0
    assert rise.u == pytest.approx(math.sqrt((1 + 0.09) / 3 + (1 + 0.01) / 12), rel=1e-12)


def test_a_rise_per_watt_agrees_with_gtc() -> None:
    psi = read().figures["core_psi"].estimate
    uniform = GTC.type_b.uniform
    core = GTC.ureal(61, uniform(1.0)) + GTC.ureal(0, uniform(0.5))
    room = GTC.ureal(22, uniform(0.3)) + GTC.ureal(0, uniform(0.05))
    watts = GTC.ureal(298, uniform(0.02 * 298)) + GTC.ureal(0, uniform(0.5))
    expected = (core - room) / watts
    assert psi.value == pytest.approx(GTC.value(expected), rel=1e-12)
    assert psi.u == pytest.approx(GTC.uncertainty(expected), rel=1e-9)


@pytest.mark.parametrize(("written", "step"), [("61", 1.0), ("61.0", 0.1), ("61.00", 0.01), ("6e1", 10.0)])
def test_the_last_digit_that_was_written_is_the_resolution(written: str, step: float) -> None:
    core = read({**READ, "core_temperature": written}).figures["core_temperature"]
    (digit,) = (line for line in core.budget if line.role is Role.STEP)
    assert digit.u == pytest.approx(step / math.sqrt(12), rel=1e-12)


def test_a_sensor_declared_coarser_than_its_digits_counts_as_declared() -> None:
    room = read({**READ, "ambient_temperature": "22.00"}).figures["ambient_temperature"]
    (digit,) = (line for line in room.budget if line.role is Role.STEP)
    assert digit.u == pytest.approx(0.1 / math.sqrt(12), rel=1e-12)


def test_the_run_says_that_it_was_read_by_hand_and_so_does_every_figure() -> None:
    run = read()
    assert run.settlement.verdict is Verdict.BY_HAND
    assert run.settlement.message == "Read by hand: nobody can say whether the run had settled."
    assert not run.settlement.compared
    assert {figure.note for figure in run.figures.values()} == {"read by hand"}
    assert {figure.samples for figure in run.figures.values()} == {1}
    assert not run.traces


def test_an_allowance_is_a_line_of_rises_and_of_nothing_else() -> None:
    run = read(allowance=2.0)
    assert run.settlement.compared
    lines = {kind: [c.contribution for c in f.budget if c.name == ALLOWANCE] for kind, f in run.figures.items()}
    assert lines["core_rise"] == [pytest.approx(2 / math.sqrt(3))]
    assert lines["core_psi"] == [pytest.approx(2 / math.sqrt(3) / 298)]
    assert {kind for kind, found in lines.items() if found} == {"core_rise", "core_psi"}


def test_more_mounts_do_not_average_the_allowance_away() -> None:
    runs = [read(mount=mount, allowance=2.0) for mount in (1, 2, 3, 4)]
    (point,) = combine_runs(setup(allowance=2.0), runs).points
    (line,) = (c for c in point.figures["core_rise"].budget if c.name == ALLOWANCE)
    assert line.contribution == pytest.approx(2 / math.sqrt(3), rel=1e-12)
    assert point.verdict is Verdict.BY_HAND
    assert point.compared


def test_a_settled_run_counts_alone_and_the_readings_beside_it_are_left_out() -> None:
    hand = read()
    logged = replace(hand, settlement=replace(hand.settlement, verdict=Verdict.SETTLED))
    (point,) = combine_runs(setup(), [logged, read({**READ, "core_temperature": "70"}, mount=2)]).points
    assert point.verdict is Verdict.SETTLED
    assert point.figures["core_rise"].estimate.value == 39.0
    assert point.mount_note.endswith("1 run read by hand and left out of the mean.")


@pytest.mark.parametrize(("allowance", "kinds"), [(None, set()), (2.0, {"core_rise"})])
def test_a_change_from_stock_needs_the_allowance(allowance: float | None, kinds: set[str]) -> None:
    given = setup(allowance=allowance)
    lower = {**READ, "core_temperature": "55", "board_power": "238"}
    inputs = [
        HandInput(mount=1, run=Run(point=point, readings={Quantity(k): Decimal(v) for k, v in values.items()}))
        for point, values in (("stock", READ), ("power-80", lower))
    ]
    changed = reduce_bundle(given, inputs).point("power-80")
    assert changed is not None
    assert set(changed.changes) == kinds
    if allowance:
        # Two allowances, and two last digits of each thermometer; both sensors' errors cancel.
        found = changed.changes["core_rise"].absolute
        assert found.value == -6.0
        assert found.u == pytest.approx(math.sqrt(2 * (4 / 3 + 1.01 / 12)), rel=1e-9)


def test_readings_without_the_room_give_no_rise_and_say_so() -> None:
    run = read({"core_temperature": "61"})
    assert set(run.figures) == {"core_temperature"}
    assert run.ambient_in_band is None
    assert run.warnings == (
        "No ambient temperature: there is no rise over ambient, and this run compares with nothing.",
        "No board power: there is no rise per watt.",
    )


def test_a_room_outside_the_band_is_told() -> None:
    run = read({**READ, "ambient_temperature": "31"})
    assert run.ambient_in_band is False
    assert run.warnings == ("Ambient 31.0 °C is outside the protocol's band of 18 to 28 °C.",)


def test_a_power_of_nothing_gives_no_rise_per_watt() -> None:
    assert "core_psi" not in read({**READ, "board_power": "0"}).figures


def test_sound_coolant_and_frames_follow_as_from_a_log() -> None:
    more = {**READ, "coolant_in_temperature": "33.0", "sound_level": "40.0"}
    found = read(more, kind=CoolerKind.WATER_BLOCK).figures
    assert found["core_over_coolant"].estimate.value == 28.0
    assert found["coolant_rise"].estimate.value == 11.0
    assert found["frames_per_joule"].estimate.value == pytest.approx(88 / 298)
    assert found["sound_level"].estimate.value == 40.0
    assert found["frame_rate"].definition == "as the display showed it"


def test_board_power_is_a_share_of_the_limit_that_the_point_sets() -> None:
    share = read({**READ, "board_power": "238"}, point=POWER).figures["power_limit_share"]
    assert share.estimate.value == pytest.approx(100 * 238 / 240)
