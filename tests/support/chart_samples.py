"""Invented figures for the chart tests: a liquid run, its test points, seven coolers, a bench over two years."""

from __future__ import annotations

import datetime as dt
import math

import numpy as np

from builder.archive.catalogue import CoolerKind
from builder.charts.bench_history import BenchHistory, RetestPoint, history_chart
from builder.charts.chart import Chart
from builder.charts.own_cooler_chart import AgainstRow, AgainstRows, own_cooler_chart
from builder.charts.row_charts import (
    COMPARED,
    CoolerFigure,
    CoolerFigures,
    PointChange,
    PointChanges,
    PointRise,
    PointRises,
    changes_chart,
    coolers_chart,
    points_chart,
)
from builder.charts.run import RunTrace, RunTraces, run_chart
from builder.charts.scatter_charts import (
    FittedLine,
    PowerLines,
    PowerPoint,
    Sweep,
    SweepPoint,
    efficiency_chart,
    power_chart,
)
from builder.charts.style import Slot
from builder.comparison import RoomModel
from builder.core.quantity import Estimate, FloatArray, coverage_factor
from builder.core.results import Change, Verdict, Window

NASTY = (
    "<script>alert(1)</script>",
    "quotes \" and ' and & amp; ]]>",
    "مبرّد لابوينغ الحلقي",
    "emoji 👩🏽\u200d🔧 🧊 \U0001fae8",
    "controls \x00\x01\x1f\x7f\x9b end",
    "surrogate \ud800 and \udfff",
    "noncharacters \ufffe \uffff \ufdd0 \U0001ffff",
    "override \u202e desrever \u2066 isolate",
    "new\nline\ttab\u2028separator",
    "{{ 7 * 7 }} {% raw %} ${x} @x_format",
    "a very long name " * 12,
    "",
)


def estimate(value: float, u: float, unit: str, dof: float = math.inf) -> Estimate:
    return Estimate(value=value, u=u, unit=unit, dof=dof)


def run_of(seconds: int = 1800) -> RunTraces:
    """A liquid run at 1 Hz with a gap in the core temperature from 700 s to 740 s."""
    noise = np.random.default_rng(seed=1)
    t = np.arange(float(seconds))
    power = 285 + 6 * np.sin(2 * np.pi * t / 90) + 4 * noise.standard_normal(t.size)
    ambient = 22.4 + 0.05 * noise.standard_normal(t.size)
    coolant = ambient + 9 * (1 - np.exp(-t / 500))
    core = coolant + 24 * (1 - np.exp(-t / 20)) + 0.3 * noise.standard_normal(t.size)
    core[700:740] = np.nan
    hotspot = coolant + 35 * (1 - np.exp(-t / 20)) + 0.5 * noise.standard_normal(t.size)

    def trace(name: str, slot: Slot, values: FloatArray, unit: str = "degC") -> RunTrace:
        mean = estimate(float(np.nanmean(values[-600:])), 0.2, unit)
        return RunTrace(name=name, slot=slot, unit=unit, time_s=t, values=values, mean=mean)

    return RunTraces(
        id="run-stock",
        title="Fenwick Slab on Orrery 780, stock",
        temperatures=(
            trace("Core", Slot.CORE, core),
            trace("Hotspot", Slot.HOTSPOT, hotspot),
            trace("Ambient", Slot.AMBIENT, ambient),
            trace("Coolant", Slot.COOLANT, coolant),
        ),
        power=trace("Board power", Slot.POWER, power, "W"),
        window=Window(start_s=seconds - 600.0, end_s=float(seconds)),
        verdict=Verdict.SETTLED,
    )


def rises() -> PointRises:
    points = (("Idle", 4.2), ("Stock", 33.1), ("Power limit 70 %", 23.6), ("Overclock, raised power limit", 39.8))
    return PointRises(
        id="rise",
        title="Rise over ambient at each test point",
        points=tuple(
            PointRise(
                name=name,
                rises={
                    Slot.CORE: estimate(core, 0.25, "K"),
                    Slot.HOTSPOT: estimate(1.28 * core + 1, 0.5, "K", dof=9),
                    **({} if name == "Idle" else {Slot.MEMORY: estimate(0.9 * core + 6, 0.3, "K")}),
                },
            )
            for name, core in points
        ),
    )


def change(kind: str, absolute: Estimate, percent: float) -> Change:
    return Change(kind=kind, absolute=absolute, percent=estimate(percent, 0.6, "percent"))


def changes() -> PointChanges:
    return PointChanges(
        id="change",
        title="Change from stock",
        points=(
            PointChange(
                name="Power limit 70 %",
                changes={
                    COMPARED["board_power"]: change("board_power", estimate(-85, 1, "W"), -30),
                    COMPARED["core_rise"]: change("core_rise", estimate(-9.5, 0.3, "K"), -28.7),
                    COMPARED["frame_rate"]: change("frame_rate", estimate(-9.1, 0.2, "1/s"), -9.6),
                },
            ),
            PointChange(
                name="Overclock, raised power limit",
                changes={
                    COMPARED["board_power"]: change("board_power", estimate(42, 1, "W"), 14.7),
                    COMPARED["core_rise"]: Change(kind="core_rise", absolute=estimate(6.7, 0.3, "K"), percent=None),
                    COMPARED["frame_rate"]: change("frame_rate", estimate(5.5, 0.2, "1/s"), 5.9),
                },
            ),
        ),
    )


def coolers(*names: str) -> CoolerFigures:
    """Seven coolers of four kinds, or coolers of the given names."""
    kinds = (CoolerKind.STOCK, CoolerKind.WATER_BLOCK, CoolerKind.AIR, CoolerKind.HYBRID)
    shown = names or ("Stock cooler", "Fenwick Slab", "Gritstone Twin", "Lapwing Loop", "Moorhen Riffle")
    return CoolerFigures(
        id="coolers",
        title="Coolers on Orrery 780 at stock",
        figure="core_rise",
        coolers=tuple(
            CoolerFigure(
                name=name,
                kind=kinds[index % 4],
                estimate=estimate(46.3 - 4 * index, 0.4 + 0.1 * index, "K"),
                tie="" if names else "dcbaa"[index],
                here=index == 1,
            )
            for index, name in enumerate(shown)
        ),
    )


def fitted_line(name: str = "Core", slot: Slot = Slot.CORE, offset: float = 0.8) -> FittedLine:
    powers = (("Power limit 60 %", 171.0), ("Power limit 80 %", 228.0), ("Stock", 284.0), ("Overclock", 326.0))
    return FittedLine(
        name=name,
        slot=slot,
        points=tuple(
            PowerPoint(name=n, power=estimate(p, 1.2, "W"), rise=estimate(offset + 0.113 * p, 0.3, "K"))
            for n, p in powers
        ),
        low_w=171.0,
        high_w=326.0,
        slopes=(estimate(0.113, 0.0025, "K/W", dof=4),),
        model=room_model(offset),
    )


def room_model(offset: float = 0.8) -> RoomModel:
    """Return the model of a line by hand: 0.113 K/W with u 0.0025, correlated by -0.98 with u 0.62 K of the offset."""
    return RoomModel(
        kind="core_temperature",
        intercept=offset,
        slope=0.113,
        v0=0.62**2,
        v1=-2 * 0.62 * 0.0025 * 0.98,
        v2=0.0025**2,
        k=coverage_factor(4),
        low_w=171.0,
        high_w=326.0,
        mounts_known=True,
    )


def power_lines() -> PowerLines:
    lines = (fitted_line(), fitted_line("Hotspot", Slot.HOTSPOT, 12.0))
    return PowerLines(id="power", title="Rise against board power", lines=lines)


def sweep() -> Sweep:
    points = (("Stock", 284.0, 95.2, True), ("Power limit 70 %", 200.0, 86.0, True), ("Undervolt", 233.0, 95.6, False))
    return Sweep(
        id="efficiency",
        title="Frames per joule against frame rate",
        points=tuple(
            SweepPoint(
                name=name,
                power=estimate(power, 1, "W"),
                frame_rate=estimate(rate, 0.4, "1/s"),
                per_joule=estimate(rate / power, 0.004, "1/J"),
                joined=joined,
            )
            for name, power, rate, joined in points
        ),
    )


def against() -> AgainstRows:
    """Four coolers against the card's own, of which two are too close to call."""
    rows = (
        ("Fenwick Slab", CoolerKind.WATER_BLOCK, -12.3, ("a",)),
        ("Moorhen Riffle", CoolerKind.WATER_BLOCK, -11.5, ("a",)),
        ("Orrery 780 stock cooler", CoolerKind.STOCK, None, ("b",)),
        ("Gritstone Fold", CoolerKind.AIR, 9.7, ("c",)),
    )
    return AgainstRows(
        id="against",
        title="Against everything tested on this card",
        rows=tuple(
            AgainstRow(
                name=name,
                kind=kind,
                difference=None if less is None else estimate(less, 0.5, "K"),
                tests=6 if less is None else 1,
                ties=ties,
                is_own=less is None,
                here=name == "Fenwick Slab",
            )
            for name, kind, less, ties in rows
        ),
    )


def history() -> BenchHistory:
    tests = ((2024, 5, 3, 46.3), (2024, 11, 12, 46.1), (2025, 7, 1, 48.9), (2026, 6, 2, 46.4))
    return BenchHistory(
        id="bench",
        title="Reference cooler on the open frame",
        figure="core_rise",
        retests=tuple(
            RetestPoint(tested=dt.date(y, m, d), estimate=estimate(v, 0.35, "K"), outside=v > 48, bench="Open frame")
            for y, m, d, v in tests
        ),
        mean=46.7,
        lower=45.2,
        upper=48.2,
        provisional=False,
    )


def every_chart() -> tuple[Chart, ...]:
    return (
        run_chart(run_of()),
        points_chart(rises()),
        changes_chart(changes()),
        coolers_chart(coolers()),
        own_cooler_chart(against()),
        power_chart(power_lines()),
        efficiency_chart(sweep()),
        history_chart(history()),
    )
