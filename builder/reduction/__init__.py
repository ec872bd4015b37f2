"""Runs of a bundle into figures: pure functions over tables and what a bundle names."""

from builder.reduction.bundle import combine_runs, reduce_bundle, reduce_input
from builder.reduction.inputs import HandInput, RunInput
from builder.reduction.run import reduce_run

__all__ = ["HandInput", "RunInput", "combine_runs", "reduce_bundle", "reduce_input", "reduce_run"]
