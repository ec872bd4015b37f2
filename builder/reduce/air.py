"""Air at altitude: thinner air carries less heat from an air cooler."""

from __future__ import annotations

SEA_LEVEL_DENSITY = 1.225  # kg/m³
WORTH_SAYING = 0.03  # relative: less is lost in the ambient band


def air_density(altitude_m: float) -> float:
    """Return the density of the standard atmosphere in kg/m³, from sea level to 11 000 m of geopotential altitude.

    Source: ISO 2533:1975, gradient layer -6.5 K/km, exponent g/(R L) - 1 = 4.25588.

    >>> round(air_density(1000.0), 4)
    1.1116
    """
    return float(SEA_LEVEL_DENSITY * (1.0 - 0.0065 * altitude_m / 288.15) ** 4.25588)


def altitude_note(altitude_m: float) -> str:
    """Return a sentence on thin air for a bench at this altitude, empty where the difference is small."""
    loss = 1.0 - air_density(altitude_m) / SEA_LEVEL_DENSITY
    if loss < WORTH_SAYING:
        return ""
    return (
        f"The bench stands at {altitude_m:.0f} m, where air is {100 * loss:.0f} % thinner than at sea level: "
        "an air cooler runs warmer here than it would there."
    )
