"""The verdict on a run in one sentence for the bench, with advice that fits its cause."""

from __future__ import annotations

from dataclasses import dataclass

from builder.core.quantity import PLUS_MINUS, Estimate, format_number
from builder.core.results import Cause, Settlement, Verdict, Window, WindowChange
from builder.settling.signals import SettleRule

ADVICE = {
    Cause.FAN_STEP: "run again with the fan held",
    Cause.TEMPERATURE_STEP: "run again without a change",
    Cause.NO_DESCRIPTION: "run again with a steady load, or declare its loop",
    Cause.WINDOW_MOVES: "run longer",
    Cause.RESOLUTION: "run longer, log a further sensor, or use a finer one",
    Cause.SCATTER: "run longer",
}


@dataclass(frozen=True, kw_only=True)
class Remaining:
    """The remaining approach to equilibrium in K, the half-width of its 95 % interval, and the time constant.

    `drift` is how far the window itself moves, in K; `obstacle` says what forbids calling it settled, with its cause;
    `doubt` is what an interval that spans the limit is put down to.
    """

    estimate: Estimate
    half_width: float
    tau_s: float
    drift: float = 0.0
    obstacle: str = ""
    cause: Cause | None = None
    doubt: Cause = Cause.SCATTER


@dataclass(frozen=True, kw_only=True)
class Found:
    """What was found in a window: in words, and the changes as values."""

    notes: tuple[str, ...] = ()
    changes: tuple[WindowChange, ...] = ()


def decide(remaining: Remaining, rule: SettleRule, window: Window, found: Found) -> Settlement:
    """Return settled where the whole interval lies inside the limit, drifting where it lies outside, else undecided.

    A window that moves by more than the limit, or in which something changed that the log does not explain, is
    neither.
    """
    verdict, message, cause = _verdict(remaining, rule)
    return Settlement(
        verdict=verdict,
        message=message,
        tau_s=remaining.tau_s,
        limit_k=rule.limit_k,
        window=window,
        remaining=remaining.estimate,
        half_width=remaining.half_width,
        notes=found.notes,
        changes=found.changes,
        cause=cause,
    )


def without_interval(  # noqa: PLR0913 - all but three named
    verdict: Verdict,
    message: str,
    rule: SettleRule,
    *,
    cause: Cause | None = None,
    window: Window | None = None,
    found: Found | None = None,
) -> Settlement:
    """Return a verdict that rests on no estimate: too short, or undecided for want of data."""
    found = found or Found()
    return Settlement(
        verdict=verdict,
        message=message,
        tau_s=rule.tau_s,
        limit_k=rule.limit_k,
        window=window,
        notes=found.notes,
        changes=found.changes,
        cause=cause,
    )


def _verdict(remaining: Remaining, rule: SettleRule) -> tuple[Verdict, str, Cause | None]:
    if remaining.obstacle and remaining.cause is not None:
        message = f"Cannot tell: {remaining.obstacle}; {ADVICE[remaining.cause]}."
        return Verdict.UNDECIDED, message, remaining.cause
    size, limit = abs(remaining.estimate.value), f"{rule.limit_k:g} K limit"
    if size - remaining.half_width > rule.limit_k:
        least = format_number(size - remaining.half_width, 1)
        return Verdict.DRIFTING, f"Still drifting: at least {least} K from equilibrium; run longer.", None
    if size + remaining.half_width > rule.limit_k:
        message = f"Cannot tell: {_interval(remaining)} spans the {limit}; {ADVICE[remaining.doubt]}."
        return Verdict.UNDECIDED, message, remaining.doubt
    if abs(remaining.drift) > rule.limit_k:
        moved = format_number(abs(remaining.drift), 2)
        message = (
            f"Cannot tell yet: {_interval(remaining)} to go, but the window itself moves by {moved} K; run longer."
        )
        return Verdict.UNDECIDED, message, Cause.WINDOW_MOVES
    tau = format_number(remaining.tau_s, 0)
    message = f"Settled: remaining approach {_interval(remaining)} (limit {rule.limit_k:g} K, τ {tau} s)."
    return Verdict.SETTLED, message, None


def _interval(remaining: Remaining) -> str:
    return f"{format_number(remaining.estimate.value, 2)} {PLUS_MINUS} {format_number(remaining.half_width, 2)} K"
