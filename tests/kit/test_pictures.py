"""Stills and cards as pixels: size, transparency, text that is there, nothing cut off at the edges."""

from __future__ import annotations

import io
import re
from dataclasses import replace

import numpy as np
import pytest
from numpy.typing import NDArray
from PIL import Image

from builder.archive.protocol import SpreadByKind
from builder.charts.chart import Chart
from builder.charts.frame import still_frame
from builder.charts.of_result import still_charts, unsettled_mark
from builder.charts.row_charts import coolers_chart
from builder.charts.still_notes import marked
from builder.charts.style import DARK, LIGHT, Palette
from builder.charts.svg import png_of, still_svg
from builder.comparison import PointOf, Standing, Subject, Tested, VersusRow, head_to_head, subjects
from builder.core.quantity import Estimate
from builder.kit.edit_cards import Card, CardText, card_svg, title_card, verdict, versus_card
from builder.kit.kit import SIZES
from tests.support import chart_samples
from tests.support.invented import Given, Shot, archive_of
from tests.support.site_data import HOSTILE

Pixels = NDArray[np.uint8]
EDGE = 10  # pixels around a picture in which there is nothing
PALETTES = pytest.mark.parametrize("palette", [LIGHT, DARK], ids=["light", "dark"])
SAMPLES = chart_samples.every_chart()
MARK = "run not settled: Stock"


def pixels(svg: str, scale: float = 1.0) -> Pixels:
    image = Image.open(io.BytesIO(png_of(svg, scale=scale)))
    assert image.mode == "RGBA"
    return np.asarray(image)


def still(chart: Chart, palette: Palette = LIGHT) -> Pixels:
    return pixels(still_svg(chart, SIZES[0], palette))


def ink(picture: Pixels) -> int:
    return int((picture[..., 3] > 0).sum())


def edges(picture: Pixels, width: int = EDGE) -> int:
    inner = picture[width:-width, width:-width]
    return ink(picture) - ink(inner)


# --- stills ----------------------------------------------------------------------------------------------------


@PALETTES
@pytest.mark.parametrize("chart", SAMPLES, ids=lambda c: c.id)
def test_a_still_is_transparent_and_nothing_is_cut_off(chart: Chart, palette: Palette) -> None:
    picture = still(marked(chart, MARK), palette)
    assert picture.shape == (1080, 1920, 4)
    assert edges(picture) == 0
    assert 5_000 < ink(picture) < 0.6 * 1920 * 1080


@pytest.mark.parametrize("size", SIZES, ids=lambda s: f"{s[0]}x{s[1]}")
def test_stills_have_the_size_of_video_frames(size: tuple[int, int]) -> None:
    svg = still_svg(SAMPLES[0], SIZES[0], LIGHT)
    width, height = size
    picture = pixels(svg, scale=width / SIZES[0][0])
    assert picture.shape == (height, width, 4)
    assert edges(picture, EDGE * width // SIZES[0][0]) == 0


@pytest.mark.parametrize("chart", SAMPLES, ids=lambda c: c.id)
def test_the_mark_is_drawn_at_the_right_of_the_heading(chart: Chart) -> None:
    plain, with_mark = still(chart), still(marked(chart, MARK))
    frame = still_frame(*SIZES[0])
    corner = np.s_[: int(frame.em(3.2)), 1200:]
    assert ink(with_mark[corner]) - ink(plain[corner]) > 1_000
    assert np.array_equal(plain[int(frame.em(3.2)) :], with_mark[int(frame.em(3.2)) :])


def test_a_long_heading_makes_room_for_the_mark() -> None:
    figures = chart_samples.coolers()
    chart = coolers_chart(replace(figures, title="m" * 100))
    plain, with_mark = (c.draw(still_frame(*SIZES[0]))["datasets"] for c in (chart, marked(chart, MARK)))
    assert [row["t"] for row in with_mark["strongs"] if row["a"] == "right"] == [MARK]
    assert len(with_mark["headings"][0]["t"]) < len(plain["headings"][0]["t"]) - 5
    assert with_mark["headings"][0]["t"].endswith("…")


@pytest.mark.parametrize("chart", SAMPLES, ids=lambda c: c.id)
def test_labels_are_drawn_as_ink(chart: Chart) -> None:
    """A renderer without a matching font leaves text out without a word."""
    svg = still_svg(chart, SIZES[0], LIGHT)
    assert re.search(r"<text[^>]*>[^<]", svg)
    assert ink(pixels(svg)) - ink(pixels(re.sub(r"(<text[^>]*>)[^<]*", r"\1", svg))) > 3_000


def test_every_still_of_a_drifting_run_is_marked(archive: Tested, found: dict[str, Subject]) -> None:
    subject = found["lantern-on-780"]
    assert unsettled_mark(subject).startswith("run not settled: Stock")
    charts = still_charts(subject, archive)
    assert charts
    for chart in charts:
        spec = chart.draw(still_frame(*SIZES[0]))
        assert any("run not settled" in str(row["t"]) for row in spec["datasets"]["strongs"])


def test_stills_of_settled_runs_carry_no_mark(archive: Tested, found: dict[str, Subject]) -> None:
    assert unsettled_mark(found["slab-on-780"]) == ""
    names = [chart.id for chart in still_charts(found["slab-on-780"], archive)]
    assert names == ["against", "coolers", "points", "changes", "power", "efficiency"]


def test_letters_of_ties_are_explained_on_the_still_itself(archive: Tested, found: dict[str, Subject]) -> None:
    words = "The same letter: too close to call"
    charts = {chart.id: chart for chart in still_charts(found["slab-on-780"], archive)}
    svg = still_svg(charts["coolers"], SIZES[0], LIGHT)
    assert words in svg
    assert edges(pixels(svg)) == 0
    assert all(words not in still_svg(chart, SIZES[0], LIGHT) for name, chart in charts.items() if name != "coolers")


def test_marks_of_both_results_stand_one_below_the_other(archive: Tested) -> None:
    found = head_to_head(
        archive, PointOf(bundle="slab-on-780", point="stock"), PointOf(bundle="riffle-on-780", point="stock")
    )
    marks = [f"Slab, {MARK}", f"Riffle, {MARK}"]
    card = versus_card(found, archive, "Cold Lantern", marks=marks)
    assert [text.text for text in card.texts if MARK in text.text] == marks
    assert edges(drawn(card)) == 0


# --- cards -----------------------------------------------------------------------------------------------------


def drawn(card: Card, palette: Palette = LIGHT) -> Pixels:
    return pixels(card_svg(card, palette))


@PALETTES
def test_the_title_card_holds_the_headline_figures(palette: Palette, found: dict[str, Subject]) -> None:
    card = title_card(found["slab-on-780"], "Cold Lantern")
    texts = [text.text for text in card.texts]
    assert texts[0] == "Fenwick Slab on Orrery 780"
    assert {"31.2", "Core over ambient", "285.0", "Board power", "118.0", "Mean frame rate"} <= set(texts)
    picture = drawn(card, palette)
    assert picture.shape == (1080, 1920, 4)
    assert edges(picture) == 0
    for text in card.texts:
        top, left = int(text.y - text.size * 0.8), int(text.x)
        assert ink(picture[top : int(text.y), left : left + 200]) > 50


def test_a_title_card_of_a_drifting_run_says_so(found: dict[str, Subject]) -> None:
    texts = [text.text for text in title_card(found["lantern-on-780"], "Cold Lantern").texts]
    assert any(text.startswith("run not settled: Stock") for text in texts)


def two(first: float, second: float, *, card: str = "orrery-780") -> Tested:
    shots = {"slab": (first, "orrery-780"), "twin": (second, card)}
    bundles = [
        Given(id=name, shots={"stock": Shot(values={"core_rise": [rise]})}, card=on)
        for name, (rise, on) in shots.items()
    ]
    return archive_of(bundles, spread=SpreadByKind(air=0.2, liquid=0.2))


def against(archive: Tested) -> Card:
    found = head_to_head(archive, PointOf(bundle="slab", point="stock"), PointOf(bundle="twin", point="stock"))
    return versus_card(found, archive, "Cold Lantern")


def test_side_by_side_names_both_values_and_the_difference() -> None:
    texts = [text.text.replace("\N{NO-BREAK SPACE}", " ") for text in against(two(26.0, 30.0)).texts]
    assert texts == [
        "slab against twin",
        "On the Orrery-780 at Stock",
        "slab",
        "twin",
        "Core over ambient",
        "26.0 ± 0.5 K",
        "30.0 ± 0.5 K",
        "4.0 K cooler",
        "Cold Lantern: every ± is a 95 % interval",
    ]


def test_side_by_side_says_too_close_to_call() -> None:
    texts = [text.text for text in against(two(30.0, 30.1)).texts]
    assert "too close to call" in texts
    assert not any("cooler" in text or "warmer" in text for text in texts)


def test_side_by_side_says_why_results_do_not_compare() -> None:
    archive = two(26.0, 30.0, card="orrery-740")
    texts = [text.text for text in against(archive).texts]
    assert "These results do not compare" in texts
    assert "They were tested on different cards, Orrery-780 and Orrery-740." in texts


@PALETTES
def test_nothing_of_a_card_is_cut_off(palette: Palette) -> None:
    longest = "W" * 120
    for bundles in (two(26.0, 30.0), two(30.0, 30.1), two(26.0, 30.0, card="orrery-740")):
        card = against(bundles)
        assert edges(drawn(card, palette)) == 0
    wide = Card(id="x", title=longest, description="", texts=title_texts(longest))
    assert edges(drawn(wide, palette), 40) == 0


def title_texts(name: str) -> tuple[CardText, ...]:
    """Return the texts of a title card of a result with a very long name."""
    archive = two(26.0, 30.0)
    subject = next(s for s in subjects(archive.catalogue, archive.results) if s.id == "slab")
    long = replace(subject, bundle=subject.bundle.model_copy(update={"title": name}))
    return title_card(long, name).texts


def test_names_from_an_archive_are_escaped() -> None:
    card = Card(id="x", title=HOSTILE, description=HOSTILE, texts=(CardText(x=96, y=200, size=60, text=HOSTILE),))
    svg = card_svg(card, LIGHT)
    assert "<script" not in svg
    assert svg.count("&lt;script&gt;") == 3


ROW = VersusRow(
    kind="frame_rate",
    a=Estimate(value=95.0, u=0.1, unit="1/s"),
    b=Estimate(value=98.0, u=0.1, unit="1/s"),
    difference=Estimate(value=-3.0, u=0.15, unit="1/s"),
    standing=Standing.B_BETTER,
    text="",
)
VERDICTS = {
    "3.00 fps slower": ROW,
    "too close to call": replace(ROW, standing=Standing.TOO_CLOSE),
    "not judged": replace(ROW, standing=Standing.NOT_JUDGED, difference=None),
}


@pytest.mark.parametrize(("words", "row"), VERDICTS.items(), ids=VERDICTS.keys())
def test_verdicts_of_a_card(words: str, row: VersusRow) -> None:
    assert verdict(row).replace("\N{NO-BREAK SPACE}", " ") == words
