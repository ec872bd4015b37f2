"""Runs of a bundle into figures: pure functions over tables and settings."""

from builder.reduce.bundle import combine_runs, reduce_bundle
from builder.reduce.inputs import RunInput, Setting, setting_of
from builder.reduce.run import reduce_run

__all__ = ["RunInput", "Setting", "combine_runs", "reduce_bundle", "reduce_run", "setting_of"]
