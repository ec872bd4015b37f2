"""Whether a temperature run is at rest, its rise at rest with uncertainty, and the means of its window.

It holds for a load that stays much the same from its start to the end of the log, on a cooler whose heat goes through
die, base and fins (or block, coolant and radiator) into air that a sensor reads, or that keeps still; at least one
reading in some ten seconds, ten minutes or more of them. It rests on a belief about what no sensor sees: a case or a
corner of the room may still warm by a kelvin or two. No verdict on so short a run could do without one.

It costs 0.05 to 0.1 s of processor time for a run of twenty minutes read to a tenth of a degree, 0.1 to 0.15 s for
whole degrees, up to 0.2 s with coolant, up to 0.3 s with a step in the window or a second sensor and 0.4 s with three.

>>> import numpy as np
>>> time = np.arange(1200.0)
>>> core = np.round(55 - 30 * np.exp(-time / 100) + 0.1 * np.sin(time), 1)
>>> room = Estimate(value=22.0, u=0.1, unit="degC")
>>> rule = SettleRule(tau_s=150, window_s=300, soak_s=300)
>>> judged = judge(Signals(time_s=time, temperature=Channel(values=core, resolution=0.1), ambient=room), rule)
>>> judged.settlement.verdict.value, round(judged.rise.estimate.value, 1)
('settled', 33.0)
"""

from builder.core.quantity import Estimate
from builder.settling.judge_run import judge
from builder.settling.signals import (
    Bound,
    Channel,
    Derived,
    Judgement,
    SettleRule,
    Signals,
    WindowMean,
)
from builder.settling.window_mean import window_mean

__all__ = [
    "Bound",
    "Channel",
    "Derived",
    "Estimate",
    "Judgement",
    "SettleRule",
    "Signals",
    "WindowMean",
    "judge",
    "window_mean",
]
