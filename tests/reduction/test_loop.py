"""Heat carried by the coolant against IAPWS-95 values and two independent libraries."""

from __future__ import annotations

import math

import pytest
from CoolProp.CoolProp import PropsSI
from iapws import IAPWS95

from builder.archive.bench import Loop
from builder.core.quantity import Estimate
from builder.core.results import Component, Figure, Quantity
from builder.reduction.derived import coolant_heat, coolant_properties
from builder.reduction.mounts import over_mounts, own_part
from builder.uncertainty import Instrument, estimate_from_budget, instrument_lines, rectangular

WATER = Loop()
US_GALLON_L = 3.785411784  # NIST SP 811, appendix B.8


# IAPWS R6-95(2018), at 101 325 Pa, values computed from the release by an independent implementation.
@pytest.mark.parametrize(
    ("celsius", "density", "heat_capacity"),
    [(20.0, 998.2072, 4184.05), (30.0, 995.6495, 4179.82), (40.0, 992.2164, 4179.42)],
)
def test_water_has_the_properties_of_iapws_95(celsius: float, density: float, heat_capacity: float) -> None:
    found = coolant_properties("water", 0.0, celsius)
    assert found.density == pytest.approx(density, abs=1e-4)
    assert found.heat_capacity == pytest.approx(heat_capacity, abs=6e-3)


@pytest.mark.parametrize("celsius", [5.0, 25.0, 45.0, 60.0])
def test_water_agrees_with_two_other_implementations(celsius: float) -> None:
    found = coolant_properties("water", 0.0, celsius)
    other = IAPWS95(T=celsius + 273.15, P=0.101325)
    assert found.density == pytest.approx(other.rho, rel=1e-8)
    assert found.heat_capacity / 1000 == pytest.approx(other.cp, rel=1e-8)
    third = PropsSI("C", "T", celsius + 273.15, "P", 101_325.0, "Water")
    assert found.heat_capacity == pytest.approx(third, rel=1e-6)


@pytest.mark.parametrize(("litres", "kelvins"), [(1.0, 4.605454), (US_GALLON_L, 1.216632)])
def test_320_watts_warm_a_flow_by_the_hand_value(litres: float, kelvins: float) -> None:
    flow = mean("flow_rate", litres, "L/min")
    into, out = (mean("coolant", 25.0 + side * kelvins / 2, "degC") for side in (-1, 1))
    heat = coolant_heat(flow, into, out, WATER)
    assert heat.estimate.value == pytest.approx(320.0, abs=1e-4)


# Freezing-point and property tables of the mixtures agree within 2 %: ethylene glycol 30 % by mass at 30 °C, value
# from memory: about 1035 kg/m3 and 3.7 kJ/(kg K); propylene glycol: about 1020 kg/m3 and 3.85 kJ/(kg K).
@pytest.mark.parametrize(
    ("glycol", "density", "heat_capacity"), [("ethylene glycol", 1035, 3700), ("propylene glycol", 1020, 3850)]
)
def test_glycol_mixtures_agree_with_handbook_values(glycol: str, density: float, heat_capacity: float) -> None:
    found = coolant_properties(glycol, 0.3, 30.0)
    assert found.density == pytest.approx(density, rel=0.02)
    assert found.heat_capacity == pytest.approx(heat_capacity, rel=0.02)


@pytest.mark.parametrize(("glycol", "code"), [("ethylene glycol", "MEG"), ("propylene glycol", "MPG")])
@pytest.mark.parametrize("fraction", [0.1, 0.3, 0.5])
def test_glycol_mixtures_agree_with_another_implementation(glycol: str, code: str, fraction: float) -> None:
    found = coolant_properties(glycol, fraction, 35.0)
    state = ("T", 308.15, "P", 101_325.0, f"INCOMP::{code}[{fraction}]")
    assert found.density == pytest.approx(PropsSI("D", *state), rel=1e-3)
    assert found.heat_capacity == pytest.approx(PropsSI("C", *state), rel=1e-3)


def test_a_glycol_of_no_mass_is_water() -> None:
    assert coolant_properties("ethylene glycol", 0.0, 30.0) == coolant_properties("water", 0.0, 30.0)


def test_two_rectangular_sensors_of_a_tenth_give_the_known_difference_uncertainty() -> None:
    # JCGM 100:2008, 4.3.7: a / sqrt(3) each.
    assert math.hypot(rectangular(0.1), rectangular(0.1)) == pytest.approx(0.08165, abs=1e-5)


def test_heat_uncertainty_is_dominated_by_a_small_temperature_difference() -> None:
    flow = mean("flow_rate", 2.0, "L/min", u=0.02)
    into, out = (mean("coolant", t, "degC", u=0.08165 / math.sqrt(2)) for t in (29.0, 31.0))
    heat = coolant_heat(flow, into, out, WATER)
    # Hand: relative u = sqrt(0.01² + 0.0408² + 0.001²) = 4.2 %.
    assert heat.estimate.u / heat.estimate.value == pytest.approx(0.0420, abs=2e-4)
    largest = max(heat.budget, key=lambda c: c.contribution)
    assert largest.name.startswith("coolant")


def mean(kind: str, value: float, unit: str, *, u: float = 0.0) -> Figure:
    return Figure(kind=kind, estimate=Estimate(value=value, u=u, unit=unit))


def sensed(quantity: Quantity, value: float, *, offset: float = 0.0, gain: float = 0.0) -> Figure:
    stated = Instrument(offset=offset, gain=gain * value, sensor=quantity)
    scatter = Component(name="scatter of the samples", kind="A", u=0.02, unit=quantity.unit, dof=50)
    budget = (scatter, *instrument_lines("sensor accuracy", stated, quantity.unit))
    return Figure(kind=str(quantity), estimate=estimate_from_budget(value, quantity.unit, budget), budget=budget)


def heat_figure() -> Figure:
    heat = coolant_heat(
        sensed(Quantity.FLOW_RATE, 2.0, gain=0.04),
        sensed(Quantity.COOLANT_IN_TEMPERATURE, 29.0, offset=0.15),
        sensed(Quantity.COOLANT_OUT_TEMPERATURE, 31.0, offset=0.15),
        WATER,
    )
    return Figure(kind="coolant_heat", estimate=heat.estimate, budget=heat.budget)


def test_three_mounts_do_not_make_the_loops_sensors_better() -> None:
    one, three = (over_mounts([heat_figure()] * n, None).estimate for n in (1, 3))
    # Hand: 138.6 W/K; flow 4 %/√3 of 277 W, two thermometers 0.15 K/√3 each, scatter 0.02 in each of the three.
    assert one.u == pytest.approx(math.hypot(6.40, 12.00, 12.00, 2.77, 2.77, 2.77), abs=0.05)
    assert three.u == pytest.approx(math.sqrt(one.u**2 - own_part(heat_figure()).u ** 2 * 2 / 3), rel=1e-6)
    assert three.u > 0.97 * one.u
