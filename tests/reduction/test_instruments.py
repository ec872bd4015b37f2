"""Instruments: corrections, first days, the card's own sensors, and which errors two results share."""

from __future__ import annotations

import datetime as dt
from dataclasses import replace

import numpy as np
import pytest

from builder.archive.bench import Sensor, sensor_on
from builder.archive.bundle import Run
from builder.archive.catalogue import Setup
from builder.core.results import Quantity
from builder.logs import LogColumn, LogTable
from builder.reduction import HandInput, RunInput
from builder.reduction.by_hand import reduce_readings
from builder.reduction.inputs import channel, corrected
from tests.reduction.test_by_hand import READ, STOCK, setup

ROOM, CORE = Quantity.AMBIENT_TEMPERATURE, Quantity.CORE_TEMPERATURE
OLD = Sensor(quantity=ROOM, name="Probe 1", accuracy=0.5)
NEW = Sensor(quantity=ROOM, name="Probe 2", accuracy=0.3, from_=dt.date(2026, 2, 1))


def on(day: dt.date, *sensors: Sensor, card: tuple[Sensor, ...] = ()) -> Setup:
    one = setup(sensors=sensors)
    own = one.card.model_copy(update={"sensors": card})
    return replace(one, card=own, bundle=one.bundle.model_copy(update={"tested": day}))


@pytest.mark.parametrize(
    ("day", "name"),
    [(dt.date(2026, 1, 31), "Probe 1"), (dt.date(2026, 2, 1), "Probe 2"), (dt.date(2027, 1, 1), "Probe 2")],
)
def test_the_sensor_that_was_there_on_the_day_counts(day: dt.date, name: str) -> None:
    for order in ((OLD, NEW), (NEW, OLD)):
        found = on(day, *order).sensor(ROOM)
        assert found is not None
        assert found.name == name


def test_before_its_first_day_a_sensor_is_not_there() -> None:
    assert sensor_on((NEW,), ROOM, dt.date(2026, 1, 31)) is None


def test_readings_are_multiplied_and_then_shifted() -> None:
    sensor = Sensor(quantity=ROOM, offset=-0.12, gain=1.02)
    assert sensor.corrected(20.0) == pytest.approx(20.28)
    column = LogColumn(quantity=ROOM, header="t", values=np.array([20.0, np.nan]), resolution=0.1, spelled_decimals=1)
    table = LogTable(file="x.csv", reader_id="r", time_s=np.array([0.0, 1.0]), start=None, columns={ROOM: column})
    given = RunInput(mount=1, run=Run(point="stock", log="x.csv"), table=table)
    found = corrected(on(dt.date(2026, 1, 1), sensor), given)
    np.testing.assert_allclose(found.table.columns[ROOM].values, [20.28, np.nan])
    assert found.table.columns[ROOM].resolution == pytest.approx(0.102)
    assert given.table.columns[ROOM].values[0] == 20.0
    assert corrected(on(dt.date(2026, 1, 1), OLD), given) is given


def test_readings_by_hand_are_corrected_like_logged_ones() -> None:
    sensors = (Sensor(quantity=ROOM, offset=-0.5), Sensor(quantity=CORE, offset=1.0))
    run = Run(point="stock", readings={Quantity(k): v for k, v in READ.items()})  # type: ignore[misc]
    found = reduce_readings(setup(sensors=sensors), HandInput(mount=1, run=run), STOCK).figures
    assert found["core_rise"].estimate.value == pytest.approx(39.0 + 1.0 + 0.5)


def test_the_cards_own_sensor_goes_before_the_benchs() -> None:
    one = on(dt.date(2026, 1, 1), Sensor(quantity=CORE, accuracy=3.0), card=(Sensor(quantity=CORE, accuracy=1.0),))
    assert one.accuracy(CORE).absolute == 1.0


def test_results_share_the_error_of_one_instrument_and_of_no_other() -> None:
    early, late = on(dt.date(2026, 1, 1), OLD, NEW), on(dt.date(2026, 3, 1), OLD, NEW)
    assert early.owner(ROOM) != late.owner(ROOM)
    assert early.owner(CORE) == late.owner(CORE)
    card = (Sensor(quantity=CORE, accuracy=1.0),)
    moved = on(dt.date(2026, 1, 1), OLD, card=card)
    moved = replace(moved, bundle=moved.bundle.model_copy(update={"bench": "another"}))
    here = on(dt.date(2026, 1, 1), OLD, card=card)
    assert moved.owner(CORE) == here.owner(CORE)
    assert moved.owner(ROOM) != here.owner(ROOM)


def test_the_coarser_of_step_and_declared_resolution_counts() -> None:
    sensor = Sensor(quantity=ROOM, resolution=0.5)
    column = LogColumn(quantity=ROOM, header="t", values=np.array([20.0, 20.1]), resolution=0.1, spelled_decimals=1)
    table = LogTable(file="x.csv", reader_id="r", time_s=np.array([0.0, 1.0]), start=None, columns={ROOM: column})
    given = RunInput(mount=1, run=Run(point="stock", log="x.csv"), table=table)
    found = channel(on(dt.date(2026, 1, 1), sensor), given, ROOM)
    assert found is not None
    assert found.resolution == 0.5
