"""What each kind of chart shows: marks, tables and words hold the same numbers."""

from __future__ import annotations

import math
from dataclasses import replace
from typing import Any

import altair as alt
import numpy as np
import pytest

from builder.charts.bench_history import history_chart
from builder.charts.chart import Chart
from builder.charts.frame import COMPACT, WIDE, still_frame
from builder.charts.row_charts import (
    CoolerFigures,
    PointChanges,
    PointRise,
    PointRises,
    changes_chart,
    coolers_chart,
    points_chart,
)
from builder.charts.run import RunTraces, run_chart
from builder.charts.scatter_charts import PowerLines, Sweep, efficiency_chart, power_chart
from builder.charts.style import DARK, LIGHT, PAGE, Slot, variables
from builder.charts.svg import chart_svg
from builder.comparison import evaluate
from builder.core.quantity import NO_BREAK, Estimate, format_estimate
from builder.core.results import Bound
from tests.support import chart_samples as samples

CHARTS = samples.every_chart()
EACH = pytest.mark.parametrize("chart", CHARTS, ids=lambda c: c.id)
STILL = still_frame(1920, 1080)


def rows(chart: Chart, name: str = "dots") -> list[dict[str, Any]]:
    found: list[dict[str, Any]] = chart.spec["datasets"][name]
    return found


def texts(spec: dict[str, Any]) -> list[str]:
    names = ("labels", "strongs", "softs", "headings", "averaged")
    return [row["t"] for name in names for row in spec["datasets"].get(name, [])]


def all_values(node: Any) -> list[Any]:  # noqa: ANN401 - any JSON
    if isinstance(node, dict):
        return [value for item in node.values() for value in all_values(item)]
    if isinstance(node, list):
        return [value for item in node for value in all_values(item)]
    return [node]


# --- every kind ------------------------------------------------------------------------------------------------


def with_few_rows(spec: Any) -> Any:  # noqa: ANN401 - JSON
    """A specification with the first rows of its data: the schema asks the same of every row, and takes seconds."""
    sets = {name: rows[:3] for name, rows in spec.get("datasets", {}).items()}
    return {**spec, "datasets": sets} if sets else spec


@EACH
@pytest.mark.parametrize("frame", [COMPACT, WIDE, STILL], ids=lambda f: f.name)
def test_specification_is_valid_vega_lite(chart: Chart, frame: Any) -> None:  # noqa: ANN401 - any frame
    """The JSON Schema of Vega-Lite, as Altair ships it."""
    alt.Chart.from_dict(with_few_rows(chart.spec_for(frame)), validate=True)


def test_the_schema_refuses_a_broken_specification() -> None:
    broken = samples.every_chart()[1].spec
    broken["layer"][0]["mark"]["type"] = "no such mark"
    with pytest.raises(Exception, match="no such mark"):
        alt.Chart.from_dict(broken, validate=True)


@EACH
def test_every_field_of_an_encoding_is_in_its_data(chart: Chart) -> None:
    """Vega-Lite draws nothing and says nothing where a field is missing."""
    spec = chart.spec
    for panel in spec.get("vconcat", [spec]):
        for layer in panel["layer"]:
            data = spec["datasets"][layer["data"]["name"]]
            fields = {channel["field"] for channel in layer["encoding"].values()}
            assert all(fields <= set(row) for row in data), layer["data"]


@EACH
@pytest.mark.parametrize("frame", [COMPACT, STILL], ids=lambda f: f.name)
def test_only_the_configuration_holds_colours(chart: Chart, frame: Any) -> None:  # noqa: ANN401 - any frame
    spec = chart.draw(frame)
    words = [str(value) for value in all_values(spec)]
    colours = {colour for palette in (LIGHT, DARK, PAGE) for colour in variables(palette).values()}
    assert not [word for word in words if word in colours or word.startswith(("#", "rgb", "var("))]


@EACH
def test_nothing_in_a_specification_is_an_address_besides_its_schema(chart: Chart) -> None:
    spec = chart.spec
    assert spec.pop("$schema").startswith("https://vega.github.io/schema/vega-lite/")
    assert not [value for value in all_values(spec) if isinstance(value, str) and "://" in value]


@EACH
def test_description_and_table_are_there(chart: Chart) -> None:
    assert chart.description.endswith(".")
    assert chart.table.rows
    assert {len(row) for row in chart.table.rows} == {len(chart.table.columns)}


@EACH
def test_heading_is_drawn_in_stills_only(chart: Chart) -> None:
    assert [row["t"] for row in chart.spec_for(STILL)["datasets"]["headings"]] == [chart.title]
    assert chart.spec["datasets"]["headings"] == []


@EACH
def test_drawing_leaves_the_template_as_it_was(chart: Chart) -> None:
    first = chart.spec
    first["datasets"].clear()
    first.get("vconcat", [first])[0]["layer"].clear()
    assert chart.spec["datasets"]
    assert chart.spec.get("vconcat", [chart.spec])[0]["layer"]


@pytest.mark.parametrize(
    "chart",
    [
        run_chart(RunTraces(id="x", title="x", temperatures=())),
        points_chart(PointRises(id="x", title="x", points=())),
        changes_chart(PointChanges(id="x", title="x", points=())),
        coolers_chart(CoolerFigures(id="x", title="x", figure="core_rise", coolers=())),
        power_chart(PowerLines(id="x", title="x", lines=())),
        efficiency_chart(Sweep(id="x", title="x", points=())),
    ],
    ids=["run", "points", "changes", "coolers", "power", "efficiency"],
)
def test_a_chart_of_nothing_is_valid_and_says_so(chart: Chart) -> None:
    alt.Chart.from_dict(chart.spec, validate=True)
    assert not chart.table.rows
    assert chart.description


# --- a run -----------------------------------------------------------------------------------------------------


def test_run_marks_are_means_of_cells_with_their_extremes() -> None:
    run = samples.run_of()
    spec = run_chart(run).spec
    first = [row for row in spec["datasets"]["upper"] if row["c"] == "1"][30]
    cell = run.temperatures[0].values[300:310]
    assert (first["t"], first["v"], first["lo"], first["hi"]) == pytest.approx(
        (305 / 60, cell.mean(), cell.min(), cell.max()), abs=1e-3
    )


def test_run_in_a_still_is_drawn_at_full_rate() -> None:
    run = samples.run_of()
    upper = run_chart(run).spec_for(STILL)["datasets"]["upper"]
    core = [row["v"] for row in upper if row["c"] == "1"]
    expected = run.temperatures[0].values
    assert len(core) == expected.size
    assert core[:700] == expected[:700].tolist()
    assert core[700:740] == [None] * 40


def test_run_axes_cover_the_full_data_in_every_frame() -> None:
    run = samples.run_of()
    lowest = min(float(np.nanmin(line.values)) for line in run.temperatures)
    highest = max(float(np.nanmax(line.values)) for line in run.temperatures)
    chart = run_chart(run)
    domains = [domain(chart.spec_for(frame), "y") for frame in (WIDE, COMPACT, STILL)]
    assert domains[0] == domains[1] == domains[2]
    assert domains[0][0] < lowest
    assert domains[0][1] > highest


def domain(spec: dict[str, Any], channel: str) -> list[float]:
    panel = spec.get("vconcat", [spec])[0]
    found = [
        layer["encoding"][channel]["scale"]["domain"]
        for layer in panel["layer"]
        if "domain" in layer["encoding"].get(channel, {}).get("scale", {})
    ]
    values: list[float] = found[0]
    return values


def test_run_window_is_shaded_where_it_was_averaged() -> None:
    chart = run_chart(samples.run_of())
    assert rows(chart, "window") == [{"t": 20.0, "t2": 30.0}]
    assert "averaged" in texts(chart.spec)


def test_run_without_a_window_has_no_shade_and_says_so() -> None:
    run = samples.run_of()
    bare = RunTraces(id="x", title="x", temperatures=run.temperatures, power=run.power)
    chart = run_chart(bare)
    assert rows(chart, "window") == []
    assert "averaged" not in texts(chart.spec)
    assert chart.description == "The run of 30 minutes has no averaging window, so no mean is drawn."
    assert "Mean in the window" not in chart.table.columns


def test_run_table_holds_means_and_extremes() -> None:
    run = samples.run_of()
    table = run_chart(run).table
    core = run.temperatures[0]
    assert core.mean is not None
    assert table.columns == ("Quantity", "Mean in the window", "Lowest", "Highest")
    assert table.rows[0][:2] == ("Core", format_estimate(core.mean))
    assert table.rows[0][3] == f"{np.nanmax(core.values):.1f}{NO_BREAK}°C"
    assert [row[0] for row in table.rows] == ["Core", "Hotspot", "Ambient", "Coolant", "Board power"]


def test_run_lines_are_named_at_their_end_with_their_dash() -> None:
    spec = run_chart(samples.run_of()).spec
    assert {row["c"] for row in spec["datasets"]["swatches"]} == {"1", "2", "4", "5", "6"}
    assert any(text.startswith("Hotspot") for text in texts(spec))
    dashes = spec["vconcat"][0]["layer"][4]["encoding"]["strokeDash"]["scale"]["range"]
    assert len({tuple(dash) for dash in dashes[:5]}) == 5


def test_run_without_power_has_one_panel() -> None:
    run = samples.run_of()
    spec = run_chart(RunTraces(id="x", title="x", temperatures=run.temperatures)).spec
    assert "vconcat" not in spec


# --- rows ------------------------------------------------------------------------------------------------------


def test_rises_are_drawn_with_95_percent_intervals() -> None:
    rises = samples.rises()
    hotspot = rises.points[1].rises[Slot.HOTSPOT]
    assert hotspot is not None
    dot = next(row for row in rows(points_chart(rises)) if row["c"] == "2" and "Stock" in row["d"])
    half = 2.262157 * 0.5  # t for 9 degrees of freedom: JCGM 100:2008, table G.2
    assert dot["v"] == hotspot.value
    assert (dot["lo"], dot["hi"]) == pytest.approx((hotspot.value - half, hotspot.value + half))


def test_rises_in_marks_equal_those_in_the_table() -> None:
    chart = points_chart(samples.rises())
    said = [row["d"].split(": ")[1] for row in rows(chart)]
    shown = [text.replace(NO_BREAK, " ") for row in chart.table.rows for text in row[1:] if text != "not measured"]
    assert said == shown


def test_a_sensor_that_was_not_logged_is_said_to_be_missing() -> None:
    table = points_chart(samples.rises()).table
    assert table.columns == ("Test point", "Core over ambient", "Hotspot over ambient", "Memory over ambient")
    assert table.rows[0][3] == "not measured"


def test_rises_start_at_zero() -> None:
    assert domain(points_chart(samples.rises()).spec, "x")[0] == 0


def test_changes_are_percent_in_marks_and_have_units_in_the_table() -> None:
    chart = changes_chart(samples.changes())
    assert [row["v"] for row in rows(chart)] == [-30, -28.7, -9.6, 14.7, 5.9]
    assert chart.table.rows[0][1].replace(NO_BREAK, " ") == "−85.0 ± 2.0 W (−30.0 ± 1.2 %)"
    assert chart.table.rows[1][2].replace(NO_BREAK, " ") == "+6.7 ± 0.6 K"


def test_changes_are_described_at_their_two_ends() -> None:
    assert changes_chart(samples.changes()).description.replace(NO_BREAK, " ") == (
        "Against stock: Power limit 70 %: board power −30.0 ± 1.2 %, core over ambient −28.7 ± 1.2 % and "
        "frame rate −9.6 ± 1.2 %. Overclock, raised power limit: board power +14.7 ± 1.2 % and frame rate +5.9 ± 1.2 %."
    )


def test_coolers_are_ordered_with_the_coolest_first() -> None:
    chart = coolers_chart(samples.coolers())
    values = [row["v"] for row in sorted(rows(chart), key=lambda row: float(row["y"]))]
    assert values == sorted(values)
    assert [row[0] for row in chart.table.rows] == [
        "Moorhen Riffle",
        "Lapwing Loop",
        "Gritstone Twin",
        "Fenwick Slab",
        "Stock cooler",
    ]


def test_kinds_of_coolers_stand_with_their_names() -> None:
    chart = coolers_chart(samples.coolers())
    assert {"water block", "air", "as sold", "hybrid"} <= set(texts(chart.spec))


def test_quantities_differ_in_shape_and_so_do_a_cooler_and_what_it_is_compared_with() -> None:
    shapes = coolers_chart(samples.coolers()).spec["config"]["range"]["symbol"]
    assert len(set(shapes[:7])) == 7
    assert shapes[Slot.SUBJECT - 1] != shapes[Slot.OTHERS - 1]


def test_coolers_carry_their_value_and_letters_as_text() -> None:
    shown = texts(coolers_chart(samples.coolers()).spec)
    assert "46.3 ± 0.8 K d" in shown


def test_the_cooler_of_the_page_is_set_off() -> None:
    assert [row["t"] for row in coolers_chart(samples.coolers()).spec["datasets"]["strongs"]] == ["Fenwick Slab"]


def test_coolers_that_share_a_letter_with_the_first_are_named() -> None:
    said = coolers_chart(samples.coolers()).description
    assert said.endswith("Not told apart from Moorhen Riffle: Lapwing Loop.")


def test_long_names_are_short_in_the_picture_and_whole_in_the_table() -> None:
    long = "Gritstone Fold, low profile, with the long name of its maker and more"
    chart = coolers_chart(samples.coolers(long))
    assert any(text.endswith("…") for text in texts(chart.spec))
    assert chart.table.rows[0][0] == long
    assert long in rows(chart)[0]["d"]


def test_a_bound_is_drawn_at_its_end_with_its_mark_and_said_as_one() -> None:
    # By hand: 22.1 K with u 0.2 K is at least 22.1 - 1.96 · 0.2 = 21.7 K, and 39.0 in Fahrenheit degrees.
    drifting = PointRise(
        name="Stock (drifting)",
        rises={Slot.CORE: Estimate(value=22.1, u=0.2, unit="K")},
        bounds={Slot.CORE: Bound.LOWER},
    )
    settled = PointRise(name="Power limit 80 %", rises={Slot.CORE: Estimate(value=18.0, u=0.2, unit="K")})
    chart = points_chart(PointRises(id="points", title="Rises", points=(drifting, settled)))
    dot, other = sorted(rows(chart), key=lambda row: -row["v"])
    assert dot["lo"] == dot["v"] == dot["hi"] == pytest.approx(22.1 - 1.959964 * 0.2)
    assert other["v"] == 18.0
    assert "at least" in texts(chart.spec)
    plain = [[cell.replace(NO_BREAK, " ") for cell in row] for row in chart.table.rows]
    assert plain == [["Stock (drifting)", "at least 21.7 K"], ["Power limit 80 %", "18.0 ± 0.4 K"]]
    words = chart.description.replace(NO_BREAK, " ")
    assert words == (
        "Core over ambient: at least 21.7 K (Stock (drifting)). Core over ambient: 18.0 ± 0.4 K (Power limit 80 %)."
    )
    assert "Stock (drifting), core: at least 21.7 K" in [row["d"].replace(NO_BREAK, " ") for row in rows(chart)]
    (there,) = [text for text in chart.fahrenheit.values() if "drifting" in text]
    assert there.replace(NO_BREAK, " ") == "Stock (drifting), core: at least 39.0 °F"


# --- points ----------------------------------------------------------------------------------------------------


def test_line_is_drawn_inside_the_tested_range_only() -> None:
    chart = power_chart(samples.power_lines())
    powers = [row["x"] for row in rows(chart, "curves")]
    assert (min(powers), max(powers)) == (171.0, 326.0)
    with pytest.raises(ValueError, match="outside"):
        evaluate(samples.room_model(), 0.0, 327.0)


def test_band_follows_the_covariance_of_the_line() -> None:
    """JCGM 100:2008, H.3.4: u² = u²(a) + 2 x r u(a) u(b) + x² u²(b); at x = u(a)/u(b) it is 2 u²(a) (1 + r)."""
    model, t = samples.room_model(), 2.776445  # for 4 degrees of freedom: JCGM 100:2008, table G.2
    at = 0.62 / 0.0025
    assert evaluate(model, 0.0, at).half_width == pytest.approx(t * math.sqrt(2 * 0.62**2 * (1 - 0.98)))
    row = next(row for row in rows(power_chart(samples.power_lines()), "bands") if row["c"] == "1")
    half = t * math.sqrt(0.62**2 - 2 * 171 * 0.98 * 0.62 * 0.0025 + (171 * 0.0025) ** 2)
    assert (row["lo"], row["hi"]) == pytest.approx((row["y"] - half, row["y"] + half))


def test_the_band_is_the_room_calculators_at_every_place() -> None:
    for curve in rows(power_chart(samples.power_lines()), "bands"):
        claimed = evaluate(samples.room_model(0.8 if curve["c"] == "1" else 12.0), 0.0, curve["x"])
        ends = (claimed.value - claimed.half_width, claimed.value + claimed.half_width)
        assert (curve["lo"], curve["hi"]) == pytest.approx(ends, rel=1e-6)


def test_the_chart_says_what_its_band_is_and_what_is_not_in_it() -> None:
    said = power_chart(samples.power_lines()).description
    assert said.endswith(
        "A band is where another mount of this cooler would be, 95 %, as the room calculator gives it."
    )
    unknown = replace(samples.fitted_line(), model=replace(samples.room_model(), mounts_known=False))
    said = power_chart(PowerLines(id="x", title="x", lines=(unknown,))).description
    assert said.endswith("gives it; the mounting spread is unknown and not in it.")


def test_a_curve_is_drawn_bent_and_says_the_slope_of_both_ends() -> None:
    # By hand: q = x² - 500 x + 60 000 is 3 741 at 171 W and 3 276 at 326 W, and -2 500 at 250 W.
    bent = replace(samples.room_model(), bend=1e-4, q1=500.0, q0=-60000.0, vq=0.0)
    slopes = tuple(Estimate(value=v, u=0.002, unit="K/W") for v in (0.097, 0.128))
    line = replace(samples.fitted_line(), model=bent, slopes=slopes)
    chart = power_chart(PowerLines(id="x", title="x", lines=(line,)))
    (first, *_, last) = rows(chart, "curves")
    assert (first["y"], last["y"]) == pytest.approx((0.8 + 0.113 * 171 + 0.3741, 0.8 + 0.113 * 326 + 0.3276))
    words = chart.description.replace(NO_BREAK, " ")
    assert words.startswith(
        "Core over ambient follows a curve: it grows by 0.097 ± 0.004 K/W at 171 W and by 0.128 ± 0.004 K/W at 326 W."
    )
    assert [cell.replace(NO_BREAK, " ") for cell in chart.table.rows[-1]] == [
        "Curve, core",
        "171 W to 326 W",
        "0.097 ± 0.004 K/W to 0.128 ± 0.004 K/W",
    ]


def test_points_have_bars_in_both_directions() -> None:
    point = rows(power_chart(samples.power_lines()), "points")[0]
    assert (point["xl"], point["xh"]) == pytest.approx((171 - 1.959964 * 1.2, 171 + 1.959964 * 1.2))
    assert (point["yl"], point["yh"]) == pytest.approx((point["y"] - 1.959964 * 0.3, point["y"] + 1.959964 * 0.3))


def test_power_table_holds_the_points_and_the_slopes() -> None:
    table = power_chart(samples.power_lines()).table
    plain = [tuple(text.replace(NO_BREAK, " ") for text in row) for row in table.rows]
    assert plain[0] == ("Power limit 60 %", "171.0 ± 2.4 W", "20.1 ± 0.6 K", "31.3 ± 0.6 K")
    assert plain[4] == ("Line, core", "171 W to 326 W", "0.113 ± 0.007 K/W", "")


def test_a_line_that_does_not_fit_is_said_not_to() -> None:
    bent = replace(samples.fitted_line(), model=None)
    chart = power_chart(PowerLines(id="x", title="x", lines=(bent,)))
    assert chart.description.endswith("neither a line nor a curve describes the points.")
    assert "±" not in chart.description
    assert rows(chart, "curves") == rows(chart, "bands") == []
    assert chart.table.rows[-1][-1] == "no line or curve"


def test_efficiency_joins_the_steps_of_the_limit_in_the_order_of_power() -> None:
    chart = efficiency_chart(samples.sweep())
    assert [row["x"] for row in rows(chart, "paths")] == [86.0, 95.2]
    assert [row["x"] for row in rows(chart, "points")] == [86.0, 95.6, 95.2]
    assert [row[0] for row in chart.table.rows] == ["Power limit 70 %", "Undervolt", "Stock"]


def test_bench_chart_marks_the_test_outside_the_limits_by_colour_and_shape() -> None:
    chart = history_chart(samples.history())
    slots = [row["c"] for row in rows(chart, "points")]
    assert slots == [str(int(slot)) for slot in (Slot.OTHERS, Slot.OTHERS, Slot.SUBJECT, Slot.OTHERS)]
    assert [row["y"] for row in rows(chart, "limits")] == [45.2, 48.2]
    assert rows(chart, "mean") == [{"y": 46.7}]
    assert chart.description.endswith("Outside the limits: 2025-07-01.")
    assert [row[3] for row in chart.table.rows] == ["inside", "inside", "outside", "inside"]


def test_limits_from_few_tests_are_said_to_be_provisional_beside_the_chart_and_in_its_alternative_text() -> None:
    few = history_chart(replace(samples.history(), provisional=True))
    said = " The limits are provisional: they rest on fewer than 8 tests."
    assert few.finding.text.endswith(said)
    assert few.finding.fahrenheit.endswith(said)
    assert said in chart_svg(few, uid="few").replace(NO_BREAK, " ")
    assert "provisional" not in history_chart(samples.history()).finding.text


def test_bench_chart_is_true_to_the_calendar() -> None:
    xs = [row["x"] for row in rows(history_chart(samples.history()), "points")]
    assert xs[1] - xs[0] == 193  # 3 May to 12 November 2024


# --- hostile text ----------------------------------------------------------------------------------------------


def test_no_text_of_a_tester_is_taken_for_a_template() -> None:
    names = ("@x_format", "datum.px", "{expr}", "@missing")
    shown = [row["d"] for row in rows(coolers_chart(samples.coolers(*names)))]
    assert sorted(text.split(",")[0] for text in shown) == sorted(names)
