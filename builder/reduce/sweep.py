"""The power sweep of a bundle: where frames cost least energy, and what the last tenth of the frame rate costs."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

from builder.figures import PointResult, PowerSweep, Verdict
from builder.model import PointRole, Protocol
from builder.quantity import Estimate
from builder.reduce.mounts import own_part
from builder.uncertainty import effective_dof

_ROLES = {PointRole.STOCK, PointRole.POWER_LIMIT}
MIN_POINTS = 2
TENTH = 0.9


@dataclass(frozen=True, kw_only=True)
class _Step:
    point: str
    rate: Estimate
    power: Estimate


def power_sweep(points: Sequence[PointResult], protocol: Protocol) -> PowerSweep | None:
    """Return the sweep over stock and lowered power limits, or None with fewer than two settled points with frames.

    The power at nine tenths of the highest frame rate is read off straight lines between neighbouring points; where
    no point is that low, it is not extrapolated. What is common to all points (meter gain) is left out.
    """
    efficient = [p for p in points if _used(p, protocol) and "frames_per_joule" in p.figures]
    if len(efficient) < MIN_POINTS:
        return None
    best = max(efficient, key=lambda p: p.figures["frames_per_joule"].estimate.value)
    steps = sorted((_step(p) for p in efficient), key=lambda s: s.rate.value)
    return PowerSweep(
        points=tuple(s.point for s in steps),
        best=best.point,
        best_efficiency=best.figures["frames_per_joule"].estimate,
        top=steps[-1].point,
        last_tenth=_last_tenth(steps),
        lowest_share=steps[0].rate.value / steps[-1].rate.value,
    )


def _used(point: PointResult, protocol: Protocol) -> bool:
    declared = protocol.point(point.point)
    return point.verdict is Verdict.SETTLED and declared is not None and declared.role in _ROLES


def _step(point: PointResult) -> _Step:
    return _Step(
        point=point.point,
        rate=own_part(point.figures["frame_rate"]),
        power=own_part(point.figures["board_power"]),
    )


def _last_tenth(steps: Sequence[_Step]) -> Estimate | None:
    """Return the power in W between nine tenths of the highest frame rate and all of it; None where out of reach."""
    top = steps[-1]
    wanted = TENTH * top.rate.value
    below = [s for s in steps if s.rate.value <= wanted]
    if not below:
        return None
    low, high = below[-1], steps[len(below)]
    span = high.rate.value - low.rate.value
    share = (wanted - low.rate.value) / span
    slope = (high.power.value - low.power.value) / span
    power = low.power.value + share * (high.power.value - low.power.value)
    same = high is top  # the top's own power then enters twice, and partly cancels
    parts = (
        top.power.u * (1.0 - share if same else 1.0),
        0.0 if same else high.power.u * share,
        low.power.u * (1.0 - share),
        slope * math.hypot(TENTH * top.rate.u, share * high.rate.u, (1.0 - share) * low.rate.u),
    )
    dofs = (top.power.dof, high.power.dof, low.power.dof, min(s.rate.dof for s in (top, high, low)))
    u = math.hypot(*parts)
    return Estimate(value=top.power.value - power, u=u, unit="W", dof=effective_dof(parts, dofs))
