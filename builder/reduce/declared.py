"""The mounting spread that a protocol declares, in the unit of a figure."""

from __future__ import annotations

from builder.model import CoolerKind, Protocol

_KELVINS = {
    "core_temperature",
    "hotspot_temperature",
    "memory_temperature",
    "core_rise",
    "hotspot_rise",
    "memory_rise",
}
_PER_WATT = {"core_psi", "hotspot_psi", "memory_psi"}


def declared_spread(protocol: Protocol, cooler: CoolerKind, kind: str, watts: float | None) -> float | None:
    """Return the declared standard deviation from mount to mount in the figure's unit; None where none is declared.

    `watts` is the board power, which turns kelvins into K/W.
    """
    spread = protocol.mount_spread_k
    kelvins = spread.liquid if cooler.liquid else spread.air
    if kelvins is None or kind in _KELVINS:
        return kelvins
    return kelvins / watts if kind in _PER_WATT and watts and watts > 0 else None
