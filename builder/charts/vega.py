"""Vega-Lite specifications: templates of layers, built once through Altair, and what fills them."""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, cast

from builder.charts.chart import Row, Spec
from builder.charts.frame import PAGE_TEXT, Frame, Plot, Scale
from builder.charts.labels import Json, clean, clean_text
from builder.charts.style import Slot
from builder.charts.two_units import Said

if TYPE_CHECKING:
    import altair as alt

DASHES = (
    (1, 0),
    (7, 2.5),
    (3, 2),
    (1.2, 2),
    (7, 2, 1.5, 2),
    (1, 0),
    (5, 1.5),
    (1, 0),
    (1, 0),
)  # by slot
NOTE_STYLES = ("label", "strong", "soft", "heading")
SLOTS = [str(int(slot)) for slot in Slot]


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

    @property
    def row(self) -> Row:
        """The note as a row of a data set."""
        texts: Row = {"t": clean_text(self.text), "f": clean_text(self.fahrenheit)}
        return {"px": tenth(self.x), "py": tenth(self.y), "a": self.align, **texts}


def said_note(words: Said, *, x: float, y: float, align: str = "left", style: str = "label") -> Note:
    """Return a note that says a temperature."""
    return Note(x=x, y=y, text=words.text, fahrenheit=words.fahrenheit, align=align, style=style)


def axis_note(name: Said, plot: Plot, frame: Frame) -> Note:
    """Return the name of a horizontal axis, below its right end."""
    return said_note(name, x=plot.width, y=plot.height + frame.em(2.35), align="right", style="soft")


@dataclass(frozen=True, kw_only=True)
class Key:
    """A symbol at a place relative to the plot, in the colour and shape of a slot."""

    x: float
    y: float
    slot: int


# --- filling a template ----------------------------------------------------------------------------------------


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
    axes = (("X", content.across), ("Y", content.upright))
    fahrenheit = {direction: [[*axis.fahrenheit_texts] for axis in found] for direction, found in axes}
    spec["usermeta"] = {"width": plot.outer_width, "height": plot.outer_height, "fahrenheit": fahrenheit}
    data: dict[str, Sequence[Row]] = {
        **content.data,
        **{f"{style}s": [note.row for note in content.notes if note.style == style] for style in NOTE_STYLES},
        "keys": [{"px": tenth(key.x), "py": tenth(key.y), "c": str(int(key.slot))} for key in content.keys],
    }
    spec["datasets"] = {name: clean(list(rows)) for name, rows in data.items()}
    return spec


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


def _size(spec: Spec, plot: Plot, heights: Sequence[float]) -> None:
    panels = spec.get("vconcat", [spec])
    for panel, height in zip(panels, heights, strict=True):
        panel |= {"width": plot.width, "height": height}
    if len(panels) > 1:
        spec["spacing"] = tenth((plot.height - sum(heights)) / (len(panels) - 1))


def dashes(frame: Frame) -> dict[str, Json]:
    """Return the dash patterns of the slots for a template, scaled to the frame's text."""
    unit = frame.text / PAGE_TEXT
    return {f"dash_{slot}": [round(part * unit, 1) for part in dash] for slot, dash in enumerate(DASHES, start=1)}


def axis_values(name: str, axis: Scale) -> dict[str, Json]:
    """Return what a template leaves open of the axis that it calls `name`."""
    domain: list[Json] = [*axis.domain]
    return {f"{name}_domain": domain, f"{name}_ticks": list(axis.ticks), f"{name}_format": axis.format}


def axis_room(axis: Scale, frame: Frame) -> float:
    """Return the width that the tick labels of an upright axis need."""
    return max(frame.room(*axis.tick_texts) + frame.em(0.6), frame.em(2.6))


def tenth(value: float) -> float:
    """Return a length to one decimal, which is finer than a screen shows."""
    return round(float(value), 1) + 0.0


# --- the parts of a template -----------------------------------------------------------------------------------


def named(data: str) -> alt.Chart:
    """Return an empty chart on a named data set."""
    import altair as alt

    return alt.Chart(alt.NamedData(data))


def part(name: str, layer: alt.Chart, *, panel: str = "") -> alt.Chart:
    """Return a layer whose marks get a `data-part` in the picture, by which scripts find them.

    The same part of several panels tells them apart by `panel`: no two layers may have one name.
    """
    named_layer: alt.Chart = layer.properties(name=f"part_{name}__{panel}")
    return named_layer


def part_of(name: str) -> str:
    """Return the part that a renderer's name of a group of marks stands for; empty where it is none.

    >>> part_of("mark-rule role-mark part_window_start__upper_0_marks"), part_of("mark-rule role-mark layer_1_marks")
    ('window-start', '')
    """
    found = re.search(r"\bpart_(\w+?)__\w*_marks", name)
    return found.group(1).replace("_", "-") if found else ""


def value(name: str) -> alt.ExprRef:
    """Return a place in a template that `fill` replaces; names that start with `datum.` stay."""
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

    dashes = [value(f"dash_{slot}") for slot in SLOTS]
    return alt.StrokeDash("c:N", scale=alt.Scale(domain=SLOTS, range=dashes), legend=None)


def dots(data: str, x: alt.X, y: alt.Y) -> alt.Chart:
    """Return the layer of values: dots in the colour and shape of their slot, each of which says its words."""
    mark = named(data).mark_point(style="dot", filled=True)
    layer: alt.Chart = mark.encode(x=x, y=y, color=slot_colour(), shape=slot_shape(), description="d:N")
    return layer


def texts() -> list[alt.Chart]:
    """Return the layers for notes: labels, strong ones, soft remarks and a heading, each placed in picture units."""
    return [text_layer(f"{style}s", style) for style in NOTE_STYLES]


def text_layer(data: str, style: str) -> alt.Chart:
    """Return the layer for notes of one data set.

    A description carries what stands for the text in °F, up to the renderer's post-processing.
    """
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
