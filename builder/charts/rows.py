"""Charts made of rows: a name, and dots with their intervals on a common axis."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from functools import cache
from itertools import chain

from builder.charts import vega
from builder.charts.chart import Row, Spec, interval
from builder.charts.frame import Frame, Margins, Plot, Scale, plot_area, scale
from builder.charts.labels import clean_text, shorten_apart, text_width
from builder.charts.still_notes import foot, heading
from builder.charts.style import Slot
from builder.charts.two_units import NOTHING, Axis, Said
from builder.charts.vega import Content, Key, Note, axis_note, axis_values, finish, said_note
from builder.core.quantity import Estimate
from builder.core.results import BOUND_WORDS, Bound

LINE = 1.3  # text sizes from one line of text to the next
TIE_STEP = 0.5  # from one bar of ties to the next
TEXT_LINE, MARK_LINE = 1.15, 0.75  # the same, of the lines inside a row: with text beside the dots, and without


@dataclass(frozen=True, kw_only=True)
class Dot:
    """A value with its interval: slot, what hovering says, and the text drawn beside it (none where empty)."""

    slot: Slot
    low: float
    value: float
    high: float
    words: str
    text: str = ""


def interval_dot(estimate: Estimate, slot: Slot, words: str, text: str = "") -> Dot:
    """Return a dot with the estimate's 95 % interval."""
    low, high = interval(estimate)
    return Dot(slot=slot, low=low, value=estimate.value, high=high, words=words, text=text)


def bound_dot(estimate: Estimate, bound: Bound, slot: Slot, words: str) -> Dot:
    """Return a dot at the end of the estimate's interval beyond which the figure lies, with "at least" or "at most"."""
    low, high = interval(estimate)
    end = low if bound is Bound.LOWER else high
    return Dot(slot=slot, low=end, value=end, high=end, words=words, text=BOUND_WORDS[bound])


@dataclass(frozen=True, kw_only=True)
class DotRow:
    """One row: its name with its kind, its dots, and a remark at the right edge; `strong` sets the name off."""

    name: str
    dots: tuple[Dot, ...]
    kind: str = ""
    remark: Said = NOTHING
    strong: bool = False


@dataclass(frozen=True, kw_only=True)
class KeyEntry:
    """A line of the key: which slot means what."""

    slot: Slot
    name: str


@dataclass(frozen=True, kw_only=True)
class RowChart:
    """What a chart of rows shows.

    With `sublines` each slot of the key has a line of its own inside a row. `foot` is said at the foot of a still. The
    axis reaches zero, where a line is drawn.
    """

    title: str
    axis: Axis
    rows: tuple[DotRow, ...]
    key: tuple[KeyEntry, ...] = ()
    sublines: bool = False
    foot: str = ""
    sides: tuple[str, str] = ("", "")  # what lies left and right of zero, above the first row
    ties: tuple[tuple[int, int], ...] = ()  # first and last row of each bar that joins rows

    @property
    def kinds(self) -> bool:
        """Whether some row has a kind below its name."""
        return any(row.kind for row in self.rows)

    @property
    def lines(self) -> int:
        """How many lines of marks a row has."""
        return max(len(self.key), 1) if self.sublines else 1

    @property
    def line_height(self) -> float:
        """Text sizes from one line of marks to the next: more where text stands beside dots."""
        return TEXT_LINE if any(dot.text for row in self.rows for dot in row.dots) else MARK_LINE


@dataclass(frozen=True, kw_only=True)
class _KeyPlace:
    entry: KeyEntry
    x: float
    line: int


@dataclass(frozen=True, kw_only=True)
class _Layout:
    frame: Frame
    plot: Plot
    axis: Scale
    pitch: float  # height of a row
    head: float  # its upper part, where the name stands in a compact picture
    names: float  # width of the names beside the plot, 0 where they stand above
    remarks: float  # the same of the remarks
    key: tuple[_KeyPlace, ...]
    subline: float  # from one line of marks to the next inside a row

    def line_y(self, row: int, line: int, lines: int) -> float:
        """Return the height of a line of marks, from the top of the plot."""
        middle = row * self.pitch + self.head + (self.pitch - self.head) / 2
        return middle + (line - (lines - 1) / 2) * self.subline

    def x(self, value: float) -> float:
        """Return the place of a value, from the left of the plot."""
        return self.axis.place(value, self.plot.width)


def draw_rows(chart: RowChart, frame: Frame) -> Spec:
    """Return the specification of a chart of rows for a frame."""
    layout = _layout(chart, frame)
    places = list(_places(chart, layout))
    keys, key_notes = _key(layout)
    content = Content(
        values={**axis_values("x", layout.axis), "depth": [0, layout.plot.height]},
        data=_data(chart, places, layout),
        notes=[
            *_names(chart, layout),
            *_texts(places, layout),
            *key_notes,
            *_sides(chart, layout),
            axis_note(chart.axis.name, layout.plot, frame),
            *heading(frame, layout.plot, chart.title),
            *foot(frame, layout.plot, chart.foot),
        ],
        keys=keys,
        across=(layout.axis,),
    )
    return finish(_template(), layout.plot, content)


# --- layout ----------------------------------------------------------------------------------------------------


def _layout(chart: RowChart, frame: Frame) -> _Layout:
    names = remarks = 0.0
    if frame.broad:
        texts = (clean_text(text) for row in chart.rows for text in (row.name, row.kind))
        widest = max((text_width(text, frame.text) for text in texts), default=0.0)
        names = min(widest, frame.width * 0.32) + frame.em(1)
        remarks = frame.room(*(row.remark for row in chart.rows))
        remarks += frame.em(0.8 + TIE_STEP * len(chart.ties)) if remarks else 0.0
    axis = _axis(chart, frame.width - names - remarks - frame.em(2), frame)
    side = max(frame.em(0.7), frame.room(*axis.tick_texts) / 2)
    key = tuple(_key_places(chart.key, frame))
    lines = (key[-1].line + 1 if key else 0) + any(chart.sides)
    margins = Margins(left=side + names, right=side + remarks, top=frame.em(lines * LINE + 0.4), bottom=frame.em(3.3))
    name_lines = LINE if frame.broad and chart.kinds else 0.0
    height = max(chart.lines * chart.line_height, TEXT_LINE) + (0.6 + name_lines if frame.broad else LINE + 0.5)
    plot = plot_area(frame, margins, frame.em(height) * len(chart.rows))
    pitch = plot.height / max(len(chart.rows), 1)
    head = 0.0 if frame.broad else frame.em(LINE)
    return _Layout(
        frame=frame,
        plot=plot,
        axis=axis,
        pitch=pitch,
        head=head,
        names=names,
        remarks=remarks,
        key=key,
        subline=min(frame.em(chart.line_height), (pitch - head) / chart.lines),
    )


def _axis(chart: RowChart, width: float, frame: Frame) -> Scale:
    numbers = chain.from_iterable((d.low, d.value, d.high) for row in chart.rows for d in row.dots)
    room = max(
        (text_width(dot.text, frame.text) + frame.em(0.8) for row in chart.rows for dot in row.dots if dot.text),
        default=0.0,
    )
    share = min(room / width, 0.4)
    return scale(numbers, count=6, zero=True, pad=0.03 + share / (1 - share)).of(chart.axis.unit)


def _key_places(entries: Sequence[KeyEntry], frame: Frame) -> Iterator[_KeyPlace]:
    room = frame.width - frame.em(1.4)
    line, x = 0, 0.0
    for entry in entries:
        width = text_width(entry.name, frame.text) + frame.em(2.2)
        if x and x + width - frame.em(1) > room:
            line, x = line + 1, 0.0
        yield _KeyPlace(entry=entry, x=x, line=line)
        x += width


# --- marks and notes -------------------------------------------------------------------------------------------


@dataclass(frozen=True, kw_only=True)
class _Place:
    dot: Dot
    y: float


def _places(chart: RowChart, layout: _Layout) -> Iterator[_Place]:
    slots = [entry.slot for entry in chart.key]
    for index, row in enumerate(chart.rows):
        for dot in row.dots:
            line = slots.index(dot.slot) if chart.sublines and dot.slot in slots else 0
            yield _Place(dot=dot, y=layout.line_y(index, line, chart.lines))


def _data(chart: RowChart, places: Sequence[_Place], layout: _Layout) -> dict[str, list[Row]]:
    rows = range(len(chart.rows))
    # The zero line leaves out the names that stand above their rows.
    tops = [row * layout.pitch + layout.head for row in rows] if layout.axis.low <= 0 <= layout.axis.high else []
    return {
        "dots": [
            {"lo": dot.low, "v": dot.value, "hi": dot.high, "y": y, "c": str(dot.slot), "d": clean_text(dot.words)}
            for dot, y in ((place.dot, round(place.y, 2)) for place in places)
        ],
        "ties": list(_ties(chart, layout)),
        "guides": [] if chart.sublines else [{"y": layout.line_y(row, 0, 1)} for row in rows],
        "breaks": [{"y": row * layout.pitch} for row in rows[1:]] if chart.sublines else [],
        "zero": [{"v": 0, "y": top, "y2": top - layout.head + layout.pitch} for top in tops],
    }


def _ties(chart: RowChart, layout: _Layout) -> Iterator[Row]:
    """Give the bars that join rows: beside the plot where names stand there too, else in the plot's right edge."""
    half = layout.pitch * 0.32
    for index, (first, last) in enumerate(chart.ties):
        x = layout.plot.width + layout.frame.em(0.6 + TIE_STEP * index) * (1 if layout.frame.broad else -1)
        top, end = (layout.line_y(row, 0, 1) for row in (first, last))
        yield {"px": round(x, 1), "y": round(top - half, 2), "y2": round(end + half, 2)}


def _names(chart: RowChart, layout: _Layout) -> Iterator[Note]:
    frame = layout.frame
    edge = layout.plot.width + layout.remarks
    room = layout.names if frame.broad else layout.plot.width
    beside = [0.0 if frame.broad else frame.room(row.remark) + _kind_width(row, frame) for row in chart.rows]
    rooms = [room - taken - frame.em(1) for taken in beside]
    names = shorten_apart([clean_text(row.name) for row in chart.rows], rooms, frame.text)
    for index, (row, text) in enumerate(zip(chart.rows, names, strict=True)):
        y = layout.line_y(index, 0, 1) if frame.broad else index * layout.pitch + frame.em(0.85)
        style = "strong" if row.strong else "label"
        yield Note(x=-layout.names, y=y - (frame.em(0.55) if frame.broad and row.kind else 0), text=text, style=style)
        if row.kind and frame.broad:
            yield Note(x=-layout.names, y=y + frame.em(0.6), text=clean_text(row.kind), style="soft")
        elif row.kind:
            yield Note(x=text_width(text, frame.text) + frame.em(0.9), y=y, text=clean_text(row.kind), style="soft")
        if row.remark.text:
            yield said_note(row.remark, x=edge, y=y, align="right")


def _kind_width(row: DotRow, frame: Frame) -> float:
    return text_width(clean_text(row.kind), frame.text) + frame.em(0.9) if row.kind else 0.0


def _sides(chart: RowChart, layout: _Layout) -> Iterator[Note]:
    """Say above the first row what lies on either side of zero."""
    left, right = chart.sides
    x, gap, y = layout.x(0.0), layout.frame.em(0.7), -layout.frame.em(0.7)
    if left:
        yield Note(x=x - gap, y=y, text=left, align="right", style="soft")
    if right:
        yield Note(x=x + gap, y=y, text=right, style="soft")


def _texts(places: Sequence[_Place], layout: _Layout) -> Iterator[Note]:
    gap = layout.frame.em(0.6)
    for place in places:
        dot = place.dot
        if dot.text and dot.value < 0:
            yield Note(x=layout.x(dot.low) - gap, y=place.y, text=dot.text, align="right")
        elif dot.text:
            yield Note(x=layout.x(dot.high) + gap, y=place.y, text=dot.text)


def _key(layout: _Layout) -> tuple[list[Key], list[Note]]:
    """Return the symbols of the key, and what stands beside them."""
    frame, keys, notes = layout.frame, [], []
    for place in layout.key:
        x, y = place.x - layout.names, -frame.em((layout.key[-1].line - place.line + 0.5) * LINE + 0.4)
        keys.append(Key(x=frame.em(0.45) + x, y=y, slot=place.entry.slot))
        notes.append(Note(x=frame.em(1.2) + x, y=y, text=place.entry.name, style="soft"))
    return keys, notes


# --- template --------------------------------------------------------------------------------------------------


@cache
def _template() -> Spec:
    import altair as alt

    x = alt.X("v:Q", scale=vega.scale("x"), axis=vega.axis("x"))
    y = alt.Y("y:Q", scale=alt.Scale(domain=vega.value("depth"), reverse=True, nice=False), axis=None)
    interval = vega.named("dots").mark_rule(style="interval", aria=False)
    parts = [
        vega.named("breaks").mark_rule(style="guide", aria=False).encode(y=y),
        vega.named("guides").mark_rule(style="guide", aria=False).encode(y=y),
        vega.named("zero").mark_rule(style="zero", aria=False).encode(x="v:Q", y=y, y2="y2:Q"),
        interval.encode(x="lo:Q", x2="hi:Q", y=y, color=vega.slot_colour()),
        vega.dots("dots", x, y),
        vega.named("ties").mark_rule(style="tie", aria=False, x=vega.value("datum.px")).encode(y=y, y2="y2:Q"),
    ]
    return alt.layer(*parts, vega.keys(), *vega.texts()).to_dict()
