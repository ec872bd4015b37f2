"""The law of propagation: standard uncertainties of several inputs into one, with its degrees of freedom."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

from builder.core.quantity import Estimate
from builder.core.results import Component, Quantity, Role


def rectangular(half_width: float) -> float:
    """Return the standard uncertainty of a value known only to lie within ± half_width: half_width / √3.

    Same unit as the half-width, which must not be negative (ValueError). Source: JCGM 100:2008, 4.3.7, equation (7).

    >>> round(rectangular(1.0), 6)
    0.57735
    """
    if not (half_width >= 0 and math.isfinite(half_width)):
        raise ValueError(f"half-width must be finite and not negative, not {half_width!r}")
    return half_width / math.sqrt(3)


@dataclass(frozen=True, kw_only=True)
class Instrument:
    """What an instrument states: half-widths in the unit of its reading, of an offset and of a gain at that reading."""

    offset: float
    gain: float
    sensor: Quantity | None


def instrument_lines(name: str, stated: Instrument, unit: str, sensitivity: float = 1.0) -> tuple[Component, ...]:
    """Return the budget lines of an instrument's accuracy, offset before gain; none for what it does not state.

    Half-widths in `unit` become standard uncertainties as those of a rectangular distribution. Both readings of one
    instrument have the same error, which is why its lines say their role.
    """
    parts = [(role, a) for role, a in ((Role.OFFSET, stated.offset), (Role.GAIN, stated.gain)) if a > 0]
    return tuple(
        Component(
            name=f"{name}, in percent" if len(parts) > 1 and role is Role.GAIN else name,
            kind="B",
            u=rectangular(half_width),
            unit=unit,
            dof=math.inf,
            sensitivity=sensitivity,
            role=role,
            sensor=stated.sensor,
        )
        for role, half_width in parts
    )


def left_of_instruments(terms: Sequence[tuple[float, Sequence[Component]]]) -> tuple[float, ...]:
    """Return what each instrument's error leaves in a sum of figures Σ c·y, as standard uncertainties in its unit.

    `terms` holds each figure's factor c with its budget. Lines of one sensor and one role are one error many times, so
    their signed contributions add: an offset cancels in a difference, a gain leaves its share of the difference, and
    in a ratio a gain cancels. Other lines are passed over. Source: JCGM 100:2008, 5.2.2, equation (16) with r = 1.

    >>> meter = Component(name="gain", kind="B", u=3.0, unit="W", dof=math.inf, role=Role.GAIN)
    >>> left_of_instruments([(1.0, [meter]), (-1.0, [meter.times(0.75)])])
    (0.75,)
    """
    errors: dict[tuple[Quantity | None, Role], float] = {}
    for factor, budget in terms:
        for line in (c for c in budget if c.of_instrument):
            key = (line.sensor, line.role)
            errors[key] = errors.get(key, 0.0) + factor * line.sensitivity * line.u
    return tuple(abs(error) for error in errors.values())


def combined(value: float, unit: str, contributions: Sequence[float], dofs: Sequence[float]) -> Estimate:
    """Return a value with the standard uncertainty of independent contributions c·u, all in the value's unit.

    `dofs` are their degrees of freedom, infinite for type B. Raises ValueError where the result is not finite. Source:
    JCGM 100:2008, 5.1.2, equation (10), and G.4.1.

    >>> combined(7.0, "K", [3.0, -4.0], [math.inf, math.inf])
    Estimate(value=7.0, u=5.0, unit='K', dof=inf)
    """
    dof = effective_dof(contributions, dofs)
    return Estimate(value=value, u=math.hypot(*contributions), unit=unit, dof=dof)


def effective_dof(contributions: Sequence[float], dofs: Sequence[float]) -> float:
    """Return the effective degrees of freedom of independent contributions c·u in one unit, never below 1.

    Source: JCGM 100:2008, G.4.1, equation (G.2b), Welch-Satterthwaite.

    >>> round(effective_dof([0.25, 0.57, 0.82], [9, 4, 14]), 3)
    18.999
    """
    total = math.hypot(*contributions)
    if total == 0:
        return math.inf
    share = sum((c / total) ** 4 / dof for c, dof in zip(contributions, dofs, strict=True))
    return max(1 / share, 1.0) if share > 0 else math.inf


def estimate_from_budget(value: float, unit: str, budget: Sequence[Component]) -> Estimate:
    """Return an estimate whose uncertainty combines a budget's lines; each u times its sensitivity is in `unit`.

    Raises ValueError where the value or the combined uncertainty is not finite.
    """
    return combined(value, unit, [c.sensitivity * c.u for c in budget], [c.dof for c in budget])


def holm(p_values: Sequence[float]) -> tuple[float, ...]:
    """Return p values adjusted for many comparisons, in the order given; never above 1.

    Source: Holm 1979, Scand. J. Statist. 6, 65: the k-th smallest of m is multiplied by m - k + 1, then kept rising.

    >>> [round(p, 3) for p in holm([0.01, 0.04, 0.03])]
    [0.03, 0.06, 0.06]
    """
    order = sorted(range(len(p_values)), key=lambda i: p_values[i])
    adjusted = [0.0] * len(p_values)
    highest = 0.0
    for rank, index in enumerate(order):
        highest = max(highest, min((len(p_values) - rank) * p_values[index], 1.0))
        adjusted[index] = highest
    return tuple(adjusted)
