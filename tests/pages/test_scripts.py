"""What the scripts work out is what the program works out."""

from __future__ import annotations

import json

import numpy as np

from builder.comparison import RoomModel, Tested, evaluate, subjects
from builder.comparison.own_room import refusal
from builder.core.quantity import round_to_uncertainty
from builder.pages.room import room_view
from tests.support.scripts import by_script, script
from tests.support.site_data import catalogue, results


def test_scripts_round_as_the_program_does() -> None:
    rng = np.random.default_rng(7)
    values = rng.normal(0, 1, 2000) * 10.0 ** rng.uniform(-2, 3, 2000)
    spreads = 10.0 ** rng.uniform(-4, 1.5, 2000)
    pairs = [(float(v), float(u)) for v, u in zip(values, spreads, strict=True)]
    code = f"given.map(([v, u]) => {script('figures.js')}.roundToUncertainty(v, u))"
    told = by_script(code, pairs)
    expected = [round_to_uncertainty(v, u) for v, u in pairs]
    assert told == [{"value": r.value, "u": r.u} for r in expected]


def model() -> RoomModel:
    return RoomModel(
        kind="core_temperature",
        intercept=0.8,
        slope=0.113,
        v0=0.21,
        v1=-0.0011,
        v2=2.5e-6,
        k=2.13,
        low_w=170.2,
        high_w=317.7,
        mounts_known=True,
    )


def as_data(known: RoomModel) -> dict[str, object]:
    names = ("intercept", "slope", "v0", "v1", "v2", "k")
    return {n: getattr(known, n) for n in names} | {"name": "x", "low": known.low_w, "high": known.high_w}


def test_the_room_script_gives_the_temperatures_of_the_program() -> None:
    asked = [(18.0, 171.0), (23.0, 285.0), (31.5, 317.7)]
    code = f"given.asked.map(([a, p]) => {script('room.js')}.temperature(given.model, a, p))"
    told = by_script(code, {"model": as_data(model()), "asked": asked})
    expected = [evaluate(model(), a, p) for a, p in asked]
    assert isinstance(told, list)
    assert np.allclose([t["value"] for t in told], [e.value for e in expected], rtol=1e-12)
    assert np.allclose([t["half"] for t in told], [e.half_width for e in expected], rtol=1e-12)


def test_the_room_script_declines_in_the_words_of_the_program() -> None:
    known = model()
    code = f"given.map((p) => {script('room.js')}.refusal({{low: 170.2, high: 317.7}}, p))"
    assert by_script(code, [100, 400.26]) == [refusal((known,), 100.0), refusal((known,), 400.26)]


def test_the_room_page_has_a_row_and_a_model_for_every_line_that_fits() -> None:
    tested = Tested(catalogue=catalogue(), results=results())
    view = room_view(tested, subjects(tested.catalogue, tested.results))
    assert {value for card in view.choices for value, _ in card.results} == {"slab-on-780", "riffle-on-780"}
    assert len(view.table.rows) == len(view.data) == 2
    json.dumps(view.data, allow_nan=False)


def test_a_reference_power_above_the_tested_range_gives_way_to_the_nearest_tested_one() -> None:
    cards = {key: card.model_copy(update={"board_power_w": 999.0}) for key, card in catalogue().cards.items()}
    tested = Tested(catalogue=catalogue().model_copy(update={"cards": cards}), results=results())
    view = room_view(tested, subjects(tested.catalogue, tested.results))
    # The line of the small archive is tested up to 1.12 times 285 W, 319.2 W.
    assert {data["power"] for data in view.data} == {319.0}
    assert all(row.cells[1] for row in view.table.rows)


def test_without_a_line_the_room_page_has_nothing_to_offer() -> None:
    tested = Tested(catalogue=catalogue(), results={})
    assert room_view(tested, ()).choices == ()
