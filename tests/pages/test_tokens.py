"""Colours of the theme: one set of variables, the same in both dark blocks, that can be read on their ground."""

from __future__ import annotations

import re
from pathlib import Path

import pytest

from builder.charts.palette import DARK, LIGHT, variables

CSS = Path(__file__).resolve().parents[2] / "themes" / "notebook" / "static" / "css"
TOKENS = (CSS / "tokens.css").read_text(encoding="utf-8")
BLOCKS = [dict(re.findall(r"(--[\w-]+):\s*([^;]+);", body)) for body in re.findall(r"\{([^{}]*)\}", TOKENS)]
CHOSEN_LIGHT, CHOSEN_DARK, SYSTEM_DARK = BLOCKS


def luminance(colour: str) -> float:
    # Source: WCAG 2.2, definition of relative luminance.
    channels = [int(colour[i : i + 2], 16) / 255 for i in (1, 3, 5)]
    linear = [c / 12.92 if c <= 0.04045 else ((c + 0.055) / 1.055) ** 2.4 for c in channels]
    return 0.2126 * linear[0] + 0.7152 * linear[1] + 0.0722 * linear[2]


def contrast(one: str, other: str) -> float:
    low, high = sorted((luminance(one), luminance(other)))
    return (high + 0.05) / (low + 0.05)


def test_contrast_is_worked_out_as_published() -> None:
    # Source: WCAG 2.2, 1.4.3; on white #767676 is 4.542 and #777777 is 4.478.
    assert round(contrast("#ffffff", "#767676"), 3) == 4.542
    assert round(contrast("#ffffff", "#777777"), 3) == 4.478


def test_both_dark_blocks_are_the_same() -> None:
    assert CHOSEN_DARK == SYSTEM_DARK


def test_dark_changes_every_colour_and_nothing_else() -> None:
    colours = {name for name, value in CHOSEN_LIGHT.items() if value.startswith("#")}
    assert set(CHOSEN_DARK) == colours


def test_charts_and_pages_share_their_colours() -> None:
    assert variables(LIGHT).items() <= CHOSEN_LIGHT.items()
    assert variables(DARK).items() <= CHOSEN_DARK.items()


@pytest.mark.parametrize("tokens", [CHOSEN_LIGHT, CHOSEN_DARK], ids=["light", "dark"])
@pytest.mark.parametrize("ground", ["--paper", "--sheet", "--accent-soft"])
@pytest.mark.parametrize("text", ["--ink", "--ink-soft", "--accent", "--good", "--open", "--bad"])
def test_text_can_be_read_on_every_ground(tokens: dict[str, str], ground: str, text: str) -> None:
    # Source: WCAG 2.2, 1.4.3 contrast (minimum).
    assert contrast(tokens[text], tokens[ground]) >= 4.5


@pytest.mark.parametrize("sheet", sorted(CSS.glob("*.css")), ids=lambda p: p.name)
def test_sheets_use_only_variables_that_exist(sheet: Path) -> None:
    used = set(re.findall(r"var\((--[\w-]+)", sheet.read_text(encoding="utf-8")))
    assert used <= set(CHOSEN_LIGHT)


@pytest.mark.parametrize("sheet", sorted(CSS.glob("*.css")), ids=lambda p: p.name)
def test_colours_stand_in_the_tokens_and_for_paper_alone(sheet: Path) -> None:
    literal = re.findall(r"#[0-9a-fA-F]{3,8}\b|\brgba?\(|\bhsla?\(", sheet.read_text(encoding="utf-8"))
    assert sheet.name in {"tokens.css", "print.css"} or literal == []


def test_no_sheet_loads_anything() -> None:
    for sheet in CSS.glob("*.css"):
        assert not re.search(r"url\(|@import|@font-face", sheet.read_text(encoding="utf-8")), sheet.name
