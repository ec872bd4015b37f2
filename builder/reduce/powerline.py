"""The straight line of rise on board power over a bundle's test points."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

import numpy as np

from builder.figures import Figure, PointResult, PowerLine, Verdict
from builder.model import PointRole, Protocol
from builder.reduce.mounts import MOUNT_COMPONENT, is_common
from builder.uncertainty import Line, Points, estimate_from_budget, york_line

LINE_KINDS = ("core_rise", "hotspot_rise", "memory_rise")
MIN_POINTS = 3
MIN_SPAN = 0.1  # of the highest power: a shorter lever says nothing about the slope
REJECT_P = 0.01
_LEFT_OUT = {PointRole.IDLE, PointRole.CLOSING}


def power_lines(points: Sequence[PointResult], protocol: Protocol) -> Mapping[str, PowerLine]:
    """Return the fitted line of each rise that has at least three settled load points over a fair range of power."""
    settled = [p for p in points if p.verdict is Verdict.SETTLED and _role(p, protocol) not in _LEFT_OUT]
    lines = ((kind, _line(kind, settled)) for kind in LINE_KINDS)
    return {kind: line for kind, line in lines if line}


def _role(point: PointResult, protocol: Protocol) -> PointRole | None:
    declared = protocol.point(point.point)
    return declared.role if declared else None


def _line(kind: str, points: Sequence[PointResult]) -> PowerLine | None:
    used = [p for p in points if kind in p.figures and "board_power" in p.figures]
    if len(used) < MIN_POINTS:
        return None
    power = np.array([p.figures["board_power"].estimate.value for p in used])
    if np.ptp(power) < MIN_SPAN * power.max():
        return None
    rise = np.array([p.figures[kind].estimate.value for p in used])
    u_power = np.array([_point_u(p.figures["board_power"]) for p in used])
    u_rise = np.array([_point_u(p.figures[kind]) for p in used])
    line = _fit(Points(x=power, y=rise, u_x=u_power, u_y=u_rise))
    if line is None:
        return None
    return PowerLine(
        kind=kind,
        intercept=line.intercept,
        slope=line.slope,
        covariance=line.covariance,
        low_w=float(power.min()),
        high_w=float(power.max()),
        points=tuple(p.point for p in used),
        fits=line.chi2_p is None or line.chi2_p >= REJECT_P,
        chi2_p=line.chi2_p,
    )


def _fit(points: Points) -> Line | None:
    try:
        return york_line(points, unit="K", slope_unit="K/W")
    except ValueError:  # no line settles through these points
        return None


def _point_u(figure: Figure) -> float:
    """Return what scatters from point to point: neither the sensor nor the mount, which all points share."""
    own = [c for c in figure.budget if not is_common(c) and MOUNT_COMPONENT not in c.name]
    u = estimate_from_budget(figure.estimate.value, figure.estimate.unit, own).u
    return max(u, 1e-6 * abs(figure.estimate.value), 1e-9)
