"""Colours of the charts for both modes: the single source of the theme's chart variables."""

from __future__ import annotations

from dataclasses import dataclass
from enum import IntEnum


class Slot(IntEnum):
    """Place of a series in the palette: the same thing has the same colour, shape and dash in every chart."""

    CORE = 1
    HOTSPOT = 2
    MEMORY = 3
    AMBIENT = 4
    COOLANT = 5
    POWER = 6


@dataclass(frozen=True, kw_only=True)
class Palette:
    """Colours of one mode; `series` holds one colour for each slot, in order."""

    name: str
    paper: str
    ink: str
    ink_soft: str
    line: str
    window: str
    series: tuple[str, str, str, str, str, str]


# Found by a search that keeps every pair apart for full, protan and deutan vision (the tests state the distances).
LIGHT = Palette(
    name="light",
    paper="#fbfaf5",
    ink="#23261f",
    ink_soft="#5a5e54",
    line="#c9c8bd",
    window="#ece8d8",
    series=("#d35765", "#7e5b00", "#5e7ce1", "#374036", "#1b919c", "#853f9c"),
)
DARK = Palette(
    name="dark",
    paper="#15181c",
    ink="#eceae1",
    ink_soft="#a9ada6",
    line="#434850",
    window="#282d33",
    series=("#ff8a78", "#a87e10", "#7a9bff", "#e4eadd", "#58c9bd", "#9a66bd"),
)
# On a page the colours are the theme's, so that one picture serves both modes.
PAGE = Palette(
    name="page",
    paper="var(--paper)",
    ink="var(--ink)",
    ink_soft="var(--ink-soft)",
    line="var(--line)",
    window="var(--window)",
    series=(
        "var(--chart-1)",
        "var(--chart-2)",
        "var(--chart-3)",
        "var(--chart-4)",
        "var(--chart-5)",
        "var(--chart-6)",
    ),
)


def variables(palette: Palette) -> dict[str, str]:
    """Return the palette as CSS custom properties, name to value."""
    named = {
        "--paper": palette.paper,
        "--ink": palette.ink,
        "--ink-soft": palette.ink_soft,
        "--line": palette.line,
        "--window": palette.window,
    }
    return named | {f"--chart-{slot}": colour for slot, colour in enumerate(palette.series, start=1)}


def css_variables(palette: Palette) -> str:
    """Return the palette as CSS declarations, one a line, to stand inside a rule.

    >>> css_variables(LIGHT).splitlines()[0]
    '--paper: #fbfaf5;'
    """
    return "\n".join(f"{name}: {value};" for name, value in variables(palette).items())
