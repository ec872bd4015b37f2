"""What a bundle's test points say together: changes from stock, rise on board power, and the power sweep."""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping, Sequence
from dataclasses import replace
from typing import TypeAlias

import numpy as np

from builder.archive.protocol import PointRole, Protocol
from builder.core.quantity import Estimate, FloatArray
from builder.core.results import (
    FIGURES,
    SENSORS,
    Bound,
    Change,
    Component,
    Figure,
    PointResult,
    PowerLine,
    PowerSweep,
    Role,
    RunResult,
    Use,
    Verdict,
    counted,
    figures_for,
)
from builder.reduction.mounts import beyond_chance, own_part, run_part
from builder.reduction.pooled_spreads import Pool
from builder.uncertainty import (
    Points,
    combined,
    estimate_from_budget,
    left_of_instruments,
    widened_by_lack_of_fit,
    york_line,
)

# --- How each test point differs from stock, mount by mount, so that what is common to both cancels


# The scatter from run to run of a figure at a test point, by the point's id, the kind of figure and its value.
Repeats: TypeAlias = Callable[[str, str, float], Pool | None]


def no_repeats(point: str, kind: str, value: float) -> None:
    """Return that nothing is known of scatter from run to run."""


def changes_from_stock(
    runs: Sequence[RunResult], stock: Sequence[RunResult], repeats: Repeats = no_repeats
) -> Mapping[str, Change]:
    """Return the change of each figure from stock, averaged over the mounts that have both runs.

    What a run would scatter by if it were made again comes from `repeats`; where that says nothing, what the mounts
    show counts. A bound has no change: how far it lies from the value is not known.
    """
    by_mount = {run.mount: run for run in stock}
    pairs = [(run, by_mount[run.mount]) for run in runs if run.mount in by_mount]
    found = ((kind, _change(kind, pairs, repeats)) for kind in figures_for(Use.CHANGE))
    return {kind: change for kind, change in found if change}


def _change(kind: str, pairs: Sequence[tuple[RunResult, RunResult]], repeats: Repeats) -> Change | None:
    measured = [(r, s) for r, s in pairs if kind in r.figures and kind in s.figures]
    figures = [(r.figures[kind], s.figures[kind]) for r, s in measured]
    if not figures or any(figure.bound is not Bound.NONE for both in figures for figure in both):
        return None
    both = [(own_part(a), own_part(b)) for a, b in figures]
    more = [tuple(_more(run, kind, repeats) for run in pair) for pair in measured]
    known = not any(one is None for pair in more for one in pair)
    percents = [percent_change(a, b) for a, b in both] if FIGURES[kind].has_percent else []
    shares = [p for p in percents if p]
    ones = [(1.0, -1.0)] * len(both)
    absolute = _mean([difference(a, b) for a, b in both], seen_too=not known)
    percent = None
    if shares and len(shares) == len(both):
        factors = [_percent_factors(a, b) for a, b in both]
        percent = _with_repeats(_mean(shares, seen_too=not known), factors, more)
        percent = _with_instruments(percent, factors, figures)
    return Change(
        kind=kind,
        absolute=_with_instruments(_with_repeats(absolute, ones, more), ones, figures),
        percent=percent,
    )


def _more(run: RunResult, kind: str, repeats: Repeats) -> Pool | None:
    """Return what a run scatters by beyond its own uncertainty, which is inside the pool of single runs."""
    own = own_part(run.figures[kind])
    pool = repeats(run.point, kind, own.value)
    return Pool(variance=max(pool.variance - own.u**2, 0.0), dof=pool.dof) if pool else None


def _with_repeats(
    mean: Estimate, factors: Sequence[tuple[float, float]], more: Sequence[Sequence[Pool | None]]
) -> Estimate:
    """Return a mean over mounts with what its runs scatter by: one pool, so one number of degrees of freedom."""
    found = [(f, pool) for pair, pools in zip(factors, more, strict=True) for f, pool in zip(pair, pools, strict=True)]
    u = math.sqrt(math.fsum(f**2 * pool.variance for f, pool in found if pool)) / len(factors)
    dof = min((pool.dof for _, pool in found if pool), default=math.inf)
    return combined(mean.value, mean.unit, (mean.u, u), (mean.dof, dof))


def _percent_factors(a: Estimate, b: Estimate) -> tuple[float, float]:
    """Return by how much 100 (a / b - 1) grows with a and with b."""
    return 100 / b.value, -100 * a.value / b.value**2


def _with_instruments(
    mean: Estimate, factors: Sequence[tuple[float, float]], figures: Sequence[tuple[Figure, Figure]]
) -> Estimate:
    """Return a mean over mounts with what the instruments leave in it, which more mounts do not average away."""
    n = len(figures)
    terms = [
        (factor / n, figure.budget)
        for pair, both in zip(factors, figures, strict=True)
        for factor, figure in zip(pair, both, strict=True)
    ]
    return with_left(mean, left_of_instruments(terms))


def with_left(estimate: Estimate, left: Sequence[float]) -> Estimate:
    """Return an estimate with further independent type B contributions in its unit."""
    parts = (estimate.u, *left)
    return combined(estimate.value, estimate.unit, parts, (estimate.dof, *(math.inf for _ in left)))


def difference(a: Estimate, b: Estimate) -> Estimate:
    """Return a less b for independent estimates in one unit; that of two temperatures in °C is in K."""
    unit = "K" if a.unit == "degC" else a.unit
    return combined(a.value - b.value, unit, [a.u, b.u], [a.dof, b.dof])


def percent_change(a: Estimate, b: Estimate) -> Estimate | None:
    """Return 100 (a / b - 1) in percent for independent estimates; None unless b is well above zero.

    First order: u = 100 |a/b| sqrt((u_a/a)² + (u_b/b)²), JCGM 100:2008, eq. 12.
    """
    if b.value <= 3 * b.u or b.value <= 0:
        return None
    parts = [100 * a.u / b.value, 100 * a.value * b.u / b.value**2]
    return combined(100 * (a.value / b.value - 1), "percent", parts, [a.dof, b.dof])


def _mean(estimates: Sequence[Estimate], *, seen_too: bool) -> Estimate:
    """Return the mean over mounts; with `seen_too`, what the mounts show counts where the runs do not explain it."""
    n = len(estimates)
    if n == 1:
        return estimates[0]
    stated = math.sqrt(float(np.mean([e.u**2 for e in estimates])))
    seen = float(np.std([e.value for e in estimates], ddof=1))
    value = float(np.mean([e.value for e in estimates]))
    own_dof = n * min(e.dof for e in estimates)
    wider = seen_too and beyond_chance(seen, n - 1, stated, own_dof)
    u, dof = (seen, float(n - 1)) if wider else (stated, own_dof)
    return Estimate(value=value, u=u / math.sqrt(n), unit=estimates[0].unit, dof=dof)


# --- Load less idle: what the load alone adds, free of what both runs of a mount share


def with_load_less_idle(runs: Sequence[RunResult], roles: Mapping[str, PointRole]) -> list[RunResult]:
    """Return the runs, those under load with the rise of core and memory less that at idle in the same mount, in K.

    Of a run that had not settled, or whose idle run had not, nothing is given. `roles` are by test point.
    """
    settled_runs = [run for run in runs if run.settlement.verdict is Verdict.SETTLED]
    idle = {run.mount: run for run in settled_runs if roles[run.point] is PointRole.IDLE}
    loads = {run.id for run in settled_runs if roles[run.point] is not PointRole.IDLE and run.mount in idle}
    return [_load_less_idle(run, idle[run.mount]) if run.id in loads else run for run in runs]


def _load_less_idle(run: RunResult, idle: RunResult) -> RunResult:
    found = dict(run.figures)
    for sensor in (s for s in SENSORS if s.from_idle):
        load, rest = run.figures.get(sensor.rise), idle.figures.get(sensor.rise)
        if load and rest and load.bound is Bound.NONE and rest.bound is Bound.NONE:
            found[sensor.from_idle] = _less(sensor.from_idle, load, rest)
    return replace(run, figures=found)


def _less(kind: str, load: Figure, idle: Figure) -> Figure:
    """Return a rise less another of the same sensors: offsets cancel, gains leave their share of the difference."""
    left = left_of_instruments([(1.0, load.budget), (-1.0, idle.budget)])
    budget = (
        *(replace(c, name=f"under load: {c.name}") for c in load.budget if not c.of_instrument),
        *(replace(c.times(-1.0), name=f"at idle: {c.name}") for c in idle.budget if not c.of_instrument),
        *(
            Component(name="what the instruments leave", kind="B", u=u, unit="K", dof=math.inf, role=Role.GAIN)
            for u in left
        ),
    )
    value = load.estimate.value - idle.estimate.value
    estimate = estimate_from_budget(value, "K", budget)
    return Figure(kind=kind, estimate=estimate, samples=min(load.samples, idle.samples), budget=budget)


# --- The straight line of rise on board power

MIN_LINE_POINTS = 2
MIN_SPAN = 0.1  # of the highest power: a shorter lever says nothing about the slope
WORST_FIT = 0.05  # of the highest rise: points further off their line are no line's (common practice, no source)


def power_lines(points: Sequence[PointResult], protocol: Protocol) -> Mapping[str, PowerLine]:
    """Return the fitted line of each rise over a fair range of power.

    Only settled points that differ in power alone take part: another fan, clock or voltage is another heat path.
    """
    swept = [p for p in _settled(points) if (role := _role(p, protocol)) and role.by_power_alone]
    lines = ((sensor.rise, _line(sensor.rise, swept)) for sensor in SENSORS)
    return {kind: line for kind, line in lines if line}


def _settled(points: Sequence[PointResult]) -> list[PointResult]:
    return [p for p in points if p.verdict is Verdict.SETTLED]


def _role(point: PointResult, protocol: Protocol) -> PointRole | None:
    declared = protocol.point(point.point)
    return declared.role if declared else None


def _line(kind: str, points: Sequence[PointResult]) -> PowerLine | None:
    used = [p for p in points if kind in p.figures and "board_power" in p.figures]
    if len(used) < MIN_LINE_POINTS:
        return None
    power, u_power = _scattered(used, "board_power")
    if np.ptp(power) < MIN_SPAN * power.max():
        return None
    rise, u_rise = _scattered(used, kind)
    scattered = Points(x=power, y=rise, u_x=u_power, u_y=u_rise)
    try:
        line = widened_by_lack_of_fit(scattered, york_line(scattered, unit="K", slope_unit="K/W"))
    except ValueError:  # no line settles through these points
        return None
    bend = _bend(power, rise) if len(used) == MIN_LINE_POINTS else 0.0
    return PowerLine(
        kind=kind,
        intercept=replace(line.intercept, u=math.hypot(line.intercept.u, bend)),
        slope=line.slope,
        covariance=line.covariance,
        low_w=float(power.min()),
        high_w=float(power.max()),
        points=tuple(p.point for p in used),
        fits=line.lack_of_fit <= WORST_FIT * float(rise.max()),
        lack_of_fit=line.lack_of_fit,
        chi2_p=line.chi2_p,
        slope_instruments=math.hypot(*_left_in_slope(used, kind, line.slope.value)),
    )


def _left_in_slope(points: Sequence[PointResult], kind: str, slope: float) -> tuple[float, ...]:
    """Return what the instruments leave in a slope in K/W: that of its ends, (ΔT - slope ΔP) / span, first order."""
    ends = sorted(points, key=lambda p: p.figures["board_power"].estimate.value)
    low, high = ends[0].figures, ends[-1].figures
    span = high["board_power"].estimate.value - low["board_power"].estimate.value
    return left_of_instruments(
        [
            (1 / span, high[kind].budget),
            (-1 / span, low[kind].budget),
            (-slope / span, high["board_power"].budget),
            (slope / span, low["board_power"].budget),
        ]
    )


def _bend(power: FloatArray, rise: FloatArray) -> float:
    """Return how far, as a standard uncertainty in K, the truth may lie off a line that two points cannot test.

    Half-way between two powers a curve P^e lies |e(e - 1)|/2 (ΔP / 2P)² of the rise off its chord, at most 3/8 of the
    square for e from one half to three halves (common practice, no source).
    """
    half = float(np.ptp(power)) / (2 * float(power.mean()))
    return float(0.375 * half**2 * rise.max() / math.sqrt(3))


def _scattered(points: Sequence[PointResult], kind: str) -> np.ndarray[tuple[int, int], np.dtype[np.float64]]:
    """Return values and what scatters from point to point, shape (2, n): sensors and mounts are common to all."""
    parts = [run_part(p.figures[kind]) for p in points]
    return np.array([[p.value for p in parts], [max(p.u, 1e-6 * abs(p.value), 1e-9) for p in parts]])


# --- The power sweep: where frames cost least energy, and what the last tenth of stock's frame rate costs

MIN_SWEEP_POINTS = 2
TENTH = 0.9


def power_sweep(points: Sequence[PointResult], protocol: Protocol, repeats: Repeats = no_repeats) -> PowerSweep | None:
    """Return the sweep over stock and lowered power limits, or None with fewer than two settled points with frames.

    The power at nine tenths of stock's frame rate is read off straight lines between neighbouring points; where
    stock has no frames or no point is that slow, nothing is extrapolated. The meter's gain leaves its share of it.
    """
    swept = [p for p in _settled(points) if _role(p, protocol) in (PointRole.STOCK, PointRole.POWER_LIMIT)]
    rated = [p for p in swept if "frames_per_joule" in p.figures and p.over_limit is None]
    if len(rated) < MIN_SWEEP_POINTS:
        return None
    best = max(rated, key=lambda p: p.figures["frames_per_joule"].estimate.value)
    ordered = sorted(rated, key=lambda p: p.figures["frame_rate"].estimate.value)
    stock = next((i for i, p in enumerate(ordered) if _role(p, protocol) is PointRole.STOCK), None)
    rates = [p.figures["frame_rate"].estimate.value for p in ordered]
    return PowerSweep(
        points=tuple(p.point for p in ordered),
        best=best.point,
        best_efficiency=best.figures["frames_per_joule"].estimate,
        top=ordered[-1].point,
        last_tenth=None if stock is None else _last_tenth(ordered, stock, repeats),
        lowest_share=rates[0] / rates[-1 if stock is None else stock],
    )


def _last_tenth(points: Sequence[PointResult], stock: int, repeats: Repeats) -> Estimate | None:
    """Return the power in W between nine tenths of stock's frame rate and all of it; None where out of reach.

    `points` rise in frame rate and `stock` is an index. With s, l and h for stock and the neighbours below and above
    nine tenths, saved = P_s - P_l - a (P_h - P_l), a = (0.9 r_s - r_l) / (r_h - r_l); first order in all six.
    """
    rates = [_run_again(p, "frame_rate", repeats) for p in points]
    powers = [_run_again(p, "board_power", repeats) for p in points]
    wanted = TENTH * rates[stock].value
    high = sum(r.value <= wanted for r in rates)  # the first point with more than is wanted
    if not high:
        return None
    low = high - 1
    span = rates[high].value - rates[low].value
    share = (wanted - rates[low].value) / span
    slope = (powers[high].value - powers[low].value) / span
    by_power, by_rate = dict.fromkeys((stock, high, low), 0.0), dict.fromkeys((stock, high, low), 0.0)
    for index, power, rate in ((stock, 1.0, TENTH), (high, -share, -share), (low, share - 1.0, share - 1.0)):
        by_power[index] += power
        by_rate[index] -= slope * rate
    saved = math.fsum(factor * powers[i].value for i, factor in by_power.items())
    parts = [(f * powers[i].u, powers[i].dof) for i, f in by_power.items()]
    parts += [(f * rates[i].u, rates[i].dof) for i, f in by_rate.items()]
    own = combined(saved, "W", [u for u, _ in parts], [dof for _, dof in parts])
    return with_left(
        own, left_of_instruments([(f, points[i].figures["board_power"].budget) for i, f in by_power.items()])
    )


def _run_again(point: PointResult, kind: str, repeats: Repeats) -> Estimate:
    """Return a figure without instruments, with what its runs scatter by; the mounts are those of all its neighbours.

    Where nothing is known of that scatter, what mounts show stands for it.
    """
    figure = point.figures[kind]
    own, runs = run_part(figure), max(len(counted(point.runs)), 1)
    pool = repeats(point.point, kind, own.value)
    if pool is None:
        return own_part(figure)
    more = math.sqrt(max(pool.variance / runs - own.u**2, 0.0))
    return combined(own.value, own.unit, (own.u, more), (own.dof, pool.dof))
