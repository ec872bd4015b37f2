"""Layers that the chart kinds share, built through Altair."""

from __future__ import annotations

from typing import TYPE_CHECKING

from builder.charts.base import NOTE_STYLES

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
