"""Tokens of every theme: one set of variables, the same in both dark blocks, that can be read on their ground."""

from __future__ import annotations

import re
from dataclasses import dataclass
from typing import TypeAlias

import pytest

from builder.charts.style import DARK, LIGHT, variables
from builder.core.files import themes_dir
from builder.site.theme import open_theme, static_files

Tokens: TypeAlias = dict[str, str]
NAMES = sorted(folder.name for folder in themes_dir().iterdir() if folder.is_dir())


@dataclass(frozen=True, kw_only=True)
class Look:
    """A theme's style sheets by name, those that it builds on included, and what its tokens hold in each mode."""

    name: str
    sheets: dict[str, str]
    light: Tokens
    dark: Tokens
    system_dark: Tokens


def look(name: str) -> Look:
    files = static_files(open_theme(themes_dir(), name))
    sheets = {path.rpartition("/")[2]: data.decode() for path, data in files.items() if path.endswith(".css")}
    blocks = [
        dict(re.findall(r"(--[\w-]+):\s*([^;]+);", body)) for body in re.findall(r"\{([^{}]*)\}", sheets["tokens.css"])
    ]
    light, dark, system_dark = blocks
    return Look(name=name, sheets=sheets, light=light, dark=dark, system_dark=system_dark)


LOOKS = [look(name) for name in NAMES]
NOTEBOOK = next(each for each in LOOKS if each.name == "notebook")
EACH = pytest.mark.parametrize("theme", LOOKS, ids=NAMES)
MODE = pytest.mark.parametrize("mode", ["light", "dark"])


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


def test_there_is_more_than_one_theme() -> None:
    assert {"notebook", "drafting"} <= set(NAMES)


@EACH
def test_every_theme_defines_the_same_tokens(theme: Look) -> None:
    assert set(theme.light) == set(NOTEBOOK.light)
    assert set(theme.dark) == set(NOTEBOOK.dark)


@EACH
def test_both_dark_blocks_are_the_same(theme: Look) -> None:
    assert theme.dark == theme.system_dark


@EACH
def test_dark_changes_every_colour_and_nothing_else(theme: Look) -> None:
    assert set(theme.dark) == {name for name, value in theme.light.items() if value.startswith("#")}


def test_themes_differ_in_every_colour_but_those_of_the_series() -> None:
    drafting = look("drafting")
    for ours, theirs in ((drafting.light, NOTEBOOK.light), (drafting.dark, NOTEBOOK.dark)):
        same = {name for name in NOTEBOOK.dark if ours[name] == theirs[name]}
        assert same == {f"--chart-{slot}" for slot in range(1, 10)}


def test_charts_and_pages_share_their_colours() -> None:
    assert variables(LIGHT).items() <= NOTEBOOK.light.items()
    assert variables(DARK).items() <= NOTEBOOK.dark.items()


@EACH
def test_series_have_the_colours_of_the_stills(theme: Look) -> None:
    # The palette's tests hold these apart for colour-blind readers; a theme that changes them must repeat that.
    for tokens, palette in ((theme.light, LIGHT), (theme.dark, DARK)):
        assert [tokens[f"--chart-{slot}"] for slot in range(1, 10)] == list(palette.series)


def of_mode(theme: Look, mode: str) -> Tokens:
    return theme.light if mode == "light" else theme.dark


@EACH
@MODE
@pytest.mark.parametrize("ground", ["--paper", "--sheet", "--accent-soft", "--window"])
@pytest.mark.parametrize("text", ["--ink", "--ink-soft", "--accent", "--good", "--open", "--bad"])
def test_text_can_be_read_on_every_ground(theme: Look, mode: str, ground: str, text: str) -> None:
    # Source: WCAG 2.2, 1.4.3 contrast (minimum).
    tokens = of_mode(theme, mode)
    assert contrast(tokens[text], tokens[ground]) >= 4.5


@EACH
@MODE
@pytest.mark.parametrize("ground", ["--paper", "--window"])
def test_series_can_be_seen_on_their_ground(theme: Look, mode: str, ground: str) -> None:
    # Source: WCAG 2.2, 1.4.11 non-text contrast.
    tokens = of_mode(theme, mode)
    assert min(contrast(tokens[f"--chart-{slot}"], tokens[ground]) for slot in range(1, 7)) >= 3


@EACH
def test_sheets_use_only_variables_that_exist(theme: Look) -> None:
    for name, sheet in theme.sheets.items():
        assert set(re.findall(r"var\((--[\w-]+)", sheet)) <= set(theme.light), name


@EACH
def test_colours_stand_in_the_tokens_and_for_paper_alone(theme: Look) -> None:
    for name, sheet in theme.sheets.items():
        literal = re.findall(r"#[0-9a-fA-F]{3,8}\b|\brgba?\(|\bhsla?\(", sheet)
        assert name in {"tokens.css", "print.css"} or literal == [], name


@EACH
def test_no_sheet_loads_anything(theme: Look) -> None:
    for name, sheet in theme.sheets.items():
        assert not re.search(r"url\(|@import|@font-face", sheet), name
