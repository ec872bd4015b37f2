"""How a rise at rest is made of what was read: the window's means, their difference, and the correction added to it."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from decimal import ROUND_HALF_EVEN, Decimal

from builder.archive.protocol import PointRole
from builder.comparison import Subject, by_hand, settled
from builder.core.quantity import Estimate, estimate_parts, format_number, in_fahrenheit
from builder.core.results import FIGURES, SENSORS, Figure, PointResult
from builder.pages.parts import Column, Line, Name, Num, Row, Table, figure_cell, point_name, text_column, unit

AMBIENT, COOLANT = "ambient_temperature", "coolant_in_temperature"


@dataclass(frozen=True, kw_only=True)
class Part:
    """A figure at rest, in K, that is the difference of two temperatures and a correction: ids of figures."""

    at_rest: str
    upper: str
    lower: str


PARTS = (
    *(Part(at_rest=sensor.rise, upper=sensor.temperature, lower=AMBIENT) for sensor in SENSORS),
    Part(at_rest="core_over_coolant", upper="core_temperature", lower=COOLANT),
    Part(at_rest="coolant_rise", upper=COOLANT, lower=AMBIENT),
)
AT_REST = frozenset((*(part.at_rest for part in PARTS), *(sensor.psi for sensor in SENSORS)))
_OF_WINDOW = frozenset((*(sensor.temperature for sensor in SENSORS), AMBIENT, COOLANT, "coolant_out_temperature"))


def figure_label(kind: str) -> str:
    """Return a figure's name with what it is: at rest, or a mean over the window; other figures have their name alone.

    >>> figure_label("core_rise"), figure_label("core_temperature"), figure_label("board_power")
    ('Core over ambient, at rest', 'Core temperature, mean of the window', 'Board power')
    """
    name = FIGURES[kind].name
    if kind in AT_REST:
        return f"{name}, at rest"
    return f"{name}, mean of the window" if kind in _OF_WINDOW else name


def labelled_cell(point: PointResult, kind: str) -> Line:
    """Return a figure's cell under its label: of a run that is not at rest it says whose it is."""
    cell = figure_cell(point.figures, kind)
    if not cell or settled(point) or kind not in AT_REST | _OF_WINDOW:
        return cell
    if by_hand(point):
        return (*cell, " as read")
    return (*cell, " in the window") if kind in AT_REST else cell


def at_rest_table(subject: Subject) -> Table:
    """Return how each rise at rest is made, one row for each settled test point and part; each row adds up."""
    rows = [
        Row(head=(point_name(point.name),), cells=((Name(text=FIGURES[part.at_rest].name),), *cells))
        for point in subject.result.points
        if settled(point) and subject.role(point.point) is not PointRole.IDLE
        for part in PARTS
        if (cells := _cells(point.figures, part))
    ]
    return Table(
        id="at-rest",
        caption="From the window to rest: mean, less the ambient or coolant, with the correction added",
        head="Test point",
        columns=(
            text_column("part", "Rise"),
            Column(key="mean", label="Mean of the window", numeric=True),
            Column(key="less", label="Less", numeric=True),
            Column(key="difference", label="Difference in the window", numeric=True),
            Column(key="correction", label="Correction to rest", numeric=True),
            Column(key="at-rest", label="At rest", numeric=True),
        ),
        rows=tuple(rows),
    )


def _cells(figures: Mapping[str, Figure], part: Part) -> tuple[Line, ...]:
    """Return the numbers of one part; empty where one of its figures is missing."""
    found = [figures.get(kind) for kind in (part.upper, part.lower, part.at_rest)]
    upper, lower, rest = found
    if upper is None or lower is None or rest is None:
        return ()
    own = (upper.estimate, lower.estimate, rest.estimate)
    other = tuple(turned for estimate in own if (turned := in_fahrenheit(estimate)))
    return tuple((number,) for number in _numbers(_sum(*own), _sum(*other)))


@dataclass(frozen=True, kw_only=True)
class _Sum:
    """Mean, what is taken off, their difference, the correction, and the figure at rest, all to `decimals`."""

    values: tuple[Decimal, ...]
    decimals: int


def _sum(upper: Estimate, lower: Estimate, rest: Estimate) -> _Sum:
    """Return the numbers of a row, rounded before they are added, so that the digits add up as they stand."""
    decimals = max(estimate_parts(estimate).decimals for estimate in (upper, lower, rest))
    step = Decimal(1).scaleb(-decimals)
    mean, less, at_rest = (
        Decimal(repr(estimate.value)).quantize(step, rounding=ROUND_HALF_EVEN) for estimate in (upper, lower, rest)
    )
    difference = mean - less
    return _Sum(values=(mean, less, difference, at_rest - difference, at_rest), decimals=decimals)


_UNITS = ("degC", "degC", "K", "K", "K")
_CORRECTION = 3  # the place of what has a sign


def _numbers(own: _Sum, other: _Sum) -> Iterator[Num]:
    for place, (value, fahrenheit, unit_id) in enumerate(zip(own.values, other.values, _UNITS, strict=True)):
        sign = place == _CORRECTION
        yield Num(
            value=format_number(float(value), own.decimals, sign=sign),
            u="",
            unit=unit(unit_id),
            exact=float(value),
            fahrenheit_value=format_number(float(fahrenheit), other.decimals, sign=sign),
        )
