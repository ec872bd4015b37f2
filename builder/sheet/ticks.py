"""Which checks of an assembly concern which kind of cooler."""

from __future__ import annotations

from collections.abc import Mapping
from types import MappingProxyType

from builder.model import AssemblyChecks, CoolerKind

_ALWAYS = ("card_supported",)
_FITTED = ("screws_crosswise",)

# The run sheet ticks the same ones. A stock cooler may be tested as delivered, and a sealed loop is never opened.
TICKS: Mapping[CoolerKind, tuple[str, ...]] = MappingProxyType(
    {
        CoolerKind.STOCK: _ALWAYS,
        CoolerKind.AIR: (*_FITTED, *_ALWAYS),
        CoolerKind.HYBRID: (*_FITTED, *_ALWAYS),
        CoolerKind.WATER_BLOCK: (*_FITTED, "flow_direction_checked", *_ALWAYS, "bled", "leak_tested"),
    }
)


def not_ticked(kind: CoolerKind, checks: AssemblyChecks) -> tuple[str, ...]:
    """Return the checks that concern a kind of cooler and are not true."""
    return tuple(name for name in TICKS[kind] if not getattr(checks, name))
