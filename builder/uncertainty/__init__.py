"""Standard uncertainties: combining them, means of series, lines and curves. Numbers and arrays in, estimates out."""

from builder.uncertainty.combine import (
    Instrument,
    combined,
    effective_dof,
    estimate_from_budget,
    holm,
    instrument_lines,
    left_of_instruments,
    rectangular,
)
from builder.uncertainty.logged_series import (
    SeriesMean,
    ar1_inflation,
    dithering_factor,
    lag1_correlation,
    quantisation_u,
    series_mean,
)
from builder.uncertainty.sample_size import difference_told, power_to_tell
from builder.uncertainty.second_order import earns_its_place, line_or_curve, second_order
from builder.uncertainty.straight_lines import Line, Points, line_value, value_at, widened_by_lack_of_fit, york_line

__all__ = [
    "Instrument",
    "Line",
    "Points",
    "SeriesMean",
    "ar1_inflation",
    "combined",
    "difference_told",
    "dithering_factor",
    "earns_its_place",
    "effective_dof",
    "estimate_from_budget",
    "holm",
    "instrument_lines",
    "lag1_correlation",
    "left_of_instruments",
    "line_or_curve",
    "line_value",
    "power_to_tell",
    "quantisation_u",
    "rectangular",
    "second_order",
    "series_mean",
    "value_at",
    "widened_by_lack_of_fit",
    "york_line",
]
