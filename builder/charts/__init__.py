"""Figures -> chart specifications, with the same numbers as tables and the finding in words."""

from builder.charts.adapters import (
    NamedCooler,
    bench_history,
    cooler_figures,
    fitted_lines,
    point_changes,
    point_rises,
    power_sweep,
    run_traces,
)
from builder.charts.base import Chart, ChartTable
from builder.charts.budget import BudgetFigure, budget_chart
from builder.charts.changes import PointChange, PointChanges, changes_chart
from builder.charts.coolers import CoolerFigure, CoolerFigures, coolers_chart
from builder.charts.efficiency import Sweep, SweepPoint, efficiency_chart
from builder.charts.frame import Frame, still_frame
from builder.charts.history import BenchHistory, RetestPoint, history_chart
from builder.charts.palette import DARK, LIGHT, PAGE, Palette, Slot, css_variables
from builder.charts.points import PointRise, PointRises, points_chart
from builder.charts.power import FittedLine, PowerLines, PowerPoint, power_chart
from builder.charts.run import RunTrace, RunTraces, run_chart

__all__ = [
    "DARK",
    "LIGHT",
    "PAGE",
    "BenchHistory",
    "BudgetFigure",
    "Chart",
    "ChartTable",
    "CoolerFigure",
    "CoolerFigures",
    "FittedLine",
    "Frame",
    "NamedCooler",
    "Palette",
    "PointChange",
    "PointChanges",
    "PointRise",
    "PointRises",
    "PowerLines",
    "PowerPoint",
    "RetestPoint",
    "RunTrace",
    "RunTraces",
    "Slot",
    "Sweep",
    "SweepPoint",
    "bench_history",
    "budget_chart",
    "changes_chart",
    "cooler_figures",
    "coolers_chart",
    "css_variables",
    "efficiency_chart",
    "fitted_lines",
    "history_chart",
    "point_changes",
    "point_rises",
    "points_chart",
    "power_chart",
    "power_sweep",
    "run_chart",
    "run_traces",
    "still_frame",
]
