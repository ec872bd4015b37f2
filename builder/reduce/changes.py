"""How each test point differs from stock, mount by mount, so that what is common to both cancels."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence

import numpy as np

from builder.figures import Change, Figure, RunResult
from builder.quantity import Estimate
from builder.reduce.mounts import beyond_chance, own_part
from builder.uncertainty import effective_dof

CHANGE_KINDS = (
    "core_rise",
    "hotspot_rise",
    "memory_rise",
    "core_temperature",
    "board_power",
    "core_clock",
    "frame_rate",
    "low_1pct",
    "frames_per_joule",
    "fan_speed",
    "sound_level",
)
_NO_PERCENT = {"core_temperature", "sound_level"}  # their zero is arbitrary


def changes_from_stock(runs: Sequence[RunResult], stock: Sequence[RunResult]) -> Mapping[str, Change]:
    """Return the change of each figure from stock, averaged over the mounts that have both runs."""
    by_mount = {run.mount: run for run in stock}
    pairs = [(run, by_mount[run.mount]) for run in runs if run.mount in by_mount]
    found = ((kind, _change(kind, pairs)) for kind in CHANGE_KINDS)
    return {kind: change for kind, change in found if change}


def difference(a: Estimate, b: Estimate) -> Estimate:
    """Return a less b for independent estimates in one unit."""
    u = math.hypot(a.u, b.u)
    unit = "K" if a.unit == "degC" else a.unit
    return Estimate(value=a.value - b.value, u=u, unit=unit, dof=effective_dof([a.u, b.u], [a.dof, b.dof]))


def percent_change(a: Estimate, b: Estimate) -> Estimate | None:
    """Return 100 (a / b - 1) in percent for independent estimates; None unless b is well above zero.

    First order: u = 100 |a/b| sqrt((u_a/a)² + (u_b/b)²), JCGM 100:2008, eq. 12.
    """
    if b.value <= 3 * b.u or b.value <= 0:
        return None
    parts = [100 * a.u / b.value, 100 * a.value * b.u / b.value**2]
    u = math.hypot(*parts)
    value = 100 * (a.value / b.value - 1)
    return Estimate(value=value, u=u, unit="percent", dof=effective_dof(parts, [a.dof, b.dof]))


def _change(kind: str, pairs: Sequence[tuple[RunResult, RunResult]]) -> Change | None:
    both = [(r.figures[kind], s.figures[kind]) for r, s in pairs if kind in r.figures and kind in s.figures]
    if not both:
        return None
    absolute = _mean([difference(own_part(a), own_part(b)) for a, b in both])
    percents = [] if kind in _NO_PERCENT else [percent_change(own_part(a), own_part(b)) for a, b in both]
    known = [p for p in percents if p]
    return Change(kind=kind, absolute=absolute, percent=_mean(known) if known and len(known) == len(both) else None)


def _mean(estimates: Sequence[Estimate]) -> Estimate:
    """Return the mean over mounts; what the mounts show counts where what the runs state does not explain it."""
    n = len(estimates)
    if n == 1:
        return estimates[0]
    stated = math.sqrt(float(np.mean([e.u**2 for e in estimates])))
    seen = float(np.std([e.value for e in estimates], ddof=1))
    value = float(np.mean([e.value for e in estimates]))
    own_dof = n * min(e.dof for e in estimates)
    wider = beyond_chance(seen, n - 1, stated, own_dof)
    u, dof = (seen, float(n - 1)) if wider else (stated, own_dof)
    return Estimate(value=value, u=u / math.sqrt(n), unit=estimates[0].unit, dof=dof)


def figure_difference(a: Figure, b: Figure) -> Estimate:
    """Return a less b of two figures from one bench and card: what is common to both cancels."""
    return difference(own_part(a), own_part(b))
