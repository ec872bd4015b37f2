"""The site of an invented archive, written into a folder in a moment: its pages without charts."""

from __future__ import annotations

from pathlib import Path

from builder.charts.chart import Chart
from builder.comparison import Tested
from builder.core.files import themes_dir
from builder.pages import Page, SiteInput, SitePlan, site_plan
from builder.site.theme import open_theme, renderer, static_files

WORDS = {"methodology": "# How figures are made\n\nText.", "safety": "# Safety\n\nText."}


def named_picture(chart: Chart) -> str:
    """A picture that shows nothing, made in a moment."""
    return f'<svg role="img" id="{chart.id}" aria-label="{chart.id}"></svg>'


def plan_of(tested: Tested) -> SitePlan:
    """The plan of an archive's site."""
    return site_plan(SiteInput(catalogue=tested.catalogue, results=tested.results, pages=WORDS, draw=named_picture))


def write_site(folder: Path, plan: SitePlan, pages: tuple[Page, ...] = ()) -> Path:
    """Write pages of a plan (all where none are given) with what they load, and return the folder."""
    theme = open_theme(themes_dir(), "notebook")
    maker = renderer(theme)
    files = {page.path: maker.page(plan, page) for page in pages or plan.pages.values()}
    files |= {path: text.encode("ascii") for path, text in plan.data.items()}
    files |= static_files(theme)
    for path, data in files.items():
        file = folder / path
        file.parent.mkdir(parents=True, exist_ok=True)
        file.write_bytes(data)
    return folder
