"""Pictures of charts: light, safe and reproducible SVG for the page, SVG and PNG for stills."""

from __future__ import annotations

import gzip
import io
import re
from dataclasses import replace
from pathlib import Path
from typing import Any
from xml.etree import ElementTree as ET

import numpy as np
import pytest
from PIL import Image
from playwright.sync_api import Browser

from builder.charts.bench_history import history_chart
from builder.charts.chart import Chart
from builder.charts.frame import COMPACT, WIDE
from builder.charts.row_charts import coolers_chart
from builder.charts.run import run_chart
from builder.charts.style import DARK, LIGHT, PAGE, variables
from builder.charts.svg import Dressing, chart_still, chart_svg, tidy
from tests.support import chart_samples as samples

SVG = "{http://www.w3.org/2000/svg}"
CHARTS = samples.every_chart()
THEME = Path(__file__).resolve().parents[2] / "themes" / "notebook"
EDGES = ("window-start", "window-end")
EACH = pytest.mark.parametrize("chart", CHARTS, ids=lambda c: c.id)
DRESS = Dressing(names="u-compact", frame="compact", title="T", description="D", width="400", height="100", fixed=False)


def parts(markup: str) -> list[ET.Element]:
    return list(ET.fromstring(f"<div>{markup}</div>"))  # noqa: S314 - our own output


@pytest.fixture(scope="module")
def drawn() -> dict[str, str]:
    return {chart.id: chart_svg(chart, uid=chart.id) for chart in CHARTS}


# --- what every picture is -------------------------------------------------------------------------------------


@EACH
def test_picture_is_named_and_described_for_assistive_software(chart: Chart, drawn: dict[str, str]) -> None:
    """SVG 2, 5.8 (title and desc), and WAI-ARIA 1.2 (img, aria-labelledby)."""
    for root in parts(drawn[chart.id]):
        assert root.get("role") == "img"
        title, desc = root[0], root[1]
        assert root.get("aria-labelledby") == f"{title.get('id')} {desc.get('id')}"
        assert (title.tag, title.text, desc.tag) == (f"{SVG}title", chart.title, f"{SVG}desc")
        assert desc.text == " ".join(chart.description.split())


@EACH
def test_picture_holds_nothing_that_a_strict_policy_forbids(chart: Chart, drawn: dict[str, str]) -> None:
    """Content Security Policy level 3: `default-src 'self'` forbids style attributes, scripts and other hosts."""
    markup = drawn[chart.id]
    tags = {element.tag.removeprefix(SVG) for root in parts(markup) for element in root.iter()}
    names = {name for root in parts(markup) for element in root.iter() for name in element.attrib}
    assert tags <= {"svg", "title", "desc", "g", "path", "line", "rect", "text"}
    assert not [name for name in names if name == "style" or name.startswith("on") or "href" in name]
    assert "url(" not in markup
    assert markup.count("://") == markup.count("http://www.w3.org/2000/svg") == len(chart.frames)


@EACH
def test_picture_has_no_number_that_is_none(chart: Chart, drawn: dict[str, str]) -> None:
    assert not re.search(r"NaN|Infinity|undefined|null", drawn[chart.id])


@EACH
def test_picture_takes_its_colours_from_the_page(chart: Chart, drawn: dict[str, str]) -> None:
    known = {"none", *variables(PAGE).values()}
    used = {
        text
        for root in parts(drawn[chart.id])
        for element in root.iter()
        for name, text in element.items()
        if name in {"fill", "stroke"}
    }
    assert used <= known


@EACH
def test_picture_scales_with_its_class(chart: Chart, drawn: dict[str, str]) -> None:
    for root, frame in zip(parts(drawn[chart.id]), chart.frames, strict=True):
        assert root.get("class") == f"chart chart-{frame.name}"
        assert root.get("width") is root.get("height") is None
        assert (root.get("viewBox") or "").startswith(f"0 0 {frame.width} ")


@EACH
def test_text_is_at_least_11_pixels_on_a_phone(chart: Chart, drawn: dict[str, str]) -> None:
    """A phone 360 px wide shows the compact picture at 328 px; the wide one starts at 608 px."""
    for root, frame in zip(parts(drawn[chart.id]), chart.frames, strict=True):
        sizes = [float((text.get("font-size") or "0").removesuffix("px")) for text in root.iter(f"{SVG}text")]
        assert min(sizes) * {"compact": 328, "wide": 608}[frame.name] / frame.width >= 11


def test_marks_say_their_number_for_the_tooltip(drawn: dict[str, str]) -> None:
    (root,) = parts(drawn["rise"])
    said = [element.get("aria-label") for element in root.iter() if element.get("aria-label")]
    expected = [row["d"] for row in CHARTS[1].spec["datasets"]["dots"]]
    assert said == expected
    assert said[0] == "Idle, core: 4.2 ± 0.5 K"


def test_window_is_shaded_at_its_place_in_the_picture(drawn: dict[str, str]) -> None:
    wide = parts(drawn["run-stock"])[0]
    spec = CHARTS[0].spec_for(WIDE)
    width = spec["vconcat"][0]["width"]
    shades = [element for element in wide.iter(f"{SVG}path") if element.get("fill") == "var(--window)"]
    assert len(shades) == 2
    for shade in shades:
        start, length = re.findall(r"^M([\d.]+),0h([\d.]+)", shade.get("d") or "")[0]
        assert float(start) == pytest.approx(width * 20 / 30, abs=0.1)
        assert float(length) == pytest.approx(width * 10 / 30, abs=0.1)


def test_gap_in_the_log_is_a_gap_in_the_line(drawn: dict[str, str]) -> None:
    lines = [
        e.get("d") or "" for e in parts(drawn["run-stock"])[0].iter() if (e.get("aria-label") or "").startswith("Core")
    ]
    assert [line.count("m") for line in lines] == [2]


def test_four_pictures_of_a_result_page_are_light(drawn: dict[str, str]) -> None:
    """The budget of a result page: 60 kB compressed for all of its pictures."""
    markup = "".join(drawn[name] for name in ("run-stock", "rise", "change", "power"))
    assert len(gzip.compress(markup.encode())) < 20_000


# --- reproducible ----------------------------------------------------------------------------------------------


def test_ids_are_unique_on_a_page() -> None:
    markup = "".join(chart_svg(chart, uid=f"c{index}") for index, chart in enumerate((*CHARTS[:2], CHARTS[0])))
    ids = re.findall(r' id="([^"]*)"', markup)
    assert len(ids) == len(set(ids)) == 10


def test_ids_of_the_renderer_are_counted_from_one_in_each_picture() -> None:
    raw = (
        '<svg xmlns="http://www.w3.org/2000/svg"><defs><clipPath id="clip37"><path d="M0,0h5v5h-5Z"/></clipPath></defs>'
        '<g clip-path="url(#clip37)"><path d="M0,0L1,1" stroke="red"/></g></svg>'
    )
    markup = tidy(raw, DRESS)
    assert 'id="u-compact-1"' in markup
    assert 'clip-path="url(#u-compact-1)"' in markup


# --- light -----------------------------------------------------------------------------------------------------


def test_straight_paths_become_steps_of_tenths_without_drift() -> None:
    points = [(index * 0.37, 100 - index * 0.1234) for index in range(400)]
    raw = "M" + "L".join(f"{x},{y}" for x, y in points)
    markup = tidy(f'<svg xmlns="http://www.w3.org/2000/svg"><path d="{raw}" stroke="red"/></svg>', DRESS)
    (root,) = parts(markup)
    path = root[2].get("d") or ""
    x = y = 0.0
    places = []
    for step_x, step_y in re.findall(r"[ml](-?[\d.]+),?(-?[\d.]+)", path):
        x, y = x + float(step_x), y + float(step_y)
        places.append((x, y))
    assert len(places) == len(points)
    assert all(abs(a - c) < 0.051 and abs(b - d) < 0.051 for (a, b), (c, d) in zip(places, points, strict=True))
    assert len(path) < 0.4 * len(raw)


def test_a_second_part_of_a_closed_path_starts_from_the_first_parts_start() -> None:
    """SVG 2, 9.3.4: after closing, the current point is the start of the subpath."""
    raw = '<svg xmlns="http://www.w3.org/2000/svg"><path d="M10,10L20,10L20,20ZM50,50L60,50L60,60Z" fill="red"/></svg>'
    assert 'd="m10,10l10,0l0,10zm40,40l10,0l0,10z"' in tidy(raw, DRESS)


def test_attributes_that_do_nothing_are_dropped(drawn: dict[str, str]) -> None:
    for markup in drawn.values():
        assert 'opacity="1"' not in markup
        assert "aria-roledescription" not in markup
        assert markup.count("font-family") == markup.count("<svg ")
        assert not re.search(r' (?:d|transform)="[^"]*\.\d\d', markup)


# --- hostile text ----------------------------------------------------------------------------------------------


@pytest.fixture(scope="module")
def nasty() -> Chart:
    names = [name or "no name" for name in samples.NASTY]
    return replace(coolers_chart(samples.coolers(*names)), title=samples.NASTY[0], description=samples.NASTY[1])


def test_nasty_names_make_a_well_formed_picture(nasty: Chart) -> None:
    markup = chart_svg(nasty, uid="x")
    (root,) = parts(markup)
    shown = [text.text or "" for text in root.iter(f"{SVG}text")]
    assert "<script" not in markup
    assert root[0].text == "<script>alert(1)</script>"
    assert "مبرّد لابوينغ الحلقي" in shown
    assert any("👩🏽\u200d🔧" in text for text in shown)
    assert "override desrever isolate" in shown
    assert markup.encode().decode() == markup


def test_nasty_names_make_a_still(nasty: Chart) -> None:
    still = chart_still(nasty, (640, 360), LIGHT)
    assert Image.open(io.BytesIO(still.png)).size == (640, 360)


def test_nasty_names_stay_whole_in_the_table(nasty: Chart) -> None:
    assert {row[0] for row in nasty.table.rows} == {name or "no name" for name in samples.NASTY}


# --- stills ----------------------------------------------------------------------------------------------------


@pytest.mark.parametrize("size", [(1920, 1080), (3840, 2160)], ids=["1080", "2160"])
def test_still_is_transparent_and_shows_its_heading(size: tuple[int, int]) -> None:
    """With no matching font the renderer leaves text out and says nothing: the pixels must be looked at."""
    still = chart_still(history_chart(samples.history()), size, DARK)
    image = Image.open(io.BytesIO(still.png)).convert("RGBA")
    assert image.size == size
    assert image.getpixel((2, 2)) == (0, 0, 0, 0)
    unit = size[1] / 1080
    heading = image.crop((int(40 * unit), int(40 * unit), int(900 * unit), int(95 * unit)))
    inked = int((np.asarray(heading)[..., 3] > 128).sum())
    assert inked > 3000 * unit * unit


@EACH
def test_still_uses_literal_colours_and_fits_its_size(chart: Chart) -> None:
    still = chart_still(chart, (1280, 720), LIGHT)
    assert "var(" not in still.svg
    assert any(colour in still.svg for colour in LIGHT.series)
    assert 'width="1280" height="720"' in still.svg
    assert Image.open(io.BytesIO(still.png)).size == (1280, 720)


def test_still_of_dark_mode_has_the_dark_ink() -> None:
    image = Image.open(io.BytesIO(chart_still(run_chart(samples.run_of()), (1280, 720), DARK).png)).convert("RGBA")
    ink = tuple(int(DARK.ink[i : i + 2], 16) for i in (1, 3, 5))
    pixels = np.asarray(image)
    assert int((pixels == (*ink, 255)).all(axis=-1).sum()) > 500


def test_frames_of_a_page_are_wide_and_compact_for_a_run_and_the_lead_and_compact_for_the_rest() -> None:
    two = [chart.id for chart in CHARTS if chart.frames == (WIDE, COMPACT)]
    assert two == ["run-stock", "against"]
    assert {chart.frames for chart in CHARTS if chart.id not in two} == {(COMPACT,)}


# --- in a browser ----------------------------------------------------------------------------------------------

TEXT_BOXES = """(svg) => {
  const outer = svg.getBoundingClientRect();
  const texts = [...svg.querySelectorAll("text")];
  return texts.map((text) => {
    const box = text.getBoundingClientRect();
    return [text.textContent, box.left - outer.left, box.top - outer.top, outer.right - box.right,
            outer.bottom - box.bottom,
            parseFloat(getComputedStyle(text).fontSize) * outer.width / svg.viewBox.baseVal.width];
  });
}"""


IN_FAHRENHEIT = "(texts) => texts.forEach((text) => { text.textContent = text.dataset.f; })"
BOTH_UNITS = pytest.mark.parametrize("unit", ["celsius", "fahrenheit"])
BOTH_WIDTHS = pytest.mark.parametrize(("viewport", "shown"), [(360, "chart-compact"), (1280, "chart-wide")])


def text_boxes(browser: Browser, markup: str, viewport: int, shown: str, unit: str) -> list[list[Any]]:
    page = browser.new_page(viewport={"width": viewport, "height": 800})
    css = ".chart{display:block;width:100%} .chart-compact{max-width:30rem} .chart-wide{max-width:52rem}"
    page.set_content(f"<style>body{{margin:16px}}{css}</style>{markup}")
    if unit == "fahrenheit":
        page.locator("text[data-f]").evaluate_all(IN_FAHRENHEIT)
    boxes = [box for picture in page.locator(f"svg.{shown}").all() for box in picture.evaluate(TEXT_BOXES)]
    page.close()
    return boxes


@BOTH_UNITS
@BOTH_WIDTHS
def test_text_lies_inside_its_picture_and_is_readable(
    browser: Browser, drawn: dict[str, str], viewport: int, shown: str, unit: str
) -> None:
    boxes = text_boxes(browser, "".join(drawn.values()), viewport, shown, unit)
    assert boxes
    for text, left, top, right, bottom, size in boxes:
        assert min(left, top, right, bottom) >= -1, text
        assert size >= 11, text


def run_between(low: float, high: float) -> Chart:
    """A run whose temperatures reach from one to the other."""
    run = samples.run_of(600)
    lines = tuple(replace(line, values=np.linspace(low, high, line.values.size)) for line in run.temperatures)
    return run_chart(replace(run, temperatures=lines))


@BOTH_UNITS
@BOTH_WIDTHS
def test_text_of_unusual_temperatures_lies_inside_its_picture(
    browser: Browser, viewport: int, shown: str, unit: str
) -> None:
    spans = ((18, 118), (38.2, 41), (38, 38.5), (-30, 5), (40, 80.2))
    markup = "".join(chart_svg(run_between(*span), uid=f"r{n}") for n, span in enumerate(spans))
    hot = replace(samples.history(), mean=146.7, lower=145.2, upper=148.2)
    markup += chart_svg(history_chart(hot), uid="hot")
    for text, left, top, right, bottom, _ in text_boxes(browser, markup, viewport, shown, unit):
        assert min(left, top, right, bottom) >= -1, text


def test_colours_of_the_page_reach_the_marks(browser: Browser, drawn: dict[str, str]) -> None:
    page = browser.new_page()
    page.set_content(f"<style>:root{{--chart-1: rgb(1, 2, 3)}}</style>{drawn['rise']}")
    dot = page.locator("path[aria-label='Idle, core: 4.2 ± 0.5 K']")
    assert dot.evaluate("(path) => getComputedStyle(path).fill") == "rgb(1, 2, 3)"
    page.close()


# --- parts for scripts -----------------------------------------------------------------------------------------


def parts_of(markup: str) -> list[str]:
    return re.findall(r'data-part="([^"]*)"', markup)


def test_parts_of_a_run_have_names_for_scripts(drawn: dict[str, str]) -> None:
    """Four temperatures and power in two panels, of which the lower one has the numbers of the time axis."""
    for root in parts(drawn["run-stock"]):
        found = parts_of(ET.tostring(root, encoding="unicode"))
        lines = [f"{part}-{slot}" for slot in (1, 2, 4, 5, 6) for part in ("band", "line")]
        assert sorted(set(found)) == sorted([*lines, "averaged", "tick", "tick-label", "window", *EDGES])
        assert all(found.count(line) == 1 for line in (*lines, "averaged"))
        assert all(found.count(part) == 2 for part in ("window", *EDGES))
        assert found.count("tick") == 2 * found.count("tick-label")


def test_a_script_asks_for_parts_that_a_picture_has(drawn: dict[str, str]) -> None:
    script = (THEME / "static" / "js" / "timeline.js").read_text(encoding="utf-8")
    asked = set(re.findall(r'named\("([a-z-]+)"\)', script))
    assert asked == {"averaged", "tick", "tick-label", "window", *EDGES}
    assert asked <= set(parts_of(drawn["run-stock"]))


def test_pictures_that_no_script_changes_and_stills_have_no_named_parts(drawn: dict[str, str]) -> None:
    assert not [uid for uid, markup in drawn.items() if parts_of(markup) and uid != "run-stock"]
    assert not parts_of(chart_still(CHARTS[0], (640, 360), LIGHT).svg)
