"""Figures -> chart specifications, with the same numbers as tables and the finding in words."""

from builder.charts.chart import Chart, ChartTable
from builder.charts.frame import Frame, still_frame
from builder.charts.history import BenchHistory, RetestPoint, history_chart
from builder.charts.of_result import (
    NamedCooler,
    bench_history,
    cooler_figures,
    fitted_lines,
    point_changes,
    point_rises,
    power_sweep,
    run_traces,
)
from builder.charts.row_charts import (
    BudgetFigure,
    CoolerFigure,
    CoolerFigures,
    PointChange,
    PointChanges,
    PointRise,
    PointRises,
    budget_chart,
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
from builder.charts.style import DARK, LIGHT, PAGE, Palette, Slot, css_variables

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
