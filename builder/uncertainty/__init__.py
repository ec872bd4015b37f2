"""Standard uncertainties: combining them, series, straight lines, groups. Arrays in, estimates out."""

from builder.uncertainty.combine import combined_u, effective_dof, estimate_from_budget, holm, rectangular, table_dof
from builder.uncertainty.groups import OneWay, one_way
from builder.uncertainty.lines import Line, Points, straight_line, york_line
from builder.uncertainty.series import (
    SeriesMean,
    ar1_inflation,
    dithering_factor,
    lag1_correlation,
    percentile,
    quantisation_u,
    series_mean,
)

__all__ = [
    "Line",
    "OneWay",
    "Points",
    "SeriesMean",
    "ar1_inflation",
    "combined_u",
    "dithering_factor",
    "effective_dof",
    "estimate_from_budget",
    "holm",
    "lag1_correlation",
    "one_way",
    "percentile",
    "quantisation_u",
    "rectangular",
    "series_mean",
    "straight_line",
    "table_dof",
    "york_line",
]
