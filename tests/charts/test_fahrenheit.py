"""What a chart says where readers chose °F: axes, labels, words, numbers and what a crosshair tells."""

from __future__ import annotations

import re
from dataclasses import replace
from fractions import Fraction
from typing import Any
from xml.etree import ElementTree as ET

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from builder.charts.bench_history import history_chart
from builder.charts.chart import Chart
from builder.charts.frame import COMPACT, WIDE, scale, step
from builder.charts.row_charts import coolers_chart, points_chart
from builder.charts.run import run_chart
from builder.charts.style import LIGHT, Slot
from builder.charts.svg import chart_svg, still_svg
from builder.charts.two_units import tellable
from builder.core.quantity import Estimate, format_estimate, format_number, in_fahrenheit
from tests.support import chart_samples as samples
from tests.support.scripts import by_script, script

SVG = "{http://www.w3.org/2000/svg}"
CHARTS = {chart.id: chart for chart in samples.every_chart()}
EACH = pytest.mark.parametrize("name", list(CHARTS))
SAYS_A_TEMPERATURE = re.compile(r"(?<!\S)(?:K|°C)(?![^\s,;.)])")

# By hand: °F = °C × 1.8 + 32 (NIST SP 811, B.9, exact), and a difference of 1 K is 1.8 in Fahrenheit degrees.
# A kind of chart that is not named here says no temperature.
AXES = {
    "run-stock": {"30": "86", "40": "104", "50": "122", "60": "140"},
    "rise": {"0": "0", "10": "18", "20": "36", "30": "54", "40": "72", "50": "90"},
    "coolers": {"0": "0", "10": "18", "20": "36", "30": "54", "40": "72"},
    "against": {"−10": "−18", "−5": "−9", "0": "0", "5": "9", "10": "18"},
    "power": {"20": "36", "30": "54", "40": "72", "50": "90"},
    "bench": {"46": "82.8", "48": "86.4"},
}
LABELS = {
    "run-stock": {
        "Core 54.9 °C": "Core 130.8 °F",
        "Hotspot 65.9 °C": "Hotspot 150.6 °F",
        "Ambient 22.4 °C": "Ambient 72.3 °F",
        "Coolant 30.9 °C": "Coolant 87.7 °F",
        "°C": "°F",
    },
    "rise": {"K over ambient": "°F over ambient"},
    "coolers": {
        "30.3 ± 1.6 K a": "54.5 ± 2.8 °F a",
        "34.3 ± 1.4 K a": "61.7 ± 2.5 °F a",
        "38.3 ± 1.2 K b": "68.9 ± 2.1 °F b",
        "42.3 ± 1.0 K c": "76.1 ± 1.8 °F c",
        "46.3 ± 0.8 K d": "83.3 ± 1.4 °F d",
        "Core over ambient, K": "Core over ambient, °F",
    },
    "against": {
        "−12.3 ± 1.0 K": "−22.1 ± 1.8 °F",
        "−11.5 ± 1.0 K": "−20.7 ± 1.8 °F",
        "+9.7 ± 1.0 K": "+17.5 ± 1.8 °F",
        "K from the card's own cooler; bars: 95 of 100": "°F from the card's own cooler; bars: 95 of 100",
    },
    "power": {"K over ambient": "°F over ambient"},
    "bench": {
        "limit 48.2 K": "limit 86.8 °F",
        "mean 46.7 K": "mean 84.1 °F",
        "limit 45.2 K": "limit 81.4 °F",
        "Core over ambient, K": "Core over ambient, °F",
    },
}


@pytest.fixture(scope="module")
def drawn() -> dict[str, str]:
    return {uid: chart_svg(chart, uid=uid) for uid, chart in CHARTS.items()}


def pictures(markup: str) -> list[ET.Element]:
    return list(ET.fromstring(f"<div>{markup}</div>"))  # noqa: S314 - our own output


def texts(markup: str) -> list[tuple[str, str | None]]:
    """Every text of the pictures, with what stands for it in °F."""
    return [(t.text or "", t.get("data-f")) for root in pictures(markup) for t in root.iter(f"{SVG}text")]


def drawn_alone(chart: Chart) -> dict[str, str | None]:
    return dict(texts(chart_svg(chart, uid="x")))


# --- the picture -----------------------------------------------------------------------------------------------


@EACH
def test_every_number_of_a_temperature_axis_and_every_label_has_its_fahrenheit(
    name: str, drawn: dict[str, str]
) -> None:
    # Marked texts are exactly these: nothing else of a picture changes with the unit.
    marked = {text: other for text, other in texts(drawn[name]) if other is not None}
    assert marked == AXES.get(name, {}) | LABELS.get(name, {})


@EACH
def test_no_text_with_a_unit_of_temperature_stays_in_it(name: str, drawn: dict[str, str]) -> None:
    shown = [(text, other) for text, other in texts(drawn[name]) if SAYS_A_TEMPERATURE.search(text)]
    assert bool(shown) is (name in LABELS)
    assert all(other and "°F" in other and not SAYS_A_TEMPERATURE.search(other) for _, other in shown)


def test_both_frames_of_a_run_are_marked_alike(drawn: dict[str, str]) -> None:
    wide, compact = pictures(drawn["run-stock"])
    marked = [{t.text: t.get("data-f") for t in root.iter(f"{SVG}text") if t.get("data-f")} for root in (wide, compact)]
    assert marked[0] == AXES["run-stock"] | LABELS["run-stock"]
    assert marked[1] == AXES["run-stock"] | {"°C": "°F"}


def test_a_run_without_power_has_one_panel_in_fahrenheit() -> None:
    shown = drawn_alone(run_chart(replace(samples.run_of(), power=None)))
    assert {text: shown[text] for text in AXES["run-stock"]} == AXES["run-stock"]
    assert "W" not in shown


def test_a_label_is_rounded_once_from_the_exact_figure() -> None:
    # By hand: 30.26 K and 30.34 K are both 30.3, but 54.468 and 54.612 in Fahrenheit degrees.
    first, second = samples.coolers("One", "Two").coolers
    rises = [samples.estimate(value, 0.5, "K") for value in (30.26, 30.34)]
    pair = tuple(replace(c, estimate=r, tie="") for c, r in zip((first, second), rises, strict=True))
    markup = chart_svg(coolers_chart(replace(samples.coolers(), coolers=pair)), uid="x")
    assert [found for found in texts(markup) if found[0].startswith("30.3")] == [
        ("30.3 ± 1.0 K", "54.5 ± 1.8 °F"),
        ("30.3 ± 1.0 K", "54.6 ± 1.8 °F"),
    ]


def test_a_figure_in_kelvin_per_watt_is_never_turned() -> None:
    coolers = tuple(replace(c, estimate=replace(c.estimate, unit="K/W")) for c in samples.coolers().coolers)
    shown = drawn_alone(coolers_chart(replace(samples.coolers(), figure="core_psi", coolers=coolers)))
    assert in_fahrenheit(coolers[0].estimate) is None
    assert "46.3 ± 0.8 K/W d" in shown
    assert set(shown.values()) == {None}


def test_names_that_look_like_temperatures_or_axes_stay_as_they_are() -> None:
    names = ("30.3 K", "°C", "X-axis for 9 K", "Y-axis", "20")
    shown = drawn_alone(coolers_chart(samples.coolers(*names)))
    assert {shown[name] for name in names if name != "20"} == {None}
    assert [other for text, other in shown.items() if text == "30"] == ["54"]


@EACH
def test_a_still_has_nothing_to_switch(name: str) -> None:
    assert "data-f" not in still_svg(CHARTS[name], (1280, 720), LIGHT)


@EACH
def test_only_graphics_have_a_label_for_assistive_software(name: str, drawn: dict[str, str]) -> None:
    assert not [t for root in pictures(drawn[name]) for t in root.iter(f"{SVG}text") if t.get("aria-label")]


# --- axes ------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize("unit", ["K", "degC"])
@given(low=st.integers(-400, 900), span=st.sampled_from([0.08, 0.7, 4, 9, 23, 60, 140]))
def test_the_numbers_of_an_axis_are_exact_and_no_longer_than_needed(unit: str, low: int, span: float) -> None:
    axis = scale([low / 10, low / 10 + span]).of(unit)
    size = Fraction(str(step(axis.high - axis.low, 5)))
    offset = 32 if unit == "degC" else 0
    shown = [text.replace("\N{MINUS SIGN}", "-") for text in axis.fahrenheit_texts]
    assert [Fraction(text) for text in shown] == [
        round(Fraction(tick) / size) * size * Fraction(9, 5) + offset for tick in axis.ticks
    ]
    decimals = {len(text.partition(".")[2]) for text in shown}
    assert len(decimals) == 1
    assert decimals == {0} or any(not text.endswith("0") for text in shown)


@pytest.mark.parametrize(("tick", "unit", "expected"), [(5.0, "K", "9"), (2.5, "K", "4.5"), (20.0, "degC", "68")])
def test_a_number_of_an_axis(tick: float, unit: str, expected: str) -> None:
    assert replace(scale([0.0, 1.0]), ticks=(tick,)).of(unit).fahrenheit_texts == (expected,)


def test_a_page_leaves_room_for_the_longer_text_and_a_still_does_not() -> None:
    words = run_chart(samples.run_of()).spec_for(WIDE)["datasets"]["labels"]
    assert {row["f"] for row in words} >= {"Hotspot 150.6 °F"}
    hot = replace(samples.history(), mean=146.7, lower=145.2, upper=148.2)
    rooms = [history_chart(each).spec_for(COMPACT)["padding"]["right"] for each in (samples.history(), hot)]
    assert rooms[1] > rooms[0]


# --- words and numbers beside the picture ------------------------------------------------------------------------


@EACH
def test_the_finding_and_the_numbers_follow_too(name: str) -> None:
    chart = CHARTS[name]
    told = [chart.finding, *(cell for row in chart.cells for cell in row)]
    assert [t.text for t in told] == [chart.description, *(text for row in chart.table.rows for text in row)]
    for each in told:
        said = SAYS_A_TEMPERATURE.search(each.text)
        assert bool(said) is bool(each.fahrenheit), each
        assert not SAYS_A_TEMPERATURE.search(each.fahrenheit), each


def test_the_numbers_of_a_table_are_those_of_the_figures() -> None:
    rise = samples.rises().points[0].rises[Slot.CORE]
    assert rise
    there = in_fahrenheit(rise)
    assert there
    cell = points_chart(samples.rises()).cells[0][1]
    assert (cell.text, cell.fahrenheit) == (format_estimate(rise), format_estimate(there))


@EACH
def test_the_description_for_assistive_software_follows_too(name: str, drawn: dict[str, str]) -> None:
    finding = CHARTS[name].finding
    for root in pictures(drawn[name]):
        desc = root.find(f"{SVG}desc")
        assert desc is not None
        assert desc.get("data-f", "") == " ".join(finding.fahrenheit.split())


@EACH
def test_every_mark_that_says_a_temperature_says_it_in_fahrenheit(name: str, drawn: dict[str, str]) -> None:
    said = {e.get("aria-label") or "" for root in pictures(drawn[name]) for e in root.iter() if e.get("fill")}
    assert {words for words in said if SAYS_A_TEMPERATURE.search(words)} == set(CHARTS[name].fahrenheit)


# --- what a crosshair tells --------------------------------------------------------------------------------------


def lines(chart: Chart) -> list[dict[str, Any]]:
    trace: Any = chart.data["trace"]
    found: list[dict[str, Any]] = trace["lines"]
    return found


def told_by_script(line: dict[str, Any], fahrenheit: bool) -> list[str]:
    code = (
        f"given.mean.map((n) => n === null ? '' : {script('timeline.js')}.worded(n, given, {str(fahrenheit).lower()}))"
    )
    told: list[str] = by_script(code, line)
    return told


def exact_means(values: np.ndarray[Any, Any], size: int) -> list[Fraction | None]:
    """Means of cells of ten seconds at 1 Hz, in rational numbers."""
    cells = [[Fraction(v) for v in values[i * 10 : i * 10 + 10].tolist() if v == v] for i in range(size)]  # noqa: PLR0124 - NaN
    return [sum(cell, Fraction()) / len(cell) if cell else None for cell in cells]


@pytest.mark.parametrize("fahrenheit", [False, True], ids=["celsius", "fahrenheit"])
def test_a_crosshair_tells_the_digits_of_the_unrounded_mean(*, fahrenheit: bool) -> None:
    # Means of 0.1 °C readings often end in 5 at the second decimal, where rounding twice is wrong.
    run = samples.run_of()
    core = replace(run.temperatures[0], values=np.round(run.temperatures[0].values, 1))
    third = replace(run.temperatures[1], values=run.temperatures[1].values / 3)
    (first, second) = lines(run_chart(replace(run, temperatures=(core, third), power=None)))
    for line, values in ((first, core.values), (second, third.values)):
        means = exact_means(values, len(line["mean"]))
        turned = [None if m is None else m * Fraction(9, 5) + 32 if fahrenheit else m for m in means]
        unit = "°F" if fahrenheit else "°C"
        wanted = ["" if m is None else f"{format_number(round(float(m), 9), 1)}\u00a0{unit}" for m in turned]
        assert told_by_script(line, fahrenheit) == wanted


def test_numbers_for_a_crosshair_are_short() -> None:
    means = np.linspace(20.0, 90.0, 997)
    short = tellable(means, "degC", (1, 1))
    lengths = [len(str(n).partition(".")[2]) for n in short]
    assert float(np.mean(lengths)) < 2.3
    assert max(abs(a - b) for a, b in zip(short, means.tolist(), strict=True)) <= 0.005 + 1e-12


def test_a_crosshair_tells_no_more_than_the_uncertainty_of_the_line() -> None:
    # By hand: 1.0 °C expands to 1.96 and is shown as 2.0; its 3.528 in Fahrenheit degrees keeps two digits, 3.5.
    # 1.2 °C expands to 2.35, shown as 2.4, its 4.23 as 4; 3 °C expands to 5.9 and leaves no decimal in either unit.
    run = samples.run_of()
    for u, expected in ((0.2, [1, 1]), (1.0, [1, 1]), (1.2, [1, 0]), (3.0, [0, 0])):
        core = replace(run.temperatures[0], mean=Estimate(value=54.9, u=u, unit="degC"))
        assert lines(run_chart(replace(run, temperatures=(core,))))[0]["digits"] == expected
    assert lines(run_chart(run))[-1]["digits"] == [0, 0]
    unmeasured = replace(run.temperatures[0], mean=None)
    assert lines(run_chart(replace(run, temperatures=(unmeasured,), power=None)))[0]["digits"] == [1, 1]


def test_a_label_of_a_line_has_no_more_decimals_than_its_uncertainty_leaves() -> None:
    run = samples.run_of()
    core = replace(run.temperatures[0], mean=Estimate(value=54.9, u=1.2, unit="degC"))
    shown = drawn_alone(run_chart(replace(run, temperatures=(core,))))
    assert shown["Core 54.9 °C"] == "Core 131 °F"
