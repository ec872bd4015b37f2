"""The table of figures and the card's sensors: every line names what exists, and says where it is shown."""

from __future__ import annotations

import pytest

from builder.core.quantity import SYMBOLS
from builder.core.results import (
    BENCH_FIGURES,
    FIGURES,
    PREVIEW_FIGURES,
    SENSORS,
    Component,
    Quantity,
    Role,
    Use,
    figures_for,
)


def test_every_unit_of_a_figure_and_of_a_quantity_has_a_symbol() -> None:
    assert {*(kind.unit for kind in FIGURES.values()), *(quantity.unit for quantity in Quantity)} <= set(SYMBOLS)


def test_a_quantity_that_is_also_a_figure_has_one_unit() -> None:
    both = [(quantity.unit, FIGURES[quantity].unit) for quantity in Quantity if quantity in FIGURES]
    assert both
    assert all(one == other for one, other in both)


@pytest.mark.parametrize("sensor", SENSORS, ids=lambda sensor: sensor.name)
def test_a_sensors_figures_are_in_the_table_with_their_units(sensor: object) -> None:
    found = next(s for s in SENSORS if s is sensor)
    units = [FIGURES[kind].unit for kind in (found.temperature, found.rise, found.psi)]
    assert units == ["degC", "K", "K/W"]
    assert found.temperature == found.quantity


def test_places_at_the_bench_and_in_the_preview_are_counted_from_one() -> None:
    assert [FIGURES[kind].bench for kind in BENCH_FIGURES] == list(range(1, len(BENCH_FIGURES) + 1))
    assert [FIGURES[kind].preview for kind in PREVIEW_FIGURES] == list(range(1, len(PREVIEW_FIGURES) + 1))
    assert all(bool(kind.heading) == bool(kind.bench) for kind in FIGURES.values())


def test_what_the_page_shows_of_changes_is_worked_out() -> None:
    assert set(figures_for(Use.CHANGES)) < set(figures_for(Use.CHANGE))


@pytest.mark.parametrize("use", list(Use), ids=lambda use: use.name)
def test_every_use_has_figures_in_the_order_of_the_table(use: Use) -> None:
    kinds = figures_for(use)
    assert kinds
    assert list(kinds) == sorted(kinds, key=list(FIGURES).index)


def test_a_line_times_a_factor_keeps_what_it_means() -> None:
    line = Component(name="meter", kind="B", u=2.0, unit="W", dof=9.0, role=Role.GAIN, sensor=Quantity.BOARD_POWER)
    turned = line.times(-0.5)
    assert (turned.contribution, turned.role, turned.sensor) == (1.0, Role.GAIN, Quantity.BOARD_POWER)
