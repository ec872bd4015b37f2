"""Runs of a bundle into figures: pure functions over tables and what a bundle names."""

from builder.reduction.bundle import combine_runs, reduce_bundle
from builder.reduction.inputs import RunInput
from builder.reduction.pooled_spreads import ArchiveSpreads, BundleRuns, archive_spreads
from builder.reduction.run import reduce_run

__all__ = [
    "ArchiveSpreads",
    "BundleRuns",
    "RunInput",
    "archive_spreads",
    "combine_runs",
    "reduce_bundle",
    "reduce_run",
]
