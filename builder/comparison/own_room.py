"""What would this cooler do in my room: temperatures at an ambient and a board power of one's own."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass, replace

from builder.comparison.families import eligible
from builder.comparison.members import Case, Term, absolute, mounted
from builder.comparison.rankings import converted_shared, line_at, load_points
from builder.comparison.tested import Tested, group_of
from builder.core.quantity import coverage_factor, format_number
from builder.core.results import FIGURES, SENSORS, Bend, BundleResult, CardSensor, NoLine, PowerLine

SAMPLE_NOTE = "For this sample of the cooler on this sample of the card, mounted once more; yours may differ."
NO_MOUNT_NOTE = "The mounting spread is unknown, so the true range is wider than shown."
NO_LINE = "No line of rise on power is known for this result, so nothing is said between its test points."


@dataclass(frozen=True, kw_only=True)
class RoomModel:
    """A temperature as a function of ambient and power, with all that a page needs to work it out by itself.

    temperature = ambient + intercept + slope · power + bend · q, with q = power² - q1 · power - q0; its expanded
    uncertainty (95 %) is k · sqrt(v0 + v1 · power + v2 · power² + vq · q²), for low_w <= power <= high_w in W. Units:
    °C, K, K/W, K/W²; K², K²/W, K²/W², K²/W⁴. Of a straight line `bend` and `vq` are 0. The interval is for another
    mount of this cooler sample on this card sample; `mounts_known` is False where the mounting spread is unknown and
    therefore missing from it.
    """

    kind: str
    intercept: float
    slope: float
    v0: float
    v1: float
    v2: float
    k: float
    low_w: float
    high_w: float
    mounts_known: bool
    bend: float = 0.0
    q1: float = 0.0
    q0: float = 0.0
    vq: float = 0.0


@dataclass(frozen=True, kw_only=True)
class RoomTemperature:
    """One expected temperature in °C with the half-width of its interval (95 %)."""

    kind: str
    value: float
    half_width: float


@dataclass(frozen=True, kw_only=True)
class OtherRange:
    """The board powers in W between which a temperature was tested."""

    low_w: float
    high_w: float

    def __str__(self) -> str:
        """Return the range in words, rounded inwards."""
        return f"tested from {_whole(self.low_w, self.high_w)} only"


@dataclass(frozen=True, kw_only=True)
class Unsaid:
    """A temperature of which nothing is said, and why: it has no line, or was tested over other powers than asked."""

    kind: str
    why: NoLine | OtherRange


@dataclass(frozen=True, kw_only=True)
class RoomEstimate:
    """Expected temperatures; empty where `refusal` says why there are none. `note` is what to know about them.

    `unsaid` holds the other temperatures of the card, each with its own reason.
    """

    temperatures: tuple[RoomTemperature, ...]
    unsaid: tuple[Unsaid, ...] = ()
    refusal: str = ""
    note: str = ""


def no_models(tested: Tested, bundle: str) -> Mapping[str, NoLine]:
    """Return the temperatures of a card of which a bundle says nothing at any power, with why.

    Raises KeyError for an unknown bundle.
    """
    result, known = tested.results[bundle], {model.kind for model in room_models(tested, bundle)}
    left = (sensor for sensor in SENSORS if sensor.temperature not in known)
    return {s.temperature: NoLine.NO_FIT if s.rise in result.lines else _why(result, s) for s in left}


def _why(result: BundleResult, sensor: CardSensor) -> NoLine:
    return result.no_lines.get(sensor.rise, NoLine.NOT_MEASURED)


def room_models(tested: Tested, bundle: str) -> tuple[RoomModel, ...]:
    """Return the models of core, hotspot and memory temperature that a bundle's fitted lines allow.

    A line that does not fit gives none. Raises KeyError for an unknown bundle.
    """
    lines = tested.results[bundle].lines
    found = (_model(tested, bundle, s.temperature, lines[s.rise]) for s in SENSORS if s.rise in lines)
    return tuple(model for model in found if model)


def room_estimate(tested: Tested, bundle: str, ambient_c: float, power_w: float) -> RoomEstimate:
    """Return the temperatures to expect at an ambient in °C and a board power in W, or a refusal.

    Nothing is said of a power outside the tested range.

    Raises ValueError for numbers that are not finite, KeyError for an unknown bundle.
    """
    if not (math.isfinite(ambient_c) and math.isfinite(power_w)):
        raise ValueError("ambient and power must be finite")
    models = room_models(tested, bundle)
    if not models:
        return RoomEstimate(temperatures=(), refusal=NO_LINE)
    inside = [m for m in models if m.low_w <= power_w <= m.high_w]
    if not inside:
        return RoomEstimate(temperatures=(), refusal=refusal(models, power_w))
    unsaid = (
        *(Unsaid(kind=m.kind, why=OtherRange(low_w=m.low_w, high_w=m.high_w)) for m in models if m not in inside),
        *(Unsaid(kind=kind, why=why) for kind, why in no_models(tested, bundle).items()),
    )
    known = all(m.mounts_known for m in inside)
    return RoomEstimate(
        temperatures=tuple(evaluate(m, ambient_c, power_w) for m in inside),
        unsaid=tuple(sorted(unsaid, key=lambda u: list(FIGURES).index(u.kind))),
        note=SAMPLE_NOTE if known else f"{SAMPLE_NOTE} {NO_MOUNT_NOTE}",
    )


def evaluate(model: RoomModel, ambient_c: float, power_w: float) -> RoomTemperature:
    """Return a model's temperature at an ambient in °C and a board power in W; raises ValueError outside its range."""
    if not model.low_w <= power_w <= model.high_w:
        raise ValueError(f"{power_w} W is outside the tested {model.low_w} to {model.high_w} W")
    shape = power_w**2 - model.q1 * power_w - model.q0
    variance = model.v0 + model.v1 * power_w + model.v2 * power_w**2 + model.vq * shape**2
    return RoomTemperature(
        kind=model.kind,
        value=ambient_c + model.intercept + model.slope * power_w + model.bend * shape,
        half_width=model.k * math.sqrt(max(variance, 0.0)),
    )


def refusal(models: tuple[RoomModel, ...], power_w: float) -> str:
    """Return the sentence that declines a power outside the tested range.

    The limits are rounded inwards, so that a number inside those shown is never declined.
    """
    limits = _whole(min(m.low_w for m in models), max(m.high_w for m in models))
    asked = format_number(power_w, 0 if float(power_w).is_integer() else 1)
    return f"Tested from {limits}. {asked} W is outside that range, and a line says nothing about what happens there."


def _whole(low_w: float, high_w: float) -> str:
    """Return a range in whole watts, rounded inwards, so that what lies in it is never declined."""
    return f"{format_number(math.ceil(low_w), 0)} to {format_number(math.floor(high_w), 0)} W"


def _model(tested: Tested, bundle: str, kind: str, line: PowerLine) -> RoomModel | None:
    # The mounting spread shows best at the highest power.
    on_line = (
        p for p in load_points(tested, bundle) if p.result.point in line.points and line.kind in p.result.figures
    )
    point = max(on_line, key=lambda p: p.watts, default=None)
    if point is None or not line.fits:
        return None
    case = Case(setup=tested.setup(bundle), result=point.result)
    mount = _mount_per_watt(tested, case, line.kind)
    sensors = converted_shared(case, line.kind, line.slope_at(point.watts).value)
    fixed = math.fsum(s.offset**2 + s.gain**2 for s in sensors)
    return RoomModel(
        kind=kind,
        intercept=line.intercept.value,
        slope=line.slope.value,
        v0=line.intercept.u**2 + fixed,
        v1=2 * line.covariance,
        v2=line.slope.u**2 + (mount.u if mount else 0.0) ** 2,
        k=coverage_factor(_least_dof(line, mount, fixed)),
        low_w=line.low_w,
        high_w=line.high_w,
        mounts_known=mount is not None,
        **_bent(line.bend),
    )


def _bent(bend: Bend | None) -> dict[str, float]:
    if bend is None:
        return {}
    return {"bend": bend.coefficient.value, "q1": bend.q1, "q0": bend.q0, "vq": bend.coefficient.u**2}


def _mount_per_watt(tested: Tested, case: Case, rise: str) -> Term | None:
    """Return what mounting adds for a mount to come: the mean's uncertainty and one more mount's, per watt."""
    spreads = eligible(tested, group_of(tested, case.bundle, case.result.point), rise).spreads
    term = spreads.terms.get(case.bundle)
    if term is None or not case.watts:
        return None
    u = math.sqrt(term.variance * (1 + 1 / len(mounted(case, rise).values))) / case.watts
    return Term(u=u, dof=term.dof, pool=term.pool)


def _least_dof(line: PowerLine, mount: Term | None, fixed: float) -> float:
    """Return the fewest effective degrees of freedom in the tested range, so that one factor serves all of it."""
    sensors = Term(u=math.sqrt(fixed), dof=math.inf, pool="")
    found = []
    for watts in (line.low_w, (line.low_w + line.high_w) / 2, line.high_w):
        own = line_at(line, watts)
        terms = (Term(u=own.u, dof=own.dof, pool=""), sensors)
        mounts = (replace(mount, u=mount.u * watts),) if mount else ()
        found.append(absolute(own.value, "K", (*terms, *mounts), ()).dof)
    return min(found)
