"""When each run of a session ends: soak, window and a fixed allowance between runs."""

from __future__ import annotations

import datetime as dt
import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from builder.model import Card, PointRole, Protocol, TestPoint
from builder.quantity import format_number
from builder.reduce import Setting
from builder.reduce.run import settle_rule

CHANGEOVER_S = 180.0  # setting the next point and saving the log; an assumption that the sheet states
_MINUTE_S = 60.0
_DAY_MIN = 1440


@dataclass(frozen=True, kw_only=True)
class Slot:
    """One run of the session: its test point, and its soak, window and beginning in s, the last from the start."""

    point: TestPoint
    soak_s: float
    window_s: float
    start_s: float
    unfit: str = ""  # why this card cannot run it

    @property
    def window_start_s(self) -> float:
        """Return when the window may begin."""
        return self.start_s + self.soak_s

    @property
    def end_s(self) -> float:
        """Return when the run can be long enough."""
        return self.window_start_s + self.window_s


def slots(setting: Setting, points: Iterable[TestPoint]) -> tuple[Slot, ...]:
    """Return runs at test points one after the other; a point that the card cannot run takes no time."""
    found: list[Slot] = []
    clock = 0.0
    for point in points:
        unfit = power_limit_trouble(setting.card, point)
        slot = _slot(setting, point, clock, unfit)
        clock = clock if unfit else slot.end_s + CHANGEOVER_S
        found.append(slot)
    return tuple(found)


def _slot(setting: Setting, point: TestPoint, start_s: float, unfit: str) -> Slot:
    limits = setting.protocol.liquid if setting.cooler.kind.liquid else setting.protocol.air
    rule = settle_rule(limits, point, coolant_tau_s=setting.protocol.liquid.tau_s)
    return Slot(point=point, soak_s=rule.soak_s, window_s=rule.window_length(), start_s=start_s, unfit=unfit)


def power_limit_trouble(card: Card, point: TestPoint) -> str:
    """Return why a card cannot run a test point, or an empty text."""
    limits, asked = card.power_limit_pct, point.power_limit_pct
    if limits is None or asked is None or limits.min <= asked <= limits.max:
        return ""
    return f"Leave out: the card takes power limits of {limits.min:g} to {limits.max:g} %."


def points_of(protocol: Protocol, mount: int) -> Sequence[TestPoint]:
    """Return the test points of a mount: all in the first; in a remount those that are required, under load."""
    if mount == 1:
        return protocol.points
    loaded = [p for p in protocol.points if p.required and p.role is not PointRole.IDLE]
    return loaded or protocol.points


def moment(start: dt.time | None, seconds: float) -> str:
    """Return a moment of the session, in whole minutes and never early: `10:51`, or `+0:21` with no start.

    >>> moment(dt.time(10, 30), 1205.0), moment(dt.time(23, 50), 1200.0), moment(None, 1260.0)
    ('10:51', '00:10 (day 2)', '+0:21')
    """
    minutes = math.ceil(seconds / _MINUTE_S - 1e-9)
    if start is None:
        return f"+{minutes // 60}:{minutes % 60:02d}"
    day, rest = divmod(start.hour * 60 + start.minute + minutes, _DAY_MIN)
    clock = f"{rest // 60:02d}:{rest % 60:02d}"
    return f"{clock} (day {day + 1})" if day else clock


def minutes_of(seconds: float) -> str:
    """Return a length of time in minutes, to a decimal where it is none.

    >>> minutes_of(600.0), minutes_of(630.0)
    ('10 min', '10.5 min')
    """
    minutes = seconds / _MINUTE_S
    return f"{format_number(minutes, 0 if minutes == round(minutes) else 1)} min"
