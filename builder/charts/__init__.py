"""Charts: figures as pictures, with the same numbers as tables and the finding in words."""

from builder.charts.chart import Chart
from builder.charts.style import DARK, LIGHT, Palette

__all__ = ["DARK", "LIGHT", "Chart", "Palette"]
