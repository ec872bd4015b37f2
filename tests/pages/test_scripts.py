"""What the scripts work out is what the program works out."""

from __future__ import annotations

import json
from dataclasses import replace

import numpy as np
import pytest

from builder.archive.protocol import SpreadByKind
from builder.comparison import RoomModel, Tested, evaluate, room_estimate, subjects
from builder.comparison.own_room import refusal
from builder.core.quantity import round_to_uncertainty
from builder.core.results import FIGURES
from builder.pages.parts import plain_text
from builder.pages.room import room_view
from tests.support.invented import Given, Shot, archive_of, power_line
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


def model(bend: float = 0.0) -> RoomModel:
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
        bend=bend,
        q1=486.0 if bend else 0.0,
        q0=-57000.0 if bend else 0.0,
        vq=4e-10 if bend else 0.0,
    )


def as_data(known: RoomModel) -> dict[str, object]:
    names = ("intercept", "slope", "bend", "q1", "q0", "v0", "v1", "v2", "vq", "k")
    return {n: getattr(known, n) for n in names} | {"name": "x", "low": known.low_w, "high": known.high_w}


@pytest.mark.parametrize("bend", [0.0, 7e-5], ids=["line", "curve"])
def test_the_room_script_gives_the_temperatures_of_the_program(bend: float) -> None:
    asked, known = [(18.0, 171.0), (23.0, 285.0), (31.5, 317.7)], model(bend)
    code = f"given.asked.map(([a, p]) => {script('room.js')}.temperature(given.model, a, p))"
    told = by_script(code, {"model": as_data(known), "asked": asked})
    expected = [evaluate(known, a, p) for a, p in asked]
    assert isinstance(told, list)
    assert np.allclose([t["value"] for t in told], [e.value for e in expected], rtol=1e-12)
    assert np.allclose([t["half"] for t in told], [e.half_width for e in expected], rtol=1e-12)


def test_the_room_script_declines_in_the_words_of_the_program() -> None:
    known = model()
    code = f"given.map((p) => {script('room.js')}.refusal({{low: 170.2, high: 317.7}}, p))"
    assert by_script(code, [100, 400.26]) == [refusal((known,), 100.0), refusal((known,), 400.26)]


def test_the_room_script_gives_the_programs_reason_for_every_temperature_that_it_leaves_out() -> None:
    """Core and memory over two ranges; the hotspot's points lie on no line."""
    lines = {
        "core_rise": power_line(2.0, 0.14, span=(170.4, 299.6)),
        "memory_rise": replace(power_line(5.0, 0.1, span=(220.4, 299.6)), kind="memory_rise"),
        "hotspot_rise": replace(power_line(5.0, 0.1, fits=False), kind="hotspot_rise"),
    }
    values = {"core_rise": [42.0], "memory_rise": [33.0], "hotspot_rise": [50.0], "board_power": [285.0]}
    given = Given(id="slab", shots={"stock": Shot(values=values)}, lines=lines)
    tested = archive_of([given], spread=SpreadByKind(air=0.4))
    view = room_view(tested, subjects(tested.catalogue, tested.results))
    code = f"given.asked.map((p) => {script('room.js')}.answer(given.result, 23, p))"
    asked = [200.0, 285.0]
    for power, told in zip(asked, by_script(code, {"result": view.data[0], "asked": asked}), strict=True):
        found = room_estimate(tested, "slab", 23.0, power)
        names = {FIGURES[u.kind].name: str(u.why) for u in found.unsaid}
        assert dict(told["unsaid"]) == names
        assert [t["name"] for t in told["temperatures"]] == [FIGURES[t.kind].name for t in found.temperatures]
    assert names == {"Hotspot temperature": "no line or curve fits its points"}
    assert {str(u.why) for u in room_estimate(tested, "slab", 23.0, 200.0).unsaid} == {
        "tested from 221 to 299 W only",
        "no line or curve fits its points",
    }


def test_each_empty_cell_of_the_room_page_says_its_own_reason() -> None:
    tested = Tested(catalogue=catalogue(), results=results())
    view = room_view(tested, subjects(tested.catalogue, tested.results))
    texts = {
        column.label: [plain_text(row.cells[i]) for row in view.table.rows]
        for i, column in enumerate(view.table.columns)
    }
    assert all(text for column in texts.values() for text in column)
    # The two results have a line of the core alone: a column of reasons only is left out.
    assert {"Hotspot", "Memory"}.isdisjoint(texts)


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
