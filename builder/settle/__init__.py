"""Whether a run is settled, and the means of its window."""

from builder.settle.judging import judge
from builder.settle.means import window_mean
from builder.settle.rule import (
    SHARED,
    Channel,
    Derived,
    Judgement,
    SettleRule,
    Signals,
    WindowMean,
)

__all__ = ["SHARED", "Channel", "Derived", "Judgement", "SettleRule", "Signals", "WindowMean", "judge", "window_mean"]
