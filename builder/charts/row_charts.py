"""Charts of rows, one for each test point or cooler: rises over ambient, changes from stock, coolers side by side."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from functools import partial

from builder.archive.catalogue import CoolerKind
from builder.charts.chart import MISSING, Chart, ChartTable, Reading, cell, chart_of
from builder.charts.rows import Dot, DotRow, KeyEntry, RowChart, bound_dot, draw_rows, interval_dot
from builder.charts.style import SENSOR_SLOTS, Slot
from builder.charts.two_units import Axis, Turn, said
from builder.core.quantity import SYMBOLS, Estimate, estimate_parts, format_estimate
from builder.core.results import FIGURES, Bound, Change, bounded_text
from builder.core.words import listed

# --- rows of test points ---------------------------------------------------------------------------------------


@dataclass(frozen=True, kw_only=True)
class _PointRow:
    """A test point with the figures that it has, by slot, and which of them are bounds."""

    name: str
    figures: Mapping[Slot, Estimate]
    bounds: Mapping[Slot, Bound] = field(default_factory=dict)

    def bound(self, slot: Slot) -> Bound:
        """Return whether a figure is a value or a bound."""
        return self.bounds.get(slot, Bound.NONE)


@dataclass(frozen=True, kw_only=True)
class _PointRows:
    """Test points with the same figures, each in a line of its own; `changes` have signs, and values as text."""

    title: str
    axis: Axis
    names: Mapping[Slot, str]
    rows: tuple[_PointRow, ...]
    changes: bool = False

    @property
    def slots(self) -> list[Slot]:
        """The slots of which some point has a figure."""
        return [slot for slot in self.names if any(slot in row.figures for row in self.rows)]

    def words(self, row: _PointRow, slot: Slot, figure: Estimate) -> str:
        """Return what a mark says."""
        said = format_estimate(figure, sign=True) if self.changes else bounded_text(figure, row.bound(slot))
        return f"{row.name}, {self.names[slot].lower()}: {said}"

    def chart(self) -> RowChart:
        """Return the rows as they are drawn."""
        return RowChart(
            title=self.title,
            axis=self.axis,
            rows=tuple(self._drawn(row) for row in self.rows),
            key=tuple(KeyEntry(slot=slot, name=self.names[slot]) for slot in self.slots),
            sublines=True,
        )

    def _drawn(self, row: _PointRow) -> DotRow:
        return DotRow(name=row.name, dots=tuple(self._dot(row, slot, figure) for slot, figure in row.figures.items()))

    def _dot(self, row: _PointRow, slot: Slot, figure: Estimate) -> Dot:
        words, bound = self.words(row, slot, figure), row.bound(slot)
        if bound is not Bound.NONE:
            return bound_dot(figure, bound, slot, words)
        return interval_dot(figure, slot, words, estimate_parts(figure, sign=True).value if self.changes else "")


# --- rises over ambient ----------------------------------------------------------------------------------------

SENSOR_NAMES = {slot: sensor.name for sensor, slot in SENSOR_SLOTS.items()}


@dataclass(frozen=True, kw_only=True)
class PointRise:
    """Rises over ambient at one test point, in K, of the sensors that were logged, and which of them are bounds."""

    name: str
    rises: Mapping[Slot, Estimate]
    bounds: Mapping[Slot, Bound] = field(default_factory=dict)


@dataclass(frozen=True, kw_only=True)
class PointRises:
    """What the chart of test points shows, in the protocol's order."""

    id: str
    title: str
    points: tuple[PointRise, ...]


def points_chart(rises: PointRises) -> Chart:
    """Return the chart of rise at each test point; intervals are 95 %."""
    rows = _PointRows(
        title=rises.title,
        axis=Axis(words="{} over ambient", unit="K"),
        names=SENSOR_NAMES,
        rows=tuple(_PointRow(name=point.name, figures=point.rises, bounds=point.bounds) for point in rises.points),
    )
    marks = ((partial(rows.words, row, slot), rise) for row in rows.rows for slot, rise in row.figures.items())
    draw = partial(draw_rows, rows.chart())
    return chart_of(rises.id, rises.title, partial(_read_rises, rows), draw, marks=marks)


def _read_rises(rows: _PointRows, turn: Turn) -> Reading:
    columns = ("Test point", *(f"{SENSOR_NAMES[slot]} over ambient" for slot in rows.slots))
    cells = tuple((row.name, *(_rise_cell(row, slot, turn) for slot in rows.slots)) for row in rows.rows)
    return Reading(
        description=" ".join(_extremes(rows, turn)) or "No rise over ambient was measured.",
        table=ChartTable(caption=rows.title, columns=columns, rows=cells),
    )


def _rise_cell(row: _PointRow, slot: Slot, turn: Turn) -> str:
    return bounded_text(turn(row.figures[slot]), row.bound(slot)) if slot in row.figures else MISSING


def _extremes(rows: _PointRows, turn: Turn) -> Iterator[str]:
    """Yield the ends of each figure in words, and each bound by itself, since the figure lies somewhere beyond it."""
    for slot in rows.slots:
        there = [row for row in rows.rows if slot in row.figures]
        bounds = [row for row in there if row.bound(slot) is not Bound.NONE]
        if bounds:
            said = listed([f"{_rise_cell(row, slot, turn)} ({row.name})" for row in bounds])
            yield f"{SENSOR_NAMES[slot]} over ambient: {said}."
        found = [(row.figures[slot], row.name) for row in there if row not in bounds]
        if not found:
            continue
        low, high = (end(found, key=lambda item: item[0].value) for end in (min, max))
        span = f"{format_estimate(turn(low[0]))} ({low[1]})"
        if len(found) > 1:
            span = f"from {span} to {format_estimate(turn(high[0]))} ({high[1]})"
        yield f"{SENSOR_NAMES[slot]} over ambient: {span}."


# --- changes from stock, in percent ----------------------------------------------------------------------------

# Percent of a temperature in °C has no meaning, so the rise stands for it.
COMPARED = {"board_power": Slot.POWER, "core_rise": Slot.CORE, "frame_rate": Slot.FRAMES}
CHANGE_NAMES = {Slot.POWER: "Board power", Slot.CORE: "Core over ambient", Slot.FRAMES: "Frame rate"}


@dataclass(frozen=True, kw_only=True)
class PointChange:
    """Changes of one test point from stock, of the figures that were measured; drawn are those with a percentage."""

    name: str
    changes: Mapping[Slot, Change]

    @property
    def percents(self) -> dict[Slot, Estimate]:
        """The changes that are drawn."""
        return {slot: change.percent for slot, change in self.changes.items() if change.percent}


@dataclass(frozen=True, kw_only=True)
class PointChanges:
    """What the chart of changes shows, in the protocol's order, without stock itself."""

    id: str
    title: str
    points: tuple[PointChange, ...]


def changes_chart(changes: PointChanges) -> Chart:
    """Return the chart of changes from stock; intervals are 95 %, and the table adds the change in its own unit."""
    rows = _PointRows(
        title=changes.title,
        axis=Axis(words="{} from stock", unit="percent"),
        names=CHANGE_NAMES,
        rows=tuple(_PointRow(name=point.name, figures=point.percents) for point in changes.points),
        changes=True,
    )
    draw = partial(draw_rows, rows.chart())
    return chart_of(changes.id, changes.title, partial(_read_changes, changes, rows), draw)


def _read_changes(changes: PointChanges, rows: _PointRows, turn: Turn) -> Reading:
    columns = ("Test point", *(CHANGE_NAMES[slot] for slot in rows.slots))
    cells = tuple(
        (point.name, *(_change_cell(point.changes.get(slot), turn) for slot in rows.slots)) for point in changes.points
    )
    table = ChartTable(caption=changes.title, columns=columns, rows=cells)
    return Reading(description=_describe_changes(rows.rows), table=table)


def _describe_changes(rows: Sequence[_PointRow]) -> str:
    """Return the two ends in words, the least power and the most frames; else the first and the last point."""
    ends = []
    for kind, end in (("board_power", min), ("frame_rate", max)):
        slot = COMPARED[kind]
        if found := [(row.figures[slot].value, index) for index, row in enumerate(rows) if slot in row.figures]:
            ends.append(rows[end(found)[1]])
    sentences = dict.fromkeys(f"{row.name}: {listed(_percents(row))}." for row in ends or [*rows[:1], *rows[-1:]])
    return " ".join(["Against stock:", *sentences]) if sentences else "No change from stock was measured."


def _percents(row: _PointRow) -> list[str]:
    return [f"{CHANGE_NAMES[slot].lower()} {format_estimate(p, sign=True)}" for slot, p in row.figures.items()]


def _change_cell(change: Change | None, turn: Turn) -> str:
    if change is None:
        return MISSING
    absolute = cell(change.absolute, turn, sign=True)
    return f"{absolute} ({cell(change.percent, sign=True)})" if change.percent else absolute


# --- coolers on one card ---------------------------------------------------------------------------------------

TIES = "The same letter: too close to call"  # at the foot of a still; a page says so beside its chart


@dataclass(frozen=True, kw_only=True)
class CoolerFigure:
    """One cooler's figure; `tie` holds letters shared by coolers that are not told apart, empty where not judged."""

    name: str
    kind: CoolerKind
    estimate: Estimate
    tie: str = ""
    here: bool = False  # the cooler that the page is about


@dataclass(frozen=True, kw_only=True)
class CoolerFigures:
    """What the chart of coolers shows: one figure kind (id of `FIGURES`) of coolers that compare directly."""

    id: str
    title: str
    figure: str
    coolers: tuple[CoolerFigure, ...]


def coolers_chart(figures: CoolerFigures) -> Chart:
    """Return the chart of coolers, ordered by value with the better end first; intervals are 95 %.

    The cooler that a page is about stands out; the kind of each stands with its name.
    """
    sign = -1 if FIGURES[figures.figure].better == "higher" else 1
    ordered = sorted(figures.coolers, key=lambda cooler: (sign * cooler.estimate.value, cooler.name))
    return chart_of(
        figures.id,
        figures.title,
        partial(_read_coolers, figures, ordered),
        partial(draw_rows, _cooler_rows(figures, ordered)),
        marks=((partial(_cooler_words, cooler), cooler.estimate) for cooler in ordered),
    )


def _cooler_words(cooler: CoolerFigure, estimate: Estimate) -> str:
    return f"{cooler.name}, {cooler.kind}: {format_estimate(estimate)}"


def _read_coolers(figures: CoolerFigures, ordered: Sequence[CoolerFigure], turn: Turn) -> Reading:
    tied = any(cooler.tie for cooler in ordered)
    columns = ("Cooler", "Kind", FIGURES[figures.figure].name, *(["Ties"] if tied else []))
    cells = tuple((c.name, str(c.kind), cell(c.estimate, turn), *([c.tie] if tied else [])) for c in ordered)
    return Reading(
        description=_describe_coolers(figures.figure, ordered, turn),
        table=ChartTable(caption=figures.title, columns=columns, rows=cells),
    )


def _describe_coolers(figure: str, ordered: Sequence[CoolerFigure], turn: Turn) -> str:
    if not ordered:
        return "No cooler compares here."
    kind, best = FIGURES[figure], ordered[0]
    end = {"higher": "highest", "lower": "lowest"}.get(kind.better, "first")
    first, last = (f"{c.name} ({format_estimate(turn(c.estimate))})" for c in (best, ordered[-1]))
    found = f"{kind.name}: {end} with {first}{f', then up to {last}' if len(ordered) > 1 else ''}."
    equal = [c.name for c in ordered[1:] if set(c.tie) & set(best.tie)]
    return f"{found} Not told apart from {best.name}: {', '.join(equal)}." if equal else found


def _cooler_rows(figures: CoolerFigures, ordered: Sequence[CoolerFigure]) -> RowChart:
    kind = FIGURES[figures.figure]
    return RowChart(
        title=figures.title,
        axis=Axis(words=f"{kind.name}, {{}}" if SYMBOLS[kind.unit] else kind.name, unit=kind.unit),
        rows=tuple(_cooler_row(cooler) for cooler in ordered),
        foot=TIES if any(cooler.tie for cooler in ordered) else "",
    )


def _cooler_row(cooler: CoolerFigure) -> DotRow:
    remark = said(lambda turn: f"{format_estimate(turn(cooler.estimate))} {cooler.tie}".rstrip())
    slot = Slot.SUBJECT if cooler.here else Slot.OTHERS
    dot = interval_dot(cooler.estimate, slot, _cooler_words(cooler, cooler.estimate))
    return DotRow(name=cooler.name, kind=kind_words(cooler.kind), strong=cooler.here, dots=(dot,), remark=remark)


def kind_words(kind: CoolerKind) -> str:
    """Return how a chart names a kind of cooler below the cooler's name."""
    return "as sold" if kind is CoolerKind.STOCK else str(kind)
