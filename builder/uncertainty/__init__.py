"""Standard uncertainties: combining them, means of series, straight lines. Numbers and arrays in, estimates out."""

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
from builder.uncertainty.straight_lines import Line, Points, line_value, widened_by_lack_of_fit, york_line

__all__ = [
    "Instrument",
    "Line",
    "Points",
    "SeriesMean",
    "ar1_inflation",
    "combined",
    "difference_told",
    "dithering_factor",
    "effective_dof",
    "estimate_from_budget",
    "holm",
    "instrument_lines",
    "lag1_correlation",
    "left_of_instruments",
    "line_value",
    "power_to_tell",
    "quantisation_u",
    "rectangular",
    "series_mean",
    "widened_by_lack_of_fit",
    "york_line",
]
