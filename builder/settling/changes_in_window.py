"""What happened inside a window: gaps, steps of power and fan, and bends of the temperature."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from builder.core.quantity import FloatArray, format_number
from builder.settling.signals import Channel
from builder.settling.stages import Work
from builder.uncertainty import lag1_correlation

GAP_S = 10.0
SURE = 6.0  # standard errors, of the best of some fifty places
SURE_BEND = 4.5
BEND_SHARE = 0.8  # of the limit
EDGE_CELLS = 4
FAN_SHARE = 0.03
POWER_SHARE = 0.03


@dataclass(frozen=True, kw_only=True)
class Findings:
    """Remarks on a window, and the change in it that forbids calling it settled (empty where there is none)."""

    notes: tuple[str, ...]
    change: str = ""


@dataclass(frozen=True, kw_only=True)
class Break:
    """The best place for a change in a series: its time, size in the series' unit, and size in standard errors."""

    time_s: float
    size: float
    score: float
    before: float
    after: float


def find(work: Work, residuals: FloatArray | None) -> Findings:
    """Return what happened inside a run's window, in words; `residuals` are by cell, from a description."""
    signals = work.run.signals
    fan = _step_words(work, signals.fan, "fan", "r/min", FAN_SHARE)
    power = _step_words(work, signals.power, "board power", "W", POWER_SHARE)
    bend = _bend_words(work, residuals)
    return Findings(notes=tuple(n for n in (_gap_words(work), fan, power, bend) if n), change=fan or bend)


def level_step(time_s: FloatArray, values: FloatArray) -> Break | None:
    """Return the best place to split a series, shape (n,), into two levels; None where it is short or does not vary."""
    valid = np.isfinite(values)
    t, y = time_s[valid], values[valid]
    if y.size < 4 * EDGE_CELLS:
        return None
    steps = (np.arange(y.size)[:, None] >= np.arange(EDGE_CELLS, y.size - EDGE_CELLS)).astype(float)
    return _best(t, y, np.ones((y.size, 1)), steps)


def bend(time_s: FloatArray, values: FloatArray, also: list[FloatArray]) -> Break | None:
    """Return the best place for a bend in a series, its size the change that the bend brings by the end."""
    valid = np.isfinite(values)
    t, y = time_s[valid], values[valid]
    if y.size < 4 * EDGE_CELLS + len(also):
        return None
    kinks = t[EDGE_CELLS : y.size - EDGE_CELLS]
    hinges = np.maximum(t[:, None] - kinks, 0.0) / np.maximum(t[-1] - kinks, 1e-9)
    base = np.column_stack([np.ones(y.size), t - t.mean(), *(a[valid] for a in also)])
    return _best(t, y, base, hinges)


def _best(time_s: FloatArray, values: FloatArray, base: FloatArray, candidates: FloatArray) -> Break | None:
    """Return the candidate column that explains most beyond the base columns."""
    q = np.linalg.qr(base)[0]
    rest = values - q @ (q.T @ values)
    own = candidates - q @ (q.T @ candidates)
    power = (own**2).sum(axis=0)
    usable = power > 1e-9 * values.size  # not inside the base's span
    sizes = np.where(usable, own.T @ rest / np.where(usable, power, 1.0), 0.0)
    gains = sizes**2 * power
    best = int(np.argmax(gains))
    residuals = rest - sizes[best] * own[:, best]
    lag1 = lag1_correlation(residuals, base.shape[1] + 1)
    spread = float(residuals @ residuals) / max(values.size - base.shape[1] - 2, 1)
    error = math.sqrt(max(spread, 1e-12) * (1 + lag1) / (1 - lag1) / max(float(power[best]), 1e-12))
    place = EDGE_CELLS + best
    return Break(
        time_s=float(time_s[place]),
        size=float(sizes[best]),
        score=abs(float(sizes[best])) / error,
        before=float(values[:place].mean()),
        after=float(values[place:].mean()),
    )


def _gap_words(work: Work) -> str:
    time = work.run.signals.time_s[np.isfinite(work.run.signals.temperature.values)]
    inside = time[time >= work.window.start_s]
    edges = np.concatenate([[work.window.start_s], inside, [work.window.end_s]])
    gaps = np.diff(edges)
    longest = int(np.argmax(gaps))
    if gaps[longest] <= max(GAP_S, 3 * work.run.step_s):
        return ""
    length, start = format_number(float(gaps[longest]), 0), format_number(float(edges[longest]), 0)
    return f"no temperature readings for {length} s from {start} s on"


def _step_words(work: Work, channel: Channel | None, name: str, unit: str, share: float) -> str:
    if channel is None or not work.usable(channel) or (unit == "W" and work.rule.loop_s is not None):
        return ""
    found = level_step(work.grid.cell_time[work.in_window], work.cells(channel)[work.in_window])
    if found is None or found.score < SURE or abs(found.size) < share * abs(found.before):
        return ""
    before, after, time = (format_number(v, 0) for v in (found.before, found.after, found.time_s))
    return f"{name} steps from {before} to {after} {unit} at {time} s"


def _bend_words(work: Work, residuals: FloatArray | None) -> str:
    if residuals is None:
        return ""
    time, values = work.grid.cell_time[work.in_window], residuals[work.in_window]
    found = bend(time, values, [])
    if found is None or found.score < SURE_BEND or abs(found.size) < BEND_SHARE * work.rule.limit_k:
        return ""
    size = format_number(found.size, 1, sign=True)
    return f"the temperature bends at {format_number(found.time_s, 0)} s, by {size} K until the end"
