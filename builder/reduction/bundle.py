"""All runs of a bundle into figures per test point, changes from stock and lines of rise on power."""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from builder.archive.catalogue import Setting
from builder.archive.protocol import PointRole, Protocol, TestPoint
from builder.core.quantity import Estimate
from builder.core.results import (
    FIGURES,
    BundleResult,
    Change,
    Figure,
    PointResult,
    PowerLine,
    PowerSweep,
    RunResult,
    Verdict,
)
from builder.core.words import count
from builder.reduction.inputs import RunInput
from builder.reduction.mounts import (
    MOUNT_COMPONENT,
    beyond_chance,
    declared_spread,
    is_common,
    over_mounts,
    own_part,
    spread_of,
)
from builder.reduction.run import reduce_run
from builder.uncertainty import Line, Points, effective_dof, estimate_from_budget, york_line

# --- Air at altitude: thinner air carries less heat from an air cooler


SEA_LEVEL_DENSITY = 1.225  # kg/m³
WORTH_SAYING = 0.03  # relative: less is lost in the ambient band


def air_density(altitude_m: float) -> float:
    """Return the density of the standard atmosphere in kg/m³, from sea level to 11 000 m of geopotential altitude.

    Source: ISO 2533:1975, gradient layer -6.5 K/km, exponent g/(R L) - 1 = 4.25588.

    >>> round(air_density(1000.0), 4)
    1.1116
    """
    return float(SEA_LEVEL_DENSITY * (1.0 - 0.0065 * altitude_m / 288.15) ** 4.25588)


def altitude_note(altitude_m: float) -> str:
    """Return a sentence on thin air for a bench at this altitude, empty where the difference is small."""
    loss = 1.0 - air_density(altitude_m) / SEA_LEVEL_DENSITY
    if loss < WORTH_SAYING:
        return ""
    return (
        f"The bench stands at {altitude_m:.0f} m, where air is {100 * loss:.0f} % thinner than at sea level: "
        "an air cooler runs warmer here than it would there."
    )


# --- How each test point differs from stock, mount by mount, so that what is common to both cancels


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


# --- The straight line of rise on board power over a bundle's test points


LINE_KINDS = ("core_rise", "hotspot_rise", "memory_rise")
MIN_POINTS = 3
MIN_SPAN = 0.1  # of the highest power: a shorter lever says nothing about the slope
REJECT_P = 0.01
_LEFT_OUT = {PointRole.IDLE, PointRole.CLOSING}


def power_lines(points: Sequence[PointResult], protocol: Protocol) -> Mapping[str, PowerLine]:
    """Return the fitted line of each rise that has at least three settled load points over a fair range of power."""
    settled = [p for p in points if p.verdict is Verdict.SETTLED and _role(p, protocol) not in _LEFT_OUT]
    lines = ((kind, _line(kind, settled)) for kind in LINE_KINDS)
    return {kind: line for kind, line in lines if line}


def _role(point: PointResult, protocol: Protocol) -> PointRole | None:
    declared = protocol.point(point.point)
    return declared.role if declared else None


def _line(kind: str, points: Sequence[PointResult]) -> PowerLine | None:
    used = [p for p in points if kind in p.figures and "board_power" in p.figures]
    if len(used) < MIN_POINTS:
        return None
    power = np.array([p.figures["board_power"].estimate.value for p in used])
    if np.ptp(power) < MIN_SPAN * power.max():
        return None
    rise = np.array([p.figures[kind].estimate.value for p in used])
    u_power = np.array([_point_u(p.figures["board_power"]) for p in used])
    u_rise = np.array([_point_u(p.figures[kind]) for p in used])
    line = _fit(Points(x=power, y=rise, u_x=u_power, u_y=u_rise))
    if line is None:
        return None
    return PowerLine(
        kind=kind,
        intercept=line.intercept,
        slope=line.slope,
        covariance=line.covariance,
        low_w=float(power.min()),
        high_w=float(power.max()),
        points=tuple(p.point for p in used),
        fits=line.chi2_p is None or line.chi2_p >= REJECT_P,
        chi2_p=line.chi2_p,
    )


def _fit(points: Points) -> Line | None:
    try:
        return york_line(points, unit="K", slope_unit="K/W")
    except ValueError:  # no line settles through these points
        return None


def _point_u(figure: Figure) -> float:
    """Return what scatters from point to point: neither the sensor nor the mount, which all points share."""
    own = [c for c in figure.budget if not is_common(c) and MOUNT_COMPONENT not in c.name]
    u = estimate_from_budget(figure.estimate.value, figure.estimate.unit, own).u
    return max(u, 1e-6 * abs(figure.estimate.value), 1e-9)


# --- The power sweep of a bundle: where frames cost least energy, and what the last tenth of the frame rate costs


_ROLES = {PointRole.STOCK, PointRole.POWER_LIMIT}
SWEEP_MIN_POINTS = 2
TENTH = 0.9


@dataclass(frozen=True, kw_only=True)
class _Step:
    point: str
    rate: Estimate
    power: Estimate


def power_sweep(points: Sequence[PointResult], protocol: Protocol) -> PowerSweep | None:
    """Return the sweep over stock and lowered power limits, or None with fewer than two settled points with frames.

    The power at nine tenths of the highest frame rate is read off straight lines between neighbouring points; where
    no point is that low, it is not extrapolated. What is common to all points (meter gain) is left out.
    """
    efficient = [p for p in points if _used(p, protocol) and "frames_per_joule" in p.figures]
    if len(efficient) < SWEEP_MIN_POINTS:
        return None
    best = max(efficient, key=lambda p: p.figures["frames_per_joule"].estimate.value)
    steps = sorted((_step(p) for p in efficient), key=lambda s: s.rate.value)
    return PowerSweep(
        points=tuple(s.point for s in steps),
        best=best.point,
        best_efficiency=best.figures["frames_per_joule"].estimate,
        top=steps[-1].point,
        last_tenth=_last_tenth(steps),
        lowest_share=steps[0].rate.value / steps[-1].rate.value,
    )


def _used(point: PointResult, protocol: Protocol) -> bool:
    declared = protocol.point(point.point)
    return point.verdict is Verdict.SETTLED and declared is not None and declared.role in _ROLES


def _step(point: PointResult) -> _Step:
    return _Step(
        point=point.point,
        rate=own_part(point.figures["frame_rate"]),
        power=own_part(point.figures["board_power"]),
    )


def _last_tenth(steps: Sequence[_Step]) -> Estimate | None:
    """Return the power in W between nine tenths of the highest frame rate and all of it; None where out of reach."""
    top = steps[-1]
    wanted = TENTH * top.rate.value
    below = [s for s in steps if s.rate.value <= wanted]
    if not below:
        return None
    low, high = below[-1], steps[len(below)]
    span = high.rate.value - low.rate.value
    share = (wanted - low.rate.value) / span
    slope = (high.power.value - low.power.value) / span
    power = low.power.value + share * (high.power.value - low.power.value)
    same = high is top  # the top's own power then enters twice, and partly cancels
    parts = (
        top.power.u * (1.0 - share if same else 1.0),
        0.0 if same else high.power.u * share,
        low.power.u * (1.0 - share),
        slope * math.hypot(TENTH * top.rate.u, share * high.rate.u, (1.0 - share) * low.rate.u),
    )
    dofs = (top.power.dof, high.power.dof, low.power.dof, min(s.rate.dof for s in (top, high, low)))
    u = math.hypot(*parts)
    return Estimate(value=top.power.value - power, u=u, unit="W", dof=effective_dof(parts, dofs))


_WORST_FIRST = (Verdict.TOO_SHORT, Verdict.DRIFTING, Verdict.UNDECIDED, Verdict.SETTLED)


def reduce_bundle(setting: Setting, inputs: Sequence[RunInput]) -> BundleResult:
    """Return everything computed for one bundle; test points follow the protocol's order.

    Raises KeyError for a run at a test point that the protocol does not have (validation refuses it before).
    """
    points = {p.id: p for p in setting.protocol.points}
    return combine_runs(setting, [reduce_run(setting, given, points[given.run.point]) for given in inputs])


def combine_runs(setting: Setting, runs: Sequence[RunResult]) -> BundleResult:
    """Return what is computed from the runs of a bundle together, with the runs."""
    points = {p.id: p for p in setting.protocol.points}
    stock = [r for r in runs if points[r.point].role is PointRole.STOCK]
    grouped = ((p, [r for r in runs if r.point == p.id]) for p in setting.protocol.points)
    results = tuple(_point(setting, p, mine, stock) for p, mine in grouped if mine)
    mounts = len({r.mount for r in runs})
    return BundleResult(
        bundle=setting.id,
        points=results,
        lines=power_lines(results, setting.protocol),
        mounts=mounts,
        warnings=tuple(_warnings(setting, results, mounts)),
        notes=tuple(_notes(setting)),
        sweep=power_sweep(results, setting.protocol),
    )


def _point(setting: Setting, point: TestPoint, runs: Sequence[RunResult], stock: Sequence[RunResult]) -> PointResult:
    used = [r for r in runs if r.settlement.verdict is Verdict.SETTLED] or list(runs)
    return PointResult(
        point=point.id,
        name=point.name,
        runs=tuple(runs),
        figures=_over_mounts(setting, used),
        changes=_changes(point, used, stock),
        verdict=min((r.settlement.verdict for r in used), key=_WORST_FIRST.index),
        mount_note=_mount_note(setting, used, left_out=len(runs) - len(used)),
    )


def _over_mounts(setting: Setting, runs: Sequence[RunResult]) -> Mapping[str, Figure]:
    figures: dict[str, Figure] = {}
    for kind in FIGURES:
        mine = [r.figures[kind] for r in runs if kind in r.figures]
        if mine:
            figures[kind] = over_mounts(mine, _declared_spread(setting, kind, runs))
    return figures


def _declared_spread(setting: Setting, kind: str, runs: Sequence[RunResult]) -> float | None:
    """Return the protocol's declared mounting spread in the figure's unit; None where it declares none."""
    watts = next((r.figures["board_power"].estimate.value for r in runs if "board_power" in r.figures), None)
    return declared_spread(setting.protocol, setting.cooler.kind, kind, watts)


def _changes(point: TestPoint, runs: Sequence[RunResult], stock: Sequence[RunResult]) -> Mapping[str, Change]:
    if point.role in (PointRole.STOCK, PointRole.IDLE):
        return {}
    settled = [r for r in stock if r.settlement.verdict is Verdict.SETTLED] or list(stock)
    return changes_from_stock(runs, settled)


def _mount_note(setting: Setting, runs: Sequence[RunResult], *, left_out: int) -> str:
    rises = [r.figures["core_rise"].estimate.value for r in runs if "core_rise" in r.figures]
    spread = spread_of(rises, _declared_spread(setting, "core_rise", runs)) if rises else None
    parts = [_spread_words(len(runs), spread.sd if spread else None, spread.source if spread else "")]
    if left_out:
        parts.append(f"{count(left_out, 'run')} not settled and left out of the mean.")
    return " ".join(parts)


def _spread_words(mounts: int, sd: float | None, source: str) -> str:
    count = "One mount" if mounts == 1 else f"{mounts} mounts"
    if sd is None:
        return f"{count}: mounting spread unknown, so differences from other coolers are not judged."
    return f"{count}: mounting spread {sd:.2f} K ({source})."


def _warnings(setting: Setting, points: Sequence[PointResult], mounts: int) -> Iterator[str]:
    have = {p.point for p in points}
    missing = [p.name for p in setting.protocol.points if p.required and p.id not in have]
    if missing:
        yield f"No run yet at: {', '.join(missing)}."
    if mounts < setting.protocol.mounts:
        yield f"{mounts} of {setting.protocol.mounts} mounts that the protocol asks for."


def _notes(setting: Setting) -> Iterator[str]:
    note = "" if setting.cooler.kind.liquid else altitude_note(setting.bench.altitude_m)
    if note:
        yield note
