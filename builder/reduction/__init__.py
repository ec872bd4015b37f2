"""Runs of a bundle into figures: pure functions over tables and what a bundle names."""

from builder.reduction.bundle import combine_runs, reduce_bundle
from builder.reduction.inputs import RunInput
from builder.reduction.run import reduce_run

__all__ = ["RunInput", "combine_runs", "reduce_bundle", "reduce_run"]
