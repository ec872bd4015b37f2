"""One stage of the heat path in its window: its rise, the remaining approach, and their uncertainty."""

from __future__ import annotations

import math
from dataclasses import dataclass

from builder.figures import Component
from builder.quantity import Estimate, FloatArray, coverage_factor
from builder.settle.regress import Trend
from builder.settle.rule import REMAINING, RESOLUTION, SCATTER
from builder.uncertainty import dithering_factor, quantisation_u

QUANTISED_DRIFT_K = 1.9  # half-width of a resolution drift in its standard uncertainties


@dataclass(frozen=True, kw_only=True)
class Step:
    """Resolution of a reading and the spread of its samples about their trend, both in K."""

    resolution: float
    sd: float

    @property
    def undithered(self) -> float:
        """Return the share of the resolution that noise does not average away."""
        noise2 = max(self.sd**2 - self.resolution**2 / 12, 0.0)
        return dithering_factor(math.sqrt(noise2), self.resolution)


@dataclass(frozen=True, kw_only=True)
class Stage:
    """Rise over a stage of the heat path (its budget without instruments), and the remaining approach in K.

    `drift` is how far the stage moves across the window, in K.
    """

    rise: float
    budget: tuple[Component, ...]
    remaining: Estimate
    half_width: float
    tau_s: float
    drift: float = 0.0


def make_stage(trend: Trend, *, tau_s: float, window_s: float, steps: tuple[Step, ...]) -> Stage:
    """Return a stage from its trend: the remaining approach is τ times the slope, exactly so on an exponential.

    Quantised readings that noise does not dither may hide a drift of κq/√6 over the window.
    """
    hidden = math.hypot(*(hidden_drift(s) for s in steps)) / window_s
    remaining = tau_s * trend.slope
    u_remaining = tau_s * math.hypot(trend.u_slope, hidden)
    wide = coverage_factor(trend.dof) * trend.u_slope
    resolution = math.hypot(*(quantisation_u(s.sd, s.resolution, trend.effective) for s in steps))
    budget = (
        Component(name=SCATTER, kind="A", u=trend.u_mean, unit="K", dof=trend.dof),
        Component(name=RESOLUTION, kind="B", u=resolution, unit="K", dof=math.inf),
        Component(name=REMAINING, kind="B", u=(abs(remaining) + u_remaining) / math.sqrt(3), unit="K", dof=math.inf),
    )
    return Stage(
        rise=trend.mean,
        budget=budget,
        remaining=Estimate(value=remaining, u=u_remaining, unit="K", dof=trend.dof),
        half_width=tau_s * math.hypot(wide, QUANTISED_DRIFT_K * hidden),
        tau_s=tau_s,
        drift=trend.slope * window_s,
    )


def hidden_drift(step: Step) -> float:
    """Return the standard uncertainty, in K, of a change over a window that rounded readings may hide."""
    return step.undithered * step.resolution / math.sqrt(6)


def detrended_sd(time_s: FloatArray, values: FloatArray) -> float:
    """Return the standard deviation of samples about a straight line through them, in their unit."""
    import numpy as np

    valid = np.isfinite(values)
    if valid.sum() < 3:  # noqa: PLR2004 - a line goes through two
        return 0.0
    about, y = time_s[valid] - time_s[valid].mean(), values[valid] - values[valid].mean()
    spread = float(about @ about)
    slope = float(about @ y) / spread if spread > 0 else 0.0
    return float(np.sqrt(np.sum((y - slope * about) ** 2) / (y.size - 2)))
