"""Whether a run is settled, and the means of its window."""

from builder.settling.signals import Channel, Derived, Judgement, SettleRule, Signals, WindowMean
from builder.settling.verdict import judge
from builder.settling.window_mean import window_mean

__all__ = ["Channel", "Derived", "Judgement", "SettleRule", "Signals", "WindowMean", "judge", "window_mean"]
