"""A run whose figures were read by hand: one reading of each quantity, and nobody can say whether it had settled.

A figure has the uncertainty of its display's digits and of its instrument. What a rise may lack of rest is not known;
where the protocol allows for it, that is a line of its own, and the run is compared.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, replace

import numpy as np

from builder.archive.catalogue import Setup
from builder.archive.fields import Reading
from builder.archive.protocol import TestPoint
from builder.core.results import (
    CORE,
    FIGURES,
    SENSORS,
    Component,
    Figure,
    OverLimit,
    Quantity,
    Role,
    RunResult,
    Settlement,
    Verdict,
)
from builder.reduction.derived import from_figures, limit_of_point, limit_share, sound_figure
from builder.reduction.inputs import HandInput, in_band, limits_of, over_limit
from builder.settling.signals import ACCURACY, METER_ACCURACY, RESOLUTION, Channel
from builder.uncertainty import estimate_from_budget, rectangular

NOTE = "read by hand"
ALLOWANCE = "allowance for what a reading by hand lacks of rest"
RATE_DEFINITION = "as the display showed it"
_NO_FIGURE_ALONE = {Quantity.POWER_LIMIT, Quantity.SOUND_LEVEL, Quantity.FRAME_TIME}


def reduce_readings(setup: Setup, given: HandInput, point: TestPoint) -> RunResult:
    """Return what one run's readings give, under the verdict that it was read by hand."""
    read = {q: _Read.of(setup, q, reading) for q, reading in (given.run.readings or {}).items()}
    found = {f.kind: f for f in _figures(setup, point, read)}
    figures = {kind: replace(found[kind], note=_noted(found[kind].note)) for kind in FIGURES if kind in found}
    too_much = over_limit(setup, point, figures)
    return RunResult(
        mount=given.mount,
        point=point.id,
        log="",
        settlement=_settlement(setup),
        figures=figures,
        warnings=tuple(_warnings(setup, figures, too_much)),
        ambient_in_band=in_band(setup.protocol.ambient, figures),
        over_limit=too_much,
    )


def _noted(note: str) -> str:
    return f"{NOTE}; {note}" if note else NOTE


def _settlement(setup: Setup) -> Settlement:
    limits, allowance = limits_of(setup), setup.protocol.by_hand_allowance_k
    said = "Read by hand: nobody can say whether the run had settled."
    return Settlement(
        verdict=Verdict.BY_HAND,
        message=f"{said} Up to {allowance:g} K either way is allowed for that." if allowance else said,
        tau_s=limits.tau_s,
        limit_k=limits.limit_k,
        allowance_k=allowance,
    )


def _warnings(setup: Setup, figures: Mapping[str, Figure], too_much: OverLimit | None) -> Iterator[str]:
    if too_much:
        yield f"The run {too_much.text}, so it compares with nothing."
    ambient = figures.get("ambient_temperature")
    if ambient is None:
        yield "No ambient temperature: there is no rise over ambient, and this run compares with nothing."
    elif in_band(setup.protocol.ambient, figures) is False:
        band = setup.protocol.ambient
        said = f"is outside the protocol's band of {band.min_c:g} to {band.max_c:g} °C."
        yield f"Ambient {ambient.estimate.value:.1f} °C {said}"
    if "board_power" not in figures:
        yield "No board power: there is no rise per watt."


@dataclass(frozen=True, kw_only=True)
class _Read:
    """One reading of a quantity with its sensor, in the quantity's standard unit."""

    quantity: Quantity
    value: float
    channel: Channel

    @classmethod
    def of(cls, setup: Setup, quantity: Quantity, reading: Reading) -> _Read:
        """Return a reading: of the display's last digit and the declared resolution the coarser counts."""
        sensor, accuracy = setup.sensor(quantity), setup.accuracy(quantity)
        value = sensor.corrected(float(reading)) if sensor else float(reading)
        channel = Channel(
            values=np.array([value]),
            resolution=max(10.0 ** int(reading.as_tuple().exponent), (sensor.resolution or 0.0) if sensor else 0.0),
            accuracy=accuracy.absolute,
            gain=accuracy.pct / 100.0 * abs(value),
            sensor=quantity,
            assumed=accuracy.assumed,
        )
        return cls(quantity=quantity, value=value, channel=channel)

    def lines(self, unit: str, sensitivity: float = 1.0, *, name: str = ACCURACY) -> tuple[Component, ...]:
        """Return the budget lines of the last digit (q/√12, JCGM 100:2008, F.2.2.1) and of the sensor's accuracy."""
        digit = Component(
            name=RESOLUTION if name == ACCURACY else f"{name.removesuffix(' accuracy')} resolution",
            kind="B",
            u=self.channel.resolution / math.sqrt(12),
            unit=unit,
            dof=math.inf,
            sensitivity=sensitivity,
            role=Role.STEP,
            sensor=self.quantity,
        )
        return (digit, *self.channel.instrument(name, unit, sensitivity))


_All = Mapping[Quantity, _Read]


def _figure(kind: str, value: float, budget: tuple[Component, ...]) -> Figure:
    estimate = estimate_from_budget(value, FIGURES[kind].unit, budget)
    return Figure(kind=kind, estimate=estimate, samples=1, budget=budget)


def _figures(setup: Setup, point: TestPoint, read: _All) -> Iterator[Figure]:
    known = {f.kind: f for f in (*_as_read(read), *_rises(setup, read))}
    yield from known.values()
    sound = read.get(Quantity.SOUND_LEVEL)
    if sound and setup.bench.sound:
        yield sound_figure(sound.value, sound.lines("dBA"), setup.bench.sound, samples=1)
    limit = read[Quantity.POWER_LIMIT].value if Quantity.POWER_LIMIT in read else limit_of_point(setup, point)
    if "board_power" in known and limit and limit > 0:
        yield limit_share(known["board_power"], limit)
    yield from from_figures(setup, point, known)


def _as_read(read: _All) -> Iterator[Figure]:
    for quantity, one in read.items():
        if quantity not in _NO_FIGURE_ALONE:
            figure = _figure(str(quantity), one.value, one.lines(quantity.unit))
            rate = quantity is Quantity.FRAME_RATE
            yield replace(figure, definition=RATE_DEFINITION) if rate else figure


# --- Differences of temperatures, and Ψ


def _rises(setup: Setup, read: _All) -> Iterator[Figure]:
    ambient, power = read.get(Quantity.AMBIENT_TEMPERATURE), read.get(Quantity.BOARD_POWER)
    allowance = _allowance(setup)
    for sensor in SENSORS:
        rise = _difference(sensor.rise, read.get(sensor.quantity), ambient, allowance)
        if rise:
            yield rise
        if rise and power and power.value > 0:
            yield _psi(sensor.psi, rise, power)
    coolant = read.get(Quantity.COOLANT_IN_TEMPERATURE) if setup.cooler.kind.liquid else None
    between = (
        _difference("core_over_coolant", read.get(CORE.quantity), coolant, allowance),
        _difference("coolant_rise", coolant, ambient, allowance),
        _difference("hotspot_gap", read.get(Quantity.HOTSPOT_TEMPERATURE), read.get(CORE.quantity), ()),
    )
    yield from (figure for figure in between if figure)


def _allowance(setup: Setup) -> tuple[Component, ...]:
    """Return the line for what a rise may lack of rest; the same in every mount, since every run was left as early."""
    allowed = setup.protocol.by_hand_allowance_k
    u = rectangular(allowed or 0.0)
    line = Component(name=ALLOWANCE, kind="B", u=u, unit="K", dof=math.inf, role=Role.STEP)
    return (line,) if allowed else ()


def _difference(kind: str, upper: _Read | None, lower: _Read | None, more: tuple[Component, ...]) -> Figure | None:
    if upper is None or lower is None:
        return None
    name = f"{str(lower.quantity).removesuffix('_temperature').replace('_', ' ')} sensor accuracy"
    budget = (*upper.lines("K"), *lower.lines("K", -1.0, name=name), *more)
    return _figure(kind, upper.value - lower.value, budget)


def _psi(kind: str, rise: Figure, power: _Read) -> Figure:
    """Return a rise over board power in K/W; the power is above zero."""
    watts, value = power.value, rise.estimate.value
    meter = power.lines("W", -value / watts**2, name=METER_ACCURACY)
    return _figure(kind, value / watts, (*(c.times(1 / watts) for c in rise.budget), *meter))
