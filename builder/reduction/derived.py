"""Figures made from others of the same run, and the sound level, which is corrected before it is one."""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from functools import lru_cache
from importlib import import_module

import numpy as np

from builder.archive.bench import Loop, SoundSetup
from builder.archive.catalogue import Setup
from builder.archive.protocol import PointRole, TestPoint
from builder.core.quantity import Estimate, FloatArray
from builder.core.results import Bound, Component, Figure, Quantity, Role, Window
from builder.reduction.inputs import RunInput, channel
from builder.settling import Channel, window_mean
from builder.settling.signals import SCATTER
from builder.uncertainty import estimate_from_budget, rectangular

Figures = Mapping[str, Figure]


def derived_figures(
    setup: Setup, given: RunInput, point: TestPoint, window: Window, known: Figures
) -> Iterator[Figure]:
    """Yield the figures that follow from the log and from means, rises and frames already known."""
    yield from _sound(setup, given, window)
    yield from _gap(setup, given, point, window)
    yield from _limit_share(setup, given, point, window, known)
    yield from from_figures(setup, point, known)


def from_figures(setup: Setup, point: TestPoint, known: Figures) -> Iterator[Figure]:
    """Yield the figures that follow from others alone: frames per joule, heat in the coolant, core over it per watt."""
    if point.role is not PointRole.IDLE:  # frames of an idle desktop do no work
        yield from _efficiency(known)
    yield from _coolant(setup, known)
    yield from _over_coolant_per_watt(known)


def _gap(setup: Setup, given: RunInput, point: TestPoint, window: Window) -> Iterator[Figure]:
    """Mean of the paired difference, so that what moves both readings together cancels."""
    hotspot = given.table.columns.get(Quantity.HOTSPOT_TEMPERATURE)
    core = given.table.columns.get(Quantity.CORE_TEMPERATURE)
    if hotspot is None or core is None:
        return
    stated = [setup.accuracy(q) for q in (Quantity.HOTSPOT_TEMPERATURE, Quantity.CORE_TEMPERATURE)]
    pair = Channel(
        values=hotspot.values - core.values,
        resolution=max(hotspot.resolution, core.resolution),
        accuracy=math.hypot(*(one.absolute for one in stated)),
        assumed=any(one.assumed for one in stated),
    )
    mean = window_mean(given.table.time_s, pair, window, unit="K", loop_s=point.loop_s)
    if mean:
        yield Figure(kind="hotspot_gap", estimate=mean.estimate, samples=mean.samples, budget=mean.budget)


def _efficiency(known: Figures) -> Iterator[Figure]:
    rate, power = known.get("frame_rate"), known.get("board_power")
    if rate is None or power is None or power.estimate.value <= 0:
        return
    r, p = rate.estimate, power.estimate
    value = r.value / p.value
    budget = (
        Component(name="frame rate", kind="A", u=r.u, unit="1/s", dof=r.dof, sensitivity=1 / p.value),
        *(c.times(-value / p.value) for c in power.budget),
    )
    estimate = estimate_from_budget(value, "1/J", budget)
    yield Figure(kind="frames_per_joule", estimate=estimate, samples=min(rate.samples, power.samples), budget=budget)


def _over_coolant_per_watt(known: Figures) -> Iterator[Figure]:
    """Yield a water block's own figure: the heat path without radiators, fans and room."""
    over, power = known.get("core_over_coolant"), known.get("board_power")
    if over is None or power is None or power.estimate.value <= 0:
        return
    watts = power.estimate.value
    value = over.estimate.value / watts
    budget = (*(c.times(1 / watts) for c in over.budget), *(c.times(-value / watts) for c in power.budget))
    estimate = estimate_from_budget(value, "K/W", budget)
    samples = min(over.samples, power.samples)
    yield Figure(kind="core_coolant_psi", estimate=estimate, samples=samples, budget=budget)


def _limit_share(setup: Setup, given: RunInput, point: TestPoint, window: Window, known: Figures) -> Iterator[Figure]:
    power = known.get("board_power")
    limit = _power_limit(setup, given, point, window)
    if power and limit:
        yield limit_share(power, limit)


def limit_share(power: Figure, limit_w: float) -> Figure:
    """Return board power as a share of its limit in W, which is above zero and exact."""
    share = power.estimate.scaled(100.0 / limit_w, "percent")
    budget = tuple(c.times(100.0 / limit_w) for c in power.budget)
    return Figure(kind="power_limit_share", estimate=share, samples=power.samples, budget=budget)


def _power_limit(setup: Setup, given: RunInput, point: TestPoint, window: Window) -> float | None:
    """Return the power limit in W: as logged in the window, else as the test point sets it."""
    column = given.table.columns.get(Quantity.POWER_LIMIT)
    logged = given.inside(column.values, window) if column else np.empty(0)
    if logged.size and float(np.median(logged)) > 0:
        return float(np.median(logged))
    return limit_of_point(setup, point)


def limit_of_point(setup: Setup, point: TestPoint) -> float | None:
    """Return the power limit in W that a test point sets on this card; None where it sets none."""
    return setup.card.board_power_w * point.power_limit_pct / 100.0 if point.power_limit_pct else None


# --- Heat carried by a liquid loop, from flow and temperature difference

_GLYCOLS = {
    "ethylene glycol": ("ethylene_glycol", "EthyleneGlycol"),
    "propylene glycol": ("propylene_glycol", "PropyleneGlycol"),
}
_PRESSURE_PA = 101_325.0
_WATER_RELATIVE = 0.001
_GLYCOL_RELATIVE = 0.02 / math.sqrt(3)  # property correlations of the mixtures agree within 2 %
HEAT_SHARE_BAND = (50.0, 120.0)  # percent of board power; outside it a loop sensor is more likely wrong than the card


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
        module, mixtures = glycol
        mixture = getattr(import_module(f"scp.{module}"), mixtures)(mass_fraction)
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


def coolant_heat(flow: Figure, into: Figure, out: Figure, loop: Loop) -> CoolantHeat:
    """Return ρ c V̇ ΔT in W; flow in L/min, coolant temperatures in °C, at whose mean the properties are taken.

    Source of the balance: first law for a steady incompressible stream. Uncertainty is standard, first order
    (JCGM 100:2008, eq. 10), the sensors independent; each line keeps its role, so that between runs with the same
    sensors an offset of a thermometer cancels and a gain leaves its share of the difference.
    """
    celsius = (into.estimate.value + out.estimate.value) / 2
    p = coolant_properties(loop.coolant, loop.mass_fraction, round(celsius, 1))
    per_litre = p.density * p.heat_capacity / 60_000.0  # W per (L/min) per K
    difference = out.estimate.value - into.estimate.value
    heat = per_litre * flow.estimate.value * difference
    glycol = loop.mass_fraction > 0 and loop.coolant != "water"
    relative = _GLYCOL_RELATIVE if glycol else _WATER_RELATIVE
    by_kelvin = per_litre * flow.estimate.value
    budget = (
        *_lines_of("flow", flow, per_litre * difference),
        *_lines_of("coolant out", out, by_kelvin),
        *_lines_of("coolant in", into, -by_kelvin),
        Component(
            name="coolant properties",
            kind="B",
            u=relative,
            unit="",
            dof=math.inf,
            sensitivity=heat,
            role=Role.GAIN,
        ),
    )
    return CoolantHeat(estimate=estimate_from_budget(heat, "W", budget), budget=budget)


def _lines_of(name: str, figure: Figure, factor: float) -> Iterator[Component]:
    """Yield a figure's lines in the budget of another that grows by `factor` with it, under the figure's name."""
    whole = Component(name="", kind="A+B", u=figure.estimate.u, unit=figure.estimate.unit, dof=figure.estimate.dof)
    for line in figure.budget or (whole,):
        yield replace(line.times(factor), name=f"{name}: {line.name}" if line.name else name)


def _coolant(setup: Setup, known: Figures) -> Iterator[Figure]:
    into, out = known.get("coolant_in_temperature"), known.get("coolant_out_temperature")
    flow, power = known.get("flow_rate"), known.get("board_power")
    if setup.bench.loop is None or not (into and out and flow) or flow.estimate.value <= 0:
        return
    celsius = (into.estimate.value + out.estimate.value) / 2
    if not 1.0 <= celsius <= 99.0:  # noqa: PLR2004 - liquid water, with a margin
        return
    heat = coolant_heat(flow, into, out, setup.bench.loop)
    samples = min(f.samples for f in (into, out, flow))
    yield Figure(kind="coolant_heat", estimate=heat.estimate, samples=samples, budget=heat.budget)
    if power and power.estimate.value > 0:
        yield _heat_share(heat, power, samples)


def _heat_share(heat: CoolantHeat, power: Figure, samples: int) -> Figure:
    watts = power.estimate.value
    value = 100.0 * heat.estimate.value / watts
    budget = (*(c.times(100.0 / watts) for c in heat.budget), *_lines_of("board power", power, -value / watts))
    low, high = HEAT_SHARE_BAND
    note = "" if low <= value <= high else "does not balance: check the flow meter and both coolant sensors"
    estimate = estimate_from_budget(value, "percent", budget)
    return Figure(kind="coolant_heat_share", estimate=estimate, samples=samples, budget=budget, note=note)


# --- Sound pressure levels: energy means, background correction and distance

MIN_MARGIN_DB = 6.0  # ISO 3744: under this margin over the background the result is an upper bound
NEGLIGIBLE_MARGIN_DB = 15.0  # ISO 3744: above this no correction is made
_TOO_NEAR = "the background is within 6 dB"


@dataclass(frozen=True, kw_only=True)
class SoundLevel:
    """A corrected level in dB(A); an upper bound where the background was too near to correct for."""

    level: float
    correction: float
    bound: Bound
    definition: str


def corrected_level(measured: float, setup: SoundSetup) -> SoundLevel:
    """Return the level of the card alone at the reported distance, in dB(A)."""
    margin = measured - setup.background_dba
    correction = background_correction(margin)
    bound = Bound.UPPER if margin < MIN_MARGIN_DB else Bound.NONE
    definition = f"energy mean, corrected for background, at {setup.report_at_m:g} m"
    return SoundLevel(
        level=measured - correction + distance_correction(setup.distance_m, setup.report_at_m),
        correction=correction,
        bound=bound,
        definition=f"{definition}; an upper bound, {_TOO_NEAR}" if bound is Bound.UPPER else definition,
    )


def _sound(setup: Setup, given: RunInput, window: Window) -> Iterator[Figure]:
    logged = channel(setup, given, Quantity.SOUND_LEVEL)
    if logged is None or setup.bench.sound is None:
        return
    levels = given.inside(logged.values, window)
    if levels.size < 2:  # noqa: PLR2004 - no spread
        return
    mean = window_mean(given.table.time_s, logged, window, unit="dBA")
    scatter = Component(name=SCATTER, kind="A", u=float(np.std(levels, ddof=1)), unit="dBA", dof=levels.size - 1.0)
    lines = mean.budget if mean else (scatter,)
    yield sound_figure(energy_mean(levels), lines, setup.bench.sound, samples=int(levels.size))


def sound_figure(measured: float, lines: Sequence[Component], setup: SoundSetup, *, samples: int) -> Figure:
    """Return the level of the card alone from a measured one in dB(A), whose budget `lines` are."""
    corrected = corrected_level(measured, setup)
    budget = (*lines, *correction_lines(measured, setup))
    return Figure(
        kind="sound_level",
        estimate=estimate_from_budget(corrected.level, "dBA", budget),
        samples=samples,
        budget=budget,
        definition=corrected.definition,
        note=f"upper bound: {_TOO_NEAR}" if corrected.bound is Bound.UPPER else "",
        bound=corrected.bound,
    )


BACKGROUND_HALF_WIDTH_DB = 1.0  # of one background level for a session (common practice, no source)
DISTANCE_SHARE = 0.1  # half-width, of the correction: rooms reflect, no card is a point (common practice, no source)


def correction_lines(measured: float, setup: SoundSetup) -> Iterator[Component]:
    """Yield what the corrections for background and distance add to the uncertainty of a level in dB(A).

    K1 depends on the background L_B by dK1/dL_B = 1 / (10^(0.1 ΔL) - 1), the sensitivity coefficient of K1 in
    ISO 3744:2010, annex H (value from memory), which holds for levels that are not corrected as well. The background's
    error is no smaller over more mounts and cancels between no two levels; that of the distance is one offset for all
    runs on a bench. Half-widths are rectangular.
    """
    margin = max(measured - setup.background_dba, MIN_MARGIN_DB)
    yield Component(
        name="background level, in its correction",
        kind="B",
        u=rectangular(BACKGROUND_HALF_WIDTH_DB),
        unit="dBA",
        dof=math.inf,
        sensitivity=-1.0 / (10.0 ** (0.1 * margin) - 1.0),
        role=Role.STEP,
    )
    distance = abs(distance_correction(setup.distance_m, setup.report_at_m))
    if distance > 0:
        yield Component(
            name="correction for distance",
            kind="B",
            u=rectangular(DISTANCE_SHARE * distance),
            unit="dBA",
            dof=math.inf,
            role=Role.OFFSET,
        )


def energy_mean(levels: FloatArray) -> float:
    """Return the energy-equivalent level of levels in dB, shape (n,).

    >>> round(energy_mean(np.array([60.0, 66.0])), 3)
    63.963
    """
    return float(10.0 * np.log10(np.mean(10.0 ** (levels / 10.0))))


def background_correction(margin_db: float) -> float:
    """Return K1 in dB, to be subtracted, for a margin in dB of the measured level over the background.

    Source: ISO 3744, K1 = -10 lg(1 - 10^(-0.1 ΔL)); held at its 6 dB value below that margin, zero above 15 dB.

    >>> round(background_correction(10.0), 4)
    0.4576
    """
    if margin_db > NEGLIGIBLE_MARGIN_DB:
        return 0.0
    return -10.0 * math.log10(1.0 - 10.0 ** (-0.1 * max(margin_db, MIN_MARGIN_DB)))


def distance_correction(measured_m: float, reported_m: float) -> float:
    """Return the dB to add to a level measured at one distance to report it at another, for a small free source.

    >>> round(distance_correction(0.5, 1.0), 3)
    -6.021
    """
    return 20.0 * math.log10(measured_m / reported_m)
