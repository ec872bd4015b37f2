"""The palette of both modes: contrast with the paper, and colours that stay apart for colour-blind readers."""

from __future__ import annotations

from itertools import combinations

import numpy as np
import pytest

from builder.charts.style import DARK, LIGHT, MEANINGS, PAGE, Palette, Slot, css_variables, variables
from builder.core.quantity import FloatArray

# Viénot, Brettel and Mollon (1999), for linear sRGB; value from memory.
VISION = {
    "full": np.eye(3),
    "protan": np.array([[0.11238, 0.88762, 0.0], [0.11238, 0.88762, 0.0], [0.00401, -0.00401, 1.0]]),
    "deutan": np.array([[0.29275, 0.70725, 0.0], [0.29275, 0.70725, 0.0], [-0.02234, 0.02234, 1.0]]),
}
# Ottosson's Oklab (2020); value from memory.
TO_CONES = np.array(
    [
        [0.4122214708, 0.5363325363, 0.0514459929],
        [0.2119034982, 0.6806995451, 0.1073969566],
        [0.0883024619, 0.2817188376, 0.6299787005],
    ]
)
TO_LAB = np.array(
    [
        [0.2104542553, 0.7936177850, -0.0040720468],
        [1.9779984951, -2.4285922050, 0.4505937099],
        [0.0259040371, 0.7827717662, -0.8086757660],
    ]
)
COOLERS = (Slot.SUBJECT, Slot.OTHERS)
BOTH = pytest.mark.parametrize("palette", [LIGHT, DARK], ids=lambda p: p.name)


def linear(colour: str) -> FloatArray:
    """Linear light of an sRGB colour: WCAG 2.2, relative luminance."""
    parts = np.array([int(colour[i : i + 2], 16) / 255 for i in (1, 3, 5)])
    return np.where(parts <= 0.04045, parts / 12.92, ((parts + 0.055) / 1.055) ** 2.4)


def contrast(one: str, other: str) -> float:
    """Contrast ratio: WCAG 2.2, definition of the same name."""
    low, high = sorted(float(linear(c) @ np.array([0.2126, 0.7152, 0.0722])) for c in (one, other))
    return (high + 0.05) / (low + 0.05)


def lab(colour: str, vision: str) -> FloatArray:
    seen = np.clip(VISION[vision] @ linear(colour), 0, 1)
    return np.asarray(TO_LAB @ np.cbrt(TO_CONES @ seen))


def test_black_on_white_has_the_highest_contrast() -> None:
    assert contrast("#000000", "#ffffff") == pytest.approx(21)


@BOTH
def test_series_colours_have_contrast_3_with_paper(palette: Palette) -> None:
    """WCAG 2.2, 1.4.11: graphical objects need 3:1."""
    assert min(contrast(colour, palette.paper) for colour in palette.series) >= 3


@BOTH
def test_series_colours_have_contrast_3_with_the_shaded_window(palette: Palette) -> None:
    assert min(contrast(colour, palette.window) for colour in palette.series) >= 3


@BOTH
def test_text_has_contrast_4_5_with_paper_and_window(palette: Palette) -> None:
    """WCAG 2.2, 1.4.3: text needs 4.5:1."""
    pairs = [(ink, ground) for ink in (palette.ink, palette.ink_soft) for ground in (palette.paper, palette.window)]
    assert min(contrast(*pair) for pair in pairs) >= 4.5


@BOTH
@pytest.mark.parametrize("vision", VISION)
def test_series_colours_stay_apart(palette: Palette, vision: str) -> None:
    """Five times a just noticeable difference of about 0.02 in Oklab; common practice, no source."""
    of_slot = dict(zip(Slot, palette.series, strict=True))
    # Coolers stand in charts of their own, never beside quantities.
    quantities = [colour for slot, colour in of_slot.items() if slot not in COOLERS]
    pairs = [*combinations(quantities, 2), tuple(of_slot[slot] for slot in COOLERS)]
    assert min(float(np.linalg.norm(lab(a, vision) - lab(b, vision))) for a, b in pairs) >= 0.1


def test_both_modes_define_the_variables_that_pictures_on_a_page_use() -> None:
    used = {value.removeprefix("var(").removesuffix(")") for value in variables(PAGE).values()}
    assert set(variables(LIGHT)) == set(variables(DARK)) == used


def test_css_has_one_declaration_for_each_variable() -> None:
    assert css_variables(DARK).count(";") == len(variables(DARK))
    assert "--chart-6: #9a66bd;" in css_variables(DARK)


def test_every_colour_has_one_meaning_of_its_own() -> None:
    assert set(MEANINGS) == set(Slot)
    assert len(set(MEANINGS.values())) == len(Slot)
    assert all(len(palette.series) == len(Slot) for palette in (LIGHT, DARK, PAGE))
