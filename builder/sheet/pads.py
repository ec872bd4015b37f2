"""Thermal pads: how much of its thickness a pad gives up in the gap that it fills."""

from __future__ import annotations

from dataclasses import dataclass

from builder.model import Pad
from builder.quantity import format_number

# Common practice, no source: soft pads touch fully from about a tenth, and press hard on the board beyond a third.
LEAST = 0.10
MUCH = 0.30
TOO_MUCH = 0.40
_ROUNDING = 1e-9  # 1.0 mm in 0.9 mm is a tenth, whatever binary fractions make of it


@dataclass(frozen=True, kw_only=True)
class PadFit:
    """A pad in its gap: compression as a share of its thickness (None with no gap known), and a warning or nothing."""

    pad: Pad
    compression: float | None
    warning: str = ""


@dataclass(frozen=True, kw_only=True)
class GapRange:
    """Gaps in mm that a pad fills well."""

    low_mm: float
    high_mm: float


def pad_fit(pad: Pad) -> PadFit:
    """Return a pad's compression, (thickness - gap) / thickness, with a warning where it is small or large.

    The limits of 10, 30 and 40 % are common practice, no source; the maker's figure goes first.

    >>> pad_fit(Pad(where="memory", thickness_mm=1.5, gap_mm=1.2)).warning
    ''
    """
    if pad.gap_mm is None:
        return PadFit(pad=pad, compression=None)
    share = (pad.thickness_mm - pad.gap_mm) / pad.thickness_mm
    return PadFit(pad=pad, compression=share, warning=_warning(share))


def gap_range(thickness_mm: float) -> GapRange:
    """Return the gaps in mm at which a pad is compressed by 10 to 30 %."""
    return GapRange(low_mm=thickness_mm * (1 - MUCH), high_mm=thickness_mm * (1 - LEAST))


def _warning(share: float) -> str:
    if share <= _ROUNDING:
        return "the pad does not fill its gap"
    if share < LEAST - _ROUNDING:
        return f"compressed by {percent(share)} only: contact may be poor"
    if share > TOO_MUCH + _ROUNDING:
        return f"compressed by {percent(share)}: this much can bend the board and keep the cooler off the chip"
    if share > MUCH + _ROUNDING:
        return f"compressed by {percent(share)}: check the maker's figure"
    return ""


def percent(share: float) -> str:
    """Return a share as whole percent."""
    return f"{format_number(100 * share, 0)} %"
