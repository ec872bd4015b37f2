"""What a chart is: a table, words, and a drawing that can be made at any size."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Any, TypeAlias, cast

from builder.charts.frame import HEADING, PAGE_TEXT, Frame, Plot, Scale
from builder.charts.labels import Json, clean, clean_text, shorten
from builder.charts.style import PAGE, Palette, config
from builder.charts.two_units import Said, Turn, as_it_is, twins
from builder.core.quantity import NO_BREAK, SYMBOLS, Estimate, format_estimate, format_number, in_fahrenheit

Spec: TypeAlias = dict[str, Any]
Row: TypeAlias = dict[str, Json]

DASHES = ((1, 0), (7, 2.5), (3, 2), (1.2, 2), (7, 2, 1.5, 2), (1, 0))  # one for each slot, at page text size
NOTE_STYLES = ("label", "strong", "soft", "heading")
MISSING = "not measured"


@dataclass(frozen=True, kw_only=True)
class ChartTable:
    """The numbers of a chart as text: head cells, and rows whose first cell names the row."""

    caption: str
    columns: tuple[str, ...]
    rows: tuple[tuple[str, ...], ...]


@dataclass(frozen=True, kw_only=True)
class Reading:
    """What a chart says beside its picture: the finding in words, and its numbers."""

    description: str
    table: ChartTable


@dataclass(frozen=True, kw_only=True)
class Chart:
    """A chart: id unique on its page, title, the finding in words, its numbers, and how it is drawn.

    `frames` are the sizes a page needs: one, or a wide one and a compact one that the style sheet switches. `draw`
    gives a specification without colours for any frame; it is a function of its frame alone and can be pickled.
    `there` holds words and numbers, and `fahrenheit` what marks say by what they say else, where readers chose °F;
    `trace` gives the columns of a chart over time, for scripts.
    """

    id: str
    title: str
    description: str
    table: ChartTable
    frames: tuple[Frame, ...]
    draw: Callable[[Frame], Spec]
    there: Reading | None = None
    fahrenheit: Mapping[str, str] = field(default_factory=dict)
    trace: Callable[[], Row] | None = None

    @property
    def data(self) -> Row:
        """What scripts read of the chart, ready for JSON; empty where the picture says everything."""
        words: Row = {"fahrenheit": dict(self.fahrenheit)} if self.fahrenheit else {}
        return words | ({"trace": clean(self.trace())} if self.trace else {})

    @property
    def finding(self) -> Said:
        """The finding in words, in both units."""
        return twins(self.description, self.there.description if self.there else "")

    @property
    def cells(self) -> tuple[tuple[Said, ...], ...]:
        """The rows of the table, in both units."""
        here = self.table.rows
        rows = zip(here, self.there.table.rows if self.there else here, strict=True)
        return tuple(tuple(twins(*pair) for pair in zip(*row, strict=True)) for row in rows)

    def spec_for(self, frame: Frame, palette: Palette = PAGE) -> Spec:
        """Return the whole Vega-Lite specification for one frame in one palette."""
        return self.draw(frame) | {"config": config(palette, frame.text)}

    @property
    def spec(self) -> Spec:
        """The specification of the first frame, in the colours of the page."""
        return self.spec_for(self.frames[0])


@dataclass(frozen=True, kw_only=True)
class Note:
    """A piece of text at a place in picture units relative to the plot; `style` is one of NOTE_STYLES.

    `fahrenheit` stands for the text where readers chose °F; empty where the text says no temperature.
    """

    x: float
    y: float
    text: str
    fahrenheit: str = ""
    align: str = "left"
    style: str = "label"


@dataclass(frozen=True, kw_only=True)
class Key:
    """A symbol at a place relative to the plot, in the colour and shape of a slot."""

    x: float
    y: float
    slot: int


def fill(template: Json, values: Mapping[str, Json]) -> Json:
    """Return a copy of a template in which `{"expr": name}`, or the text `@name`, has become the value of that name."""
    if isinstance(template, str) and template.startswith("@"):
        return values[template[1:]]
    if isinstance(template, dict):
        name = template.get("expr")
        if len(template) == 1 and isinstance(name, str) and name in values:
            return values[name]
        return {key: fill(item, values) for key, item in template.items()}
    if isinstance(template, list):
        return [fill(item, values) for item in template]
    return template


@dataclass(frozen=True, kw_only=True)
class Content:
    """What fills a template: values for its places, rows of its data sets, notes and key symbols.

    `heights` are those of panels one above the other; what they leave of the plot's height goes between them. `across`
    and `upright` are the axes of the panels, from the top.
    """

    values: Mapping[str, Json]
    data: Mapping[str, Sequence[Row]]
    notes: Sequence[Note] = ()
    keys: Sequence[Key] = ()
    heights: Sequence[float] = ()
    across: Sequence[Scale] = ()
    upright: Sequence[Scale] = ()


def finish(template: Spec, plot: Plot, content: Content) -> Spec:
    """Return a template filled, with fixed geometry: nothing depends on measured text.

    The picture's outer size, and what its axes say in °F, stand in `usermeta`, where the renderer's post-processing
    finds them.
    """
    spec = cast("Spec", fill(template, content.values))
    _size(spec, plot, content.heights or (plot.height,))
    spec["autosize"] = {"type": "none"}
    spec["padding"] = {"left": plot.left, "top": plot.top, "right": plot.right, "bottom": plot.bottom}
    spec["usermeta"] = {"width": plot.outer_width, "height": plot.outer_height, "fahrenheit": _axes(content)}
    data = {**content.data, **_furniture(content)}
    spec["datasets"] = {name: clean(list(rows)) for name, rows in data.items()}
    return spec


def _axes(content: Content) -> dict[str, Json]:
    axes = (("X", content.across), ("Y", content.upright))
    return {direction: [[*axis.fahrenheit_texts] for axis in found] for direction, found in axes}


def _size(spec: Spec, plot: Plot, heights: Sequence[float]) -> None:
    panels = spec.get("vconcat", [spec])
    for panel, height in zip(panels, heights, strict=True):
        panel |= {"width": plot.width, "height": height}
    if len(panels) > 1:
        spec["spacing"] = tenth((plot.height - sum(heights)) / (len(panels) - 1))


def _furniture(content: Content) -> dict[str, list[Row]]:
    texts = {f"{style}s": [_note_row(note) for note in content.notes if note.style == style] for style in NOTE_STYLES}
    return {**texts, "keys": [{"px": tenth(k.x), "py": tenth(k.y), "c": str(k.slot)} for k in content.keys]}


def _note_row(note: Note) -> Row:
    texts: Row = {"t": clean_text(note.text), "f": clean_text(note.fahrenheit)}
    return {"px": tenth(note.x), "py": tenth(note.y), "a": note.align, **texts}


def dashes(frame: Frame) -> dict[str, Json]:
    """Return the dash patterns of the slots for a template, scaled to the frame's text."""
    unit = frame.text / PAGE_TEXT
    return {f"dash_{slot}": [round(part * unit, 1) for part in dash] for slot, dash in enumerate(DASHES, start=1)}


def axis_values(name: str, axis: Scale) -> dict[str, Json]:
    """Return what a template leaves open of the axis that it calls `name`."""
    domain: list[Json] = [*axis.domain]
    return {f"{name}_domain": domain, f"{name}_ticks": list(axis.ticks), f"{name}_format": axis.format}


def tenth(value: float) -> float:
    """Return a length to one decimal, which is finer than a screen shows."""
    return round(float(value), 1) + 0.0


def heading(frame: Frame, plot: Plot, title: str) -> list[Note]:
    """Return the heading of a still; nothing for a page."""
    if not frame.still:
        return []
    y = frame.em(1.6) + frame.em(0.6) - plot.top
    text = shorten(clean_text(title), plot.outer_width - frame.em(3.2), frame.text * HEADING)
    return [Note(x=frame.em(1.6) - plot.left, y=y, text=text, style="heading")]


def axis_room(axis: Scale, frame: Frame) -> float:
    """Return the width that the tick labels of an upright axis need."""
    return max(frame.room(*axis.tick_texts) + frame.em(0.6), frame.em(2.6))


def axis_note(name: Said, plot: Plot, frame: Frame) -> Note:
    """Return the name of a horizontal axis, below its right end."""
    return said_note(name, x=plot.width, y=plot.height + frame.em(2.35), align="right", style="soft")


def said_note(words: Said, *, x: float, y: float, align: str = "left", style: str = "label") -> Note:
    """Return a note that says a temperature."""
    return Note(x=x, y=y, text=words.text, fahrenheit=words.fahrenheit, align=align, style=style)


def cell(estimate: Estimate | None, turn: Turn = as_it_is, *, sign: bool = False) -> str:
    """Return a table cell: value with its expanded uncertainty and unit."""
    return MISSING if estimate is None else format_estimate(turn(estimate), sign=sign)


def two_units(said: Iterable[tuple[Callable[[Estimate], str], Estimate]]) -> dict[str, str]:
    """Return what marks say in °F by what they say else, from pairs of a sentence and the figure that it is about."""
    pairs = ((words, figure, in_fahrenheit(figure)) for words, figure in said)
    return {clean_text(words(figure)): clean_text(words(other)) for words, figure, other in pairs if other}


def plain(number: Estimate, decimals: int) -> str:
    """Return a number with its unit and without its uncertainty.

    >>> plain(Estimate(value=284.0, u=0.8, unit="W"), 0).replace(NO_BREAK, " ")
    '284 W'
    """
    return f"{format_number(number.value, decimals)}{NO_BREAK}{SYMBOLS[number.unit]}"


# --- Layers that the chart kinds share, built through Altair


if TYPE_CHECKING:
    import altair as alt

SLOTS = [str(slot) for slot in range(1, 7)]


def named(data: str) -> alt.Chart:
    """Return an empty chart on a named data set."""
    import altair as alt

    return alt.Chart(alt.NamedData(data))


def value(name: str) -> alt.ExprRef:
    """Return a place in a template that `base.fill` replaces; names that start with `datum.` stay."""
    import altair as alt

    return alt.ExprRef(name)


def scale(name: str) -> alt.Scale:
    """Return the scale of the axis that a template calls `name`, with its domain left open."""
    import altair as alt

    return alt.Scale(domain=value(f"{name}_domain"), nice=False, zero=False)


def axis(name: str, *, grid: bool = False, labels: bool = True) -> alt.Axis:
    """Return an axis without title, with its ticks and their format left open."""
    import altair as alt

    return alt.Axis(title=None, values=value(f"{name}_ticks"), format=f"@{name}_format", grid=grid, labels=labels)


def slot_colour() -> alt.Color:
    """Return the colour encoding: slot number to the palette's colour, never a legend."""
    import altair as alt

    return alt.Color("c:N", scale=alt.Scale(domain=SLOTS), legend=None)


def slot_shape() -> alt.Shape:
    """Return the shape encoding, so that colour is not the only cue."""
    import altair as alt

    return alt.Shape("c:N", scale=alt.Scale(domain=SLOTS), legend=None)


def slot_dash() -> alt.StrokeDash:
    """Return the dash encoding of lines, so that colour is not the only cue."""
    import altair as alt

    return alt.StrokeDash(
        "c:N", scale=alt.Scale(domain=SLOTS, range=[value(f"dash_{slot}") for slot in SLOTS]), legend=None
    )


def texts() -> list[alt.Chart]:
    """Return the layers for notes: labels, strong ones, soft remarks and a heading, each placed in picture units.

    A description carries what stands for the text in °F, up to the renderer's post-processing.
    """
    return [_text_layer(f"{style}s", style) for style in NOTE_STYLES]


def _text_layer(data: str, style: str) -> alt.Chart:
    mark = named(data).mark_text(style=style, x=value("datum.px"), y=value("datum.py"), align=value("datum.a"))
    layer: alt.Chart = mark.encode(text="t:N", description="f:N")
    return layer


def keys() -> alt.Chart:
    """Return the layer of key symbols, placed in picture units."""
    mark = named("keys").mark_point(style="key", filled=True, aria=False, x=value("datum.px"), y=value("datum.py"))
    layer: alt.Chart = mark.encode(color=slot_colour(), shape=slot_shape())
    return layer


def swatches() -> alt.Chart:
    """Return the layer of short line samples, placed in picture units."""
    mark = named("swatches").mark_point(
        style="swatch", shape="stroke", filled=False, aria=False, x=value("datum.px"), y=value("datum.py")
    )
    layer: alt.Chart = mark.encode(color=slot_colour(), strokeDash=slot_dash())
    return layer
