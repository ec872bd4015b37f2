"""The verdict on a run in one sentence for the bench."""

from __future__ import annotations

from dataclasses import dataclass

from builder.figures import Settlement, Verdict, Window
from builder.quantity import PLUS_MINUS, Estimate, format_number
from builder.settle.rule import SettleRule


@dataclass(frozen=True, kw_only=True)
class Remaining:
    """The remaining approach to equilibrium in K, the half-width of its 95 % interval, and the time constant.

    `drift` is how far the window itself moves, in K; `obstacle` says what forbids calling it settled.
    """

    estimate: Estimate
    half_width: float
    tau_s: float
    drift: float = 0.0
    obstacle: str = ""


def decide(remaining: Remaining, rule: SettleRule, window: Window, notes: tuple[str, ...]) -> Settlement:
    """Return settled where the whole interval lies inside the limit, drifting where it lies outside, else undecided.

    A window that moves by more than the limit, or in which something changed, is not called settled.
    """
    size = abs(remaining.estimate.value)
    if size + remaining.half_width <= rule.limit_k:
        verdict, message = _inside(remaining, rule)
    elif size - remaining.half_width > rule.limit_k:
        least = format_number(size - remaining.half_width, 1)
        verdict = Verdict.DRIFTING
        message = f"Still drifting: at least {least} K from equilibrium; run longer."
    else:
        verdict, message = Verdict.UNDECIDED, _spans(remaining, rule)
    return Settlement(
        verdict=verdict,
        message=message,
        tau_s=remaining.tau_s,
        limit_k=rule.limit_k,
        window=window,
        remaining=remaining.estimate,
        half_width=remaining.half_width,
        notes=notes,
    )


def without_interval(
    verdict: Verdict, message: str, rule: SettleRule, *, window: Window | None = None, notes: tuple[str, ...] = ()
) -> Settlement:
    """Return a verdict that rests on no estimate: too short, or undecided for want of data."""
    return Settlement(
        verdict=verdict, message=message, tau_s=rule.tau_s, limit_k=rule.limit_k, window=window, notes=notes
    )


def _inside(remaining: Remaining, rule: SettleRule) -> tuple[Verdict, str]:
    if remaining.obstacle:
        return Verdict.UNDECIDED, f"Cannot tell: {remaining.obstacle}; run again without a change."
    if abs(remaining.drift) > rule.limit_k:
        moved = format_number(abs(remaining.drift), 2)
        return Verdict.UNDECIDED, (
            f"Cannot tell yet: {_interval(remaining)} to go, but the window itself moves by {moved} K; run longer."
        )
    return Verdict.SETTLED, _settled(remaining, rule)


def _interval(remaining: Remaining) -> str:
    return f"{format_number(remaining.estimate.value, 2)} {PLUS_MINUS} {format_number(remaining.half_width, 2)} K"


def _settled(remaining: Remaining, rule: SettleRule) -> str:
    tau = format_number(remaining.tau_s, 0)
    return f"Settled: remaining approach {_interval(remaining)} (limit {rule.limit_k:g} K, τ {tau} s)."


def _spans(remaining: Remaining, rule: SettleRule) -> str:
    return (
        f"Cannot tell: {_interval(remaining)} spans the {rule.limit_k:g} K limit; "
        "use a longer window or a finer sensor."
    )
