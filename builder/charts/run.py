"""A run over time: temperatures in one panel, power below, the averaging window shaded."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from functools import cache, partial
from itertools import chain
from typing import TYPE_CHECKING

import numpy as np

from builder.charts import vega
from builder.charts.chart import Chart, ChartTable, Reading, Row, Spec, cell, chart_of, plain
from builder.charts.frame import COMPACT, WIDE, Frame, Margins, Plot, Scale, plot_area, scale
from builder.charts.labels import clean_text, shorten, spread
from builder.charts.line_thinning import Cells, cell_length, cells, same_picture
from builder.charts.still_notes import heading
from builder.charts.style import Slot
from builder.charts.two_units import Said, Turn, exact, said, symbol, tellable
from builder.charts.vega import Content, Note, axis_room, axis_values, dashes, finish, said_note, tenth
from builder.core.quantity import SYMBOLS, Estimate, FloatArray, estimate_parts, format_estimate, in_fahrenheit
from builder.core.results import Verdict, Window
from builder.core.words import listed

if TYPE_CHECKING:
    import altair as alt

MOST_CELLS = {"compact": 90, "wide": 180}
AVERAGED = "averaged"
GAP_ROWS = 2.9  # text sizes between the panels: tick labels of one, title of the other


@dataclass(frozen=True, kw_only=True, eq=False)
class RunTrace:
    """One line of the chart: seconds of the run and values, shape (n,) each, and their mean in the window.

    `unit` is `degC` or `W`. NaN is missing.
    """

    name: str
    slot: Slot
    unit: str
    time_s: FloatArray
    values: FloatArray
    mean: Estimate | None = None
    short: str = ""  # for its end of the line, where the name is long

    @property
    def measured(self) -> FloatArray:
        """The values that are not missing."""
        return self.values[np.isfinite(self.values)]


@dataclass(frozen=True, kw_only=True, eq=False)
class RunTraces:
    """What the chart of a run shows."""

    id: str
    title: str
    temperatures: tuple[RunTrace, ...]
    power: RunTrace | None = None
    window: Window | None = None
    verdict: Verdict | None = None

    @property
    def lines(self) -> tuple[RunTrace, ...]:
        """All lines of the chart; power is the last."""
        return (*self.temperatures, self.power) if self.power else self.temperatures

    @property
    def logged(self) -> tuple[RunTrace, ...]:
        """The lines that have a value."""
        return tuple(line for line in self.lines if line.measured.size)

    @property
    def duration_s(self) -> float:
        """How long the time axis is, in s: to the last sample, or to the end of the window."""
        ends = [float(np.nanmax(line.time_s)) for line in self.lines if line.time_s.size]
        return max([*ends, self.window.end_s if self.window else 0.0]) or 60.0


def run_chart(run: RunTraces) -> Chart:
    """Return the chart of a run; on a page in means with a band from lowest to highest, in stills at full rate."""
    return chart_of(
        run.id, run.title, partial(_read, run), partial(_draw, run), frames=(WIDE, COMPACT), trace=partial(_trace, run)
    )


# --- columns for scripts ---------------------------------------------------------------------------------------


def _trace(run: RunTraces) -> Row:
    """Return the lines as columns on one grid of cells, and where each frame draws them.

    Cell i is centred at (i + 0.5) times `step` seconds; panels are [offset from the first, height, low, high].
    """
    step = cell_length(run.duration_s, MOST_CELLS[WIDE.name])
    size = math.ceil(run.duration_s / step) + 1
    return {
        "step": step,
        "minutes": [0.0, run.duration_s / 60],
        "window": [run.window.start_s / 60, run.window.end_s / 60] if run.window else None,
        "lines": [_columns(line, cells(line.time_s, line.values, step), size) for line in run.logged],
        "frames": {frame.name: _places(_panels(run, frame)) for frame in (WIDE, COMPACT)},
    }


def _columns(line: RunTrace, thin: Cells, size: int) -> Row:
    return {
        "slot": int(line.slot),
        "name": clean_text(line.name),
        "unit": SYMBOLS[line.unit],
        "panel": int(line.unit != "degC"),
        "digits": [*_digits(line)],
        "mean": [*tellable(_on_grid(thin, thin.mean, size), line.unit, _digits(line))],
        "low": [*np.round(_on_grid(thin, thin.low, size), 1).tolist()],  # only drawn, as the highest
        "high": [*np.round(_on_grid(thin, thin.high, size), 1).tolist()],
    }


def _on_grid(thin: Cells, column: FloatArray, size: int) -> FloatArray:
    """Return a column from cell 0 on; missing where the cell is empty or outside."""
    places = np.floor(thin.time_s / thin.length_s).astype(int)
    whole = np.full(size, np.nan)
    inside = (places >= 0) & (places < size)
    whole[places[inside]] = column[inside]
    return whole


def _digits(line: RunTrace) -> tuple[int, int]:
    """Return with how many decimals a line is read in its unit, and where readers chose °F."""
    most = _most_decimals(line.unit)
    there = in_fahrenheit(line.mean) if line.mean else None
    return (_decimals(line.mean), _decimals(there or line.mean)) if line.mean else (most, most)


def _places(panels: _Panels) -> Row:
    lower = tenth(panels.upper + panels.gap)
    return {
        "left": panels.plot.left,
        "top": panels.plot.top,
        "width": panels.plot.width,
        "panels": [[0, panels.upper, *panels.temperature.domain], [lower, panels.lower, *panels.power.domain]],
    }


# --- words and numbers -----------------------------------------------------------------------------------------


def _read(run: RunTraces, turn: Turn) -> Reading:
    columns = ("Quantity", *(["Mean in the window"] if run.window else []), "Lowest", "Highest")
    rows = tuple(
        (line.name, *([cell(line.mean, turn)] if run.window else []), *_extremes(line, turn)) for line in run.logged
    )
    return Reading(description=_describe(run, turn), table=ChartTable(caption=run.title, columns=columns, rows=rows))


def _describe(run: RunTraces, turn: Turn) -> str:
    if run.window is None:
        state = f" It is {run.verdict}." if run.verdict else ""
        return f"The run of {_minutes(run.duration_s)} minutes has no averaging window, so no mean is drawn.{state}"
    parts = [f"{line.name.lower()} {format_estimate(turn(line.mean))}" for line in run.lines if line.mean]
    span = f"minutes {_minutes(run.window.start_s)} to {_minutes(run.window.end_s)}"
    state = f"The run is {run.verdict}. " if run.verdict else ""
    means = f"Means over {span}: {listed(parts)}." if parts else f"The averaging window is {span}."
    return f"{state}{means}"


def _minutes(seconds: float) -> str:
    return f"{seconds / 60:.3g}"


def _extremes(line: RunTrace, turn: Turn) -> tuple[str, str]:
    lowest, highest = (turn(exact(float(end(line.values)), line.unit)) for end in (np.nanmin, np.nanmax))
    return plain(lowest, 1), plain(highest, 1)


# --- drawing ---------------------------------------------------------------------------------------------------


@dataclass(frozen=True, kw_only=True)
class _Panels:
    plot: Plot
    upper: float
    lower: float
    gap: float
    time: Scale
    temperature: Scale
    power: Scale


def _draw(run: RunTraces, frame: Frame) -> Spec:
    panels = _panels(run, frame)
    upper = _rows(run.temperatures, run, frame)
    lower = _rows((run.power,), run, frame) if run.power else []
    ends = list(_ends(run, panels, frame))
    heights = (panels.upper, panels.lower) if run.power else (panels.upper,)
    content = Content(
        heights=heights,
        values={
            **dashes(frame),
            **axis_values("time", panels.time),
            **axis_values("temperature", panels.temperature),
            **axis_values("power", panels.power),
        },
        data={
            "upper": upper,
            "lower": lower,
            "swatches": [end.swatch for end in ends],
            **_window_rows(run.window, panels, frame),
        },
        notes=[*(end.note for end in ends), *_axis_notes(run, panels, frame), *heading(frame, panels.plot, run.title)],
        across=(panels.time,) * len(heights),
        upright=(panels.temperature, panels.power)[: len(heights)],
    )
    return finish(_template(with_power=run.power is not None), panels.plot, content)


def _panels(run: RunTraces, frame: Frame) -> _Panels:
    gap = frame.em(GAP_ROWS) if run.power else 0.0
    height = frame.em(18 if frame.broad else 16) + (gap + frame.em(5.5) if run.power else 0)
    temperature = scale(chain.from_iterable(_limits(line) for line in run.temperatures), count=5).of("degC")
    power = scale(_limits(run.power) if run.power else (), count=2, zero=True).of("W")
    ends = frame.room(*(_end_text(line, frame) for line in run.lines))
    right = max(ends + frame.em(2.3), frame.em(5.2))  # the name of the time axis stands there too
    left = max(axis_room(temperature, frame), axis_room(power, frame))
    plot = plot_area(frame, Margins(left=left, top=frame.em(1.7), right=right, bottom=frame.em(1.9)), height=height)
    upper = (plot.height - gap) * (0.75 if run.power else 1)
    return _Panels(
        plot=plot,
        upper=tenth(upper),
        lower=tenth(plot.height - gap - upper),
        gap=gap,
        time=scale([0.0, run.duration_s / 60], count=6, tight=True),
        temperature=temperature,
        power=power,
    )


def _limits(line: RunTrace) -> tuple[float, ...]:
    return (float(line.measured.min()), float(line.measured.max())) if line.measured.size else ()


def _rows(lines: Sequence[RunTrace], run: RunTraces, frame: Frame) -> list[Row]:
    rows = (_full_rows(line, frame) if frame.still else _cell_rows(line, run, frame) for line in lines)
    return list(chain.from_iterable(rows))


def _full_rows(line: RunTrace, frame: Frame) -> list[Row]:
    start = {"c": str(int(line.slot)), "d": line.name}
    drawn = same_picture(line.time_s, line.values, round(frame.width))
    pairs = zip(drawn.time_s.tolist(), drawn.values.tolist(), strict=True)
    return [{"t": t / 60, "v": v, "lo": None, "hi": None, **start} for t, v in pairs]


def _cell_rows(line: RunTrace, run: RunTraces, frame: Frame) -> list[Row]:
    thin = cells(line.time_s, line.values, cell_length(run.duration_s, MOST_CELLS[frame.name]))
    start = {"c": str(int(line.slot)), "d": f"{line.name}, means of {thin.length_s:.0f} s with lowest and highest"}
    columns = (np.round(column, 3).tolist() for column in (thin.time_s / 60, thin.mean, thin.low, thin.high))
    return [{"t": t, "v": v, "lo": lo, "hi": hi, **start} for t, v, lo, hi in zip(*columns, strict=True)]


def _window_rows(window: Window | None, panels: _Panels, frame: Frame) -> dict[str, list[Row]]:
    """Return the averaging window and its name above it, which ends with it where it is too narrow for the name."""
    if window is None:
        return {"window": [], "averaged": []}
    left, right = (panels.time.place(s / 60, panels.plot.width) for s in (window.start_s, window.end_s))
    x, align = ((left + right) / 2, "center") if right - left > frame.em(4.5) else (right, "right")
    name = Note(x=x, y=-frame.em(0.55), text="averaged", align=align)
    return {"window": [{"t": window.start_s / 60, "t2": window.end_s / 60}], "averaged": [name.row]}


def _axis_notes(run: RunTraces, panels: _Panels, frame: Frame) -> Iterator[Note]:
    plot = panels.plot
    yield Note(x=plot.width + frame.em(0.9), y=plot.height + frame.em(1.1), text="minutes", style="soft")
    yield said_note(said(partial(symbol, "degC")), x=-frame.em(2.6), y=-_unit_height(panels, frame), style="soft")
    if run.power:
        y = panels.upper + panels.gap - frame.em(0.55)
        yield Note(x=-frame.em(2.6), y=y, text="W", style="soft")


def _unit_height(panels: _Panels, frame: Frame) -> float:
    """Return how far above the panel its unit stands: clear of a number of three digits at its upper edge."""
    depths = (panels.upper - panels.temperature.place(tick, panels.upper) for tick in panels.temperature.ticks)
    crowded = not frame.still and min(depths, default=panels.upper) < frame.em(0.6)
    return frame.em(1.0 if crowded else 0.55)


@dataclass(frozen=True, kw_only=True)
class _End:
    """What stands right of the end of a line: a sample of it and its name."""

    swatch: Row
    note: Note


def _ends(run: RunTraces, panels: _Panels, frame: Frame) -> Iterator[_End]:
    upper = [line for line in run.logged if line is not run.power]
    wishes = [panels.upper - panels.temperature.place(_last(line), panels.upper) for line in upper]
    heights = list(spread(wishes, frame.em(1.25), 0, panels.upper))
    lower = [line for line in run.logged if line is run.power]
    heights += [
        panels.upper + panels.gap + (panels.lower - panels.power.place(_last(line), panels.lower)) for line in lower
    ]
    x = panels.plot.width + frame.em(0.5)
    for line, y in zip([*upper, *lower], heights, strict=True):
        yield _End(
            swatch={"px": tenth(x + frame.em(0.7)), "py": tenth(y), "c": str(int(line.slot))},
            note=said_note(_end_text(line, frame), x=x + frame.em(1.6), y=y),
        )


def _last(line: RunTrace) -> float:
    """Return the level of the last tenth, which is where the eye looks for the label."""
    return float(np.mean(line.measured[-max(1, math.ceil(line.measured.size / 10)) :]))


def _end_text(line: RunTrace, frame: Frame) -> Said:
    """Return what stands at the end of a line: its name, and its mean where there is room."""
    name = shorten(clean_text(line.short or line.name), frame.em(8 if frame.broad else 6), frame.text)
    mean = line.mean
    if not frame.broad or mean is None:
        return Said(text=name)
    return said(lambda turn: f"{name} {plain(turn(mean), _decimals(turn(mean)))}")


def _decimals(mean: Estimate) -> int:
    """Return how many decimals its uncertainty leaves, and no more than a line in a picture tells."""
    return min(estimate_parts(mean).decimals, _most_decimals(mean.unit))


def _most_decimals(unit: str) -> int:
    return 0 if unit == "W" else 1


# --- template --------------------------------------------------------------------------------------------------


@cache
def _template(*, with_power: bool) -> Spec:
    import altair as alt

    upper = alt.layer(
        *_layers("upper", "temperature", time_labels=not with_power),
        vega.swatches(),
        *vega.texts(),
        vega.part("averaged", vega.text_layer("averaged", "soft")),
    )
    if not with_power:
        return upper.to_dict()
    lower = alt.layer(*_layers("lower", "power", time_labels=True))
    return alt.vconcat(upper, lower, bounds="flush").to_dict()


def _layers(data: str, axis: str, *, time_labels: bool) -> list[alt.Chart]:
    import altair as alt

    window, lines = vega.named("window"), vega.named(data)
    edge = window.mark_rule(style="edge", aria=False)
    time = alt.X("t:Q", scale=vega.scale("time"), axis=vega.axis("time", labels=time_labels))
    y = alt.Y("v:Q", scale=vega.scale(axis), axis=vega.axis(axis, grid=True))
    colour = vega.slot_colour()
    band = lines.mark_area(style="band", aria=False).encode(x=time, y="lo:Q", y2="hi:Q", color=colour)
    line = lines.mark_line(style="trace").encode(
        x=time, y=y, color=colour, strokeDash=vega.slot_dash(), description="d:N"
    )
    shade = window.mark_rect(style="window", aria=False).encode(x="t:Q", x2="t2:Q")
    parts = {
        "window": shade,
        "window_start": edge.encode(x="t:Q"),
        "window_end": edge.encode(x="t2:Q"),
        "band": band,
        "line": line,
    }
    return [vega.part(name, layer, panel=data) for name, layer in parts.items()]
