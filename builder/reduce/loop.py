"""Heat carried by a liquid loop, from flow and temperature difference."""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import lru_cache
from importlib import import_module

from builder.figures import Component
from builder.model import Loop
from builder.quantity import Estimate
from builder.uncertainty import estimate_from_budget

_GLYCOLS = {"ethylene glycol": "ethylene_glycol", "propylene glycol": "propylene_glycol"}
_CLASSES = {"ethylene_glycol": "EthyleneGlycol", "propylene_glycol": "PropyleneGlycol"}
_PRESSURE_PA = 101_325.0
_GLYCOL_RELATIVE = 0.02 / math.sqrt(3)  # property correlations of the mixtures agree within 2 %


@dataclass(frozen=True, kw_only=True)
class CoolantProperties:
    """Density in kg/m³ and specific heat capacity in J/(kg K)."""

    density: float
    heat_capacity: float


@lru_cache(maxsize=4096)
def coolant_properties(coolant: str, mass_fraction: float, celsius: float) -> CoolantProperties:
    """Return density and heat capacity of the coolant at atmospheric pressure.

    Water by IAPWS-95, glycol mixtures by Melinder's correlations (2010, International Institute of Refrigeration), each
    from a property library; `coolant` and `mass_fraction` as in the bench file, 1 to 99 °C.
    """
    glycol = _GLYCOLS.get(coolant)
    if glycol and mass_fraction:
        mixture = getattr(import_module(f"scp.{glycol}"), _CLASSES[glycol])(mass_fraction)
        density, heat_capacity = mixture.density(celsius), mixture.specific_heat(celsius)
        return CoolantProperties(density=float(density), heat_capacity=float(heat_capacity))
    from chemicals import iapws

    properties = iapws.iapws95_properties(celsius + 273.15, _PRESSURE_PA)
    return CoolantProperties(density=float(properties[0]), heat_capacity=float(properties[5]))


@dataclass(frozen=True, kw_only=True)
class CoolantHeat:
    """Heat carried by the coolant in W with its budget."""

    estimate: Estimate
    budget: tuple[Component, ...]


def coolant_heat(flow: Estimate, difference: Estimate, celsius: float, loop: Loop) -> CoolantHeat:
    """Return ρ c V̇ ΔT in W; flow in L/min, difference (out less in) in K, both with accuracy already included.

    Source of the balance: first law for a steady incompressible stream. Uncertainty is standard, first order
    (JCGM 100:2008, eq. 10), flow and difference independent.
    """
    p = coolant_properties(loop.coolant, loop.mass_fraction, round(celsius, 1))
    per_litre = p.density * p.heat_capacity / 60_000.0  # W per (L/min) per K
    heat = per_litre * flow.value * difference.value
    glycol = loop.mass_fraction > 0 and loop.coolant != "water"
    budget = (
        Component(
            name="flow", kind="A+B", u=flow.u, unit="L/min", dof=flow.dof, sensitivity=per_litre * difference.value
        ),
        Component(
            name="temperature difference of the coolant",
            kind="A+B",
            u=difference.u,
            unit="K",
            dof=difference.dof,
            sensitivity=per_litre * flow.value,
        ),
        Component(
            name="coolant properties",
            kind="B",
            u=_GLYCOL_RELATIVE if glycol else 0.001,
            unit="",
            dof=math.inf,
            sensitivity=heat,
        ),
    )
    return CoolantHeat(estimate=estimate_from_budget(heat, "W", budget), budget=budget)
