"""Charts of points with error bars in both directions, lines through them and a band around a line."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from functools import cache
from itertools import chain, pairwise

from builder.charts import vega
from builder.charts.chart import Row, Spec, interval
from builder.charts.frame import Frame, Margins, Plot, Scale, plot_area, scale
from builder.charts.labels import Room, beside_points, clean_text, shorten, spread
from builder.charts.still_notes import heading
from builder.charts.style import Slot
from builder.charts.two_units import Axis
from builder.charts.vega import Content, Note, axis_note, axis_room, axis_values, dashes, finish, said_note, tenth
from builder.core.quantity import Estimate


@dataclass(frozen=True, kw_only=True)
class Point:
    """A point with an uncertainty in both directions; `words` are said on hovering, an empty `name` is not drawn."""

    name: str
    x: Estimate
    y: Estimate
    words: str
    joined: bool = False  # a thin line leads to the next joined point of its group


@dataclass(frozen=True, kw_only=True)
class Curve:
    """A line drawn through places x, y with a band from low to high; all of one length."""

    x: tuple[float, ...]
    y: tuple[float, ...]
    low: tuple[float, ...]
    high: tuple[float, ...]


@dataclass(frozen=True, kw_only=True)
class Group:
    """Points of one slot with their curve; the name stands at the curve's end where there are several groups."""

    name: str
    slot: Slot
    points: tuple[Point, ...]
    curve: Curve | None = None


@dataclass(frozen=True, kw_only=True)
class ScatterChart:
    """What a chart of points shows."""

    title: str
    x_axis: Axis
    y_axis: Axis
    groups: tuple[Group, ...]


@dataclass(frozen=True, kw_only=True)
class _Layout:
    frame: Frame
    plot: Plot
    x: Scale
    y: Scale

    def place(self, x: float, y: float) -> tuple[float, float]:
        """Return a place in picture units from the plot's upper left corner."""
        return self.x.place(x, self.plot.width), self.plot.height - self.y.place(y, self.plot.height)


def draw_scatter(chart: ScatterChart, frame: Frame) -> Spec:
    """Return the specification of a chart of points for a frame."""
    layout = _layout(chart, frame)
    axes = [
        axis_note(chart.x_axis.name, layout.plot, frame),
        said_note(chart.y_axis.name, x=-frame.em(2.6), y=-frame.em(1.1), style="soft"),
    ]
    content = Content(
        values={**axis_values("x", layout.x), **axis_values("y", layout.y), **dashes(frame)},
        data=_data(chart),
        notes=[*axes, *_point_names(chart, layout), *_ends(chart, layout), *heading(frame, layout.plot, chart.title)],
        across=(layout.x,),
        upright=(layout.y,),
    )
    return finish(_template(), layout.plot, content)


def _layout(chart: ScatterChart, frame: Frame) -> _Layout:
    points = [point for group in chart.groups for point in group.points]
    curves = [group.curve for group in chart.groups if group.curve]
    heights = chain(*(interval(p.y) for p in points), *((*c.low, *c.high, *c.y) for c in curves))
    x = scale(chain(*(interval(p.x) for p in points)), pad=0.06).of(chart.x_axis.unit)
    y = scale(heights, pad=0.07).of(chart.y_axis.unit)
    right = frame.em(5 if len(chart.groups) > 1 else 0.8)
    margins = Margins(left=axis_room(y, frame), top=frame.em(2), right=right, bottom=frame.em(3.3))
    return _Layout(frame=frame, plot=plot_area(frame, margins, frame.em(17)), x=x, y=y)


# --- marks and notes -------------------------------------------------------------------------------------------


def _data(chart: ScatterChart) -> dict[str, list[Row]]:
    curves = list(chain.from_iterable(_curve_rows(group) for group in chart.groups))
    return {
        "points": [_point_row(point, group) for group in chart.groups for point in group.points],
        "curves": curves,
        "bands": curves,
        "paths": [
            {"x": point.x.value, "y": point.y.value, "o": order, "c": str(group.slot)}
            for group in chart.groups
            for order, point in enumerate(_joined(group))
        ],
    }


def _joined(group: Group) -> list[Point]:
    return [point for point in group.points if point.joined]


def _point_row(point: Point, group: Group) -> Row:
    (left, right), (low, high) = interval(point.x), interval(point.y)
    bars: Row = {"xl": left, "xh": right, "yl": low, "yh": high}
    return {"x": point.x.value, "y": point.y.value, **bars, "c": str(group.slot), "d": clean_text(point.words)}


def _curve_rows(group: Group) -> Iterator[Row]:
    if curve := group.curve:
        for x, y, low, high in zip(curve.x, curve.y, curve.low, curve.high, strict=True):
            yield {"x": x, "y": y, "lo": low, "hi": high, "c": str(group.slot), "d": clean_text(group.name)}


def _point_names(chart: ScatterChart, layout: _Layout) -> Iterator[Note]:
    """Yield the names of the first group's points where they find room, clear of every mark and line."""
    if not chart.groups:
        return
    first, frame = chart.groups[0], layout.frame
    longest = max(frame.em(11), min(frame.em(14), 0.4 * layout.plot.width))
    texts = [shorten(clean_text(point.name), longest, frame.text) for point in first.points]
    spots = beside_points([layout.place(p.x.value, p.y.value) for p in first.points], texts, _room(chart, layout))
    for text, spot in zip(texts, spots, strict=True):
        if spot and text:
            yield Note(x=spot.x, y=spot.y, text=text, align=spot.align, style="soft")


def _room(chart: ScatterChart, layout: _Layout) -> Room:
    """Return where names may stand: clear of lines, bars and the points of other groups."""
    places = [place for group in chart.groups for place in chain(_line_places(group), _bar_places(group))]
    places += [(point.x.value, point.y.value) for group in chart.groups[1:] for point in group.points]
    taken = [layout.place(x, y) for x, y in places]
    return Room(size=layout.frame.text, width=layout.plot.width, height=layout.plot.height, taken=taken)


def _line_places(group: Group) -> Iterator[tuple[float, float]]:
    if group.curve:
        yield from zip(group.curve.x, group.curve.y, strict=True)
    for start, end in pairwise(_joined(group)):
        for share in (0.2, 0.4, 0.6, 0.8):
            x = start.x.value + share * (end.x.value - start.x.value)
            yield x, start.y.value + share * (end.y.value - start.y.value)


def _bar_places(group: Group) -> Iterator[tuple[float, float]]:
    for point in group.points:
        yield from ((x, point.y.value) for x in interval(point.x))
        yield from ((point.x.value, y) for y in interval(point.y))


def _ends(chart: ScatterChart, layout: _Layout) -> Iterator[Note]:
    if len(chart.groups) < 2:  # noqa: PLR2004 - the title names a single group
        return
    frame, ends = layout.frame, [_end(group, layout) for group in chart.groups]
    heights = spread([y for _, y in ends], frame.em(1.25), 0, layout.plot.height)
    for group, (x, _), y in zip(chart.groups, ends, heights, strict=True):
        text = shorten(clean_text(group.name), frame.em(4.6), frame.text)
        yield Note(x=max(tenth(x), layout.plot.width - frame.em(0.3)) + frame.em(0.6), y=y, text=text)


def _end(group: Group, layout: _Layout) -> tuple[float, float]:
    if group.curve:
        return layout.place(group.curve.x[-1], group.curve.y[-1])
    return layout.place(group.points[-1].x.value, group.points[-1].y.value) if group.points else (0.0, 0.0)


# --- template --------------------------------------------------------------------------------------------------


@cache
def _template() -> Spec:
    import altair as alt

    x = alt.X("x:Q", scale=vega.scale("x"), axis=vega.axis("x"))
    y = alt.Y("y:Q", scale=vega.scale("y"), axis=vega.axis("y", grid=True))
    colour = vega.slot_colour()
    bar = vega.named("points").mark_rule(style="interval", aria=False)
    parts = [
        vega.named("bands").mark_area(style="band", aria=False).encode(x=x, y="lo:Q", y2="hi:Q", color=colour),
        vega.named("curves")
        .mark_line(style="fit")
        .encode(x=x, y=y, color=colour, strokeDash=vega.slot_dash(), description="d:N"),
        vega.named("paths").mark_line(style="path", aria=False).encode(x=x, y=y, color=colour, order="o:Q"),
        bar.encode(x="xl:Q", x2="xh:Q", y=y, color=colour),
        bar.encode(x=x, y="yl:Q", y2="yh:Q", color=colour),
        vega.dots("points", x, y),
    ]
    return alt.layer(*parts, *vega.texts()).to_dict()
