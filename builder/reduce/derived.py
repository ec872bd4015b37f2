"""Figures made from other figures of the same run: gap, efficiency, share of the limit, coolant heat."""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping

import numpy as np

from builder.figures import Component, Figure, Quantity, Window
from builder.model import TestPoint
from builder.quantity import Estimate
from builder.reduce.inputs import RunInput, Setting
from builder.reduce.loop import coolant_heat
from builder.settle import Channel, window_mean
from builder.uncertainty import estimate_from_budget

Figures = Mapping[str, Figure]
HEAT_SHARE_BAND = (50.0, 120.0)  # percent of board power; outside it a loop sensor is more likely wrong than the card


def derived_figures(
    setting: Setting, given: RunInput, point: TestPoint, window: Window, known: Figures
) -> Iterator[Figure]:
    """Return the figures that follow from means, rises and frames already known."""
    yield from _gap(setting, given, point, window)
    yield from _efficiency(known)
    yield from _limit_share(setting, given, point, window, known)
    yield from _coolant(setting, known)


def _gap(setting: Setting, given: RunInput, point: TestPoint, window: Window) -> Iterator[Figure]:
    """Mean of the paired difference, so that what moves both readings together cancels."""
    hotspot = given.table.columns.get(Quantity.HOTSPOT_TEMPERATURE)
    core = given.table.columns.get(Quantity.CORE_TEMPERATURE)
    if hotspot is None or core is None:
        return
    sensors = [setting.bench.sensor(q) for q in (Quantity.HOTSPOT_TEMPERATURE, Quantity.CORE_TEMPERATURE)]
    pair = Channel(
        values=hotspot.values - core.values,
        resolution=max(hotspot.resolution, core.resolution),
        accuracy=math.hypot(*((s.accuracy or 0.0) if s else 0.0 for s in sensors)),
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
        *(_scaled(c, -value / p.value) for c in power.budget),
    )
    samples = min(rate.samples, power.samples)
    yield Figure(
        kind="frames_per_joule", estimate=estimate_from_budget(value, "1/J", budget), samples=samples, budget=budget
    )


def _scaled(component: Component, factor: float) -> Component:
    return Component(
        name=component.name,
        kind=component.kind,
        u=component.u,
        unit=component.unit,
        dof=component.dof,
        sensitivity=component.sensitivity * factor,
    )


def _limit_share(
    setting: Setting, given: RunInput, point: TestPoint, window: Window, known: Figures
) -> Iterator[Figure]:
    power = known.get("board_power")
    limit = _limit(setting, given, point, window)
    if power and limit:
        share = power.estimate.scaled(100.0 / limit, "percent")
        yield Figure(kind="power_limit_share", estimate=share, samples=power.samples)


def _limit(setting: Setting, given: RunInput, point: TestPoint, window: Window) -> float | None:
    """Return the power limit in W: as logged in the window, else as the test point sets it."""
    column = given.table.columns.get(Quantity.POWER_LIMIT)
    if column is not None:
        time = given.table.time_s
        inside = column.values[(time >= window.start_s) & (time < window.end_s)]
        inside = inside[np.isfinite(inside)]
        if inside.size and float(np.median(inside)) > 0:
            return float(np.median(inside))
    if point.power_limit_pct:
        return setting.card.board_power_w * point.power_limit_pct / 100.0
    return None


def _coolant(setting: Setting, known: Figures) -> Iterator[Figure]:
    names = ("coolant_in_temperature", "coolant_out_temperature", "flow_rate")
    into, out, flow = (known.get(name) for name in names)
    if setting.bench.loop is None or not (into and out and flow) or flow.estimate.value <= 0:
        return
    celsius = (into.estimate.value + out.estimate.value) / 2
    if not 1.0 <= celsius <= 99.0:  # noqa: PLR2004 - liquid water, with a margin
        return
    difference = _difference(out, into)
    heat = coolant_heat(flow.estimate, difference, celsius, setting.bench.loop)
    samples = min(f.samples for f in (into, out, flow))
    yield Figure(kind="coolant_heat", estimate=heat.estimate, samples=samples, budget=heat.budget)
    power = known.get("board_power")
    if power and power.estimate.value > 0:
        yield _heat_share(heat.estimate, power.estimate, samples)


def _difference(out: Figure, into: Figure) -> Estimate:
    """Two sensors: their accuracies are independent and do not cancel."""
    parts = [out.estimate.u, into.estimate.u]
    return Estimate(value=out.estimate.value - into.estimate.value, u=math.hypot(*parts), unit="K")


def _heat_share(heat: Estimate, power: Estimate, samples: int) -> Figure:
    value = 100.0 * heat.value / power.value
    u = abs(value) * math.hypot(heat.u / heat.value if heat.value else 0.0, power.u / power.value)
    low, high = HEAT_SHARE_BAND
    note = "" if low <= value <= high else "does not balance: check the flow meter and both coolant sensors"
    return Figure(
        kind="coolant_heat_share", estimate=Estimate(value=value, u=u, unit="percent"), samples=samples, note=note
    )
