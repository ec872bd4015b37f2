"""Means over mounts: the mount term never vanishes, and what is common is not averaged away."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from builder.core.results import Component, Figure, Role
from builder.reduction.mounts import over_mounts, own_part, spread_of
from builder.uncertainty import estimate_from_budget


def rise(value: float, *, scatter: float = 0.05, accuracy: float = 0.0) -> Figure:
    budget = [Component(name="scatter of the samples", kind="A", u=scatter, unit="K", dof=50)]
    if accuracy:
        line = Component(name="sensor accuracy", kind="B", u=accuracy, unit="K", dof=math.inf, role=Role.OFFSET)
        budget.append(line)
    estimate = estimate_from_budget(value, "K", budget)
    return Figure(kind="core_rise", estimate=estimate, samples=300, budget=tuple(budget))


def test_spread_of_remounts_is_the_sample_standard_deviation() -> None:
    spread = spread_of([42.0, 43.0, 41.5], None)
    assert spread is not None
    assert spread.sd == pytest.approx(np.std([42.0, 43.0, 41.5], ddof=1))
    assert spread.dof == 2


def test_one_mount_with_no_declared_spread_has_no_spread() -> None:
    assert spread_of([42.0], None) is None


def test_one_mount_takes_the_declared_spread_whole() -> None:
    figure = over_mounts([rise(42.0)], 0.5)
    assert figure.estimate.u == pytest.approx(math.hypot(0.05, 0.5))
    assert [c.name for c in figure.budget][-1] == "mounting spread, declared by the protocol"


def test_sensor_accuracy_is_not_averaged_over_mounts() -> None:
    figures = [rise(42.0 + d, accuracy=0.6) for d in (-0.3, 0.0, 0.3)]
    figure = over_mounts(figures, None)
    assert figure.estimate.u > 0.6
    assert own_part(figure).u == pytest.approx(0.3 / math.sqrt(3), rel=1e-6)


def test_mounts_that_happen_to_agree_keep_the_runs_own_uncertainty() -> None:
    figure = over_mounts([rise(42.0, scatter=0.2), rise(42.0, scatter=0.2)], None)
    assert figure.estimate.u == pytest.approx(0.2 / math.sqrt(2))


def test_declared_and_measured_spread_are_pooled_by_their_degrees_of_freedom() -> None:
    # Hand: declared 0.5 K counts as ten degrees of freedom, two mounts 0.2 K apart give s² = 0.02 with one.
    spread = spread_of([42.0, 42.2], 0.5)
    assert spread is not None
    assert spread.sd**2 == pytest.approx((10 * 0.25 + 1 * 0.02) / 11)
    assert spread.dof == 11


@given(st.lists(st.floats(min_value=10, max_value=80), min_size=1, max_size=6), st.permutations(range(6)))
def test_the_order_of_mounts_does_not_matter(values: list[float], order: list[int]) -> None:
    shuffled = [values[i] for i in order if i < len(values)]
    a = over_mounts([rise(v) for v in values], 0.5).estimate
    b = over_mounts([rise(v) for v in shuffled], 0.5).estimate
    assert a.value == pytest.approx(b.value)
    assert a.u == pytest.approx(b.u)


def test_no_mounts_are_refused() -> None:
    with pytest.raises(ValueError, match="no mounts"):
        over_mounts([], None)


def test_a_spread_that_chance_explains_is_not_taken_for_one() -> None:
    # F(1, 100) at 5 % is 3.936 (scipy): two values 1.9 u apart have s² = 1.8 u², three u apart 4.5 u².
    near = over_mounts([rise(42.0, scatter=0.1), rise(42.19, scatter=0.1)], None)
    far = over_mounts([rise(42.0, scatter=0.1), rise(42.30, scatter=0.1)], None)
    assert near.estimate.expanded() < 0.15
    assert far.estimate.expanded() > 0.5


def test_the_room_of_two_sessions_is_no_repeated_reading() -> None:
    budget = (Component(name="scatter of the samples", kind="A", u=0.02, unit="degC", dof=50),)
    rooms = [
        Figure(kind="ambient_temperature", estimate=estimate_from_budget(t, "degC", budget), samples=9, budget=budget)
        for t in (21.0, 24.0)
    ]
    found = over_mounts(rooms, None)
    assert found.estimate.value == pytest.approx(22.5)
    assert found.estimate.expanded() < 0.05


def test_a_constant_reading_in_whole_steps_is_no_better_known_over_three_mounts() -> None:
    # 1000 r/min in steps of 1 r/min: 1/sqrt(12) in one mount, and as much in three.
    budget = (
        Component(name="scatter of the samples", kind="A", u=0.0, unit="rpm", dof=50),
        Component(name="sensor resolution", kind="B", u=1 / math.sqrt(12), unit="rpm", dof=math.inf, role=Role.STEP),
    )
    speed = Figure(kind="fan_speed", estimate=estimate_from_budget(1000.0, "rpm", budget), samples=9, budget=budget)
    for n in (1, 3):
        assert over_mounts([speed] * n, None).estimate.u == pytest.approx(1 / math.sqrt(12))


def test_an_instruments_line_over_mounts_is_that_of_the_mean_reading() -> None:
    found = over_mounts([rise(40.0, scatter=0.1, accuracy=0.4), rise(40.0, scatter=0.1, accuracy=0.6)], None)
    assert next(c for c in found.budget if c.role is Role.OFFSET).u == pytest.approx(0.5)
