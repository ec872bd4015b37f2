"""A run whose power limit was forgotten: what it is kept out of, and where it is marked."""

from __future__ import annotations

import html
import re
import shutil
from pathlib import Path

import pytest

from builder.charts.of_result import result_charts, unsettled_mark
from builder.commands.cache.cache import Cache
from builder.commands.readiness import readiness
from builder.commands.reduce_archive import Figures, reduce_archive
from builder.comparison import NotComparable, PointOf, comparability, group_of, ranking, subjects
from builder.core.errors import Severity
from builder.core.files import content_dir
from builder.core.results import PointResult
from builder.site import SiteRenderer
from tests.support.shared import folder_made_once

FORGOT, SET, POINT = "forgot", "example-tower-on-example-card", "power-80"


@pytest.fixture(scope="module")
def root(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The starter's archive, and its bundle again as it would be had nobody set the lower limit."""

    def make(folder: Path) -> None:
        shutil.copytree(content_dir() / "starter", folder / "archive")
        bundles = folder / "archive/bundles"
        shutil.copytree(bundles / SET, bundles / FORGOT)
        shutil.copyfile(bundles / FORGOT / "m1-stock.csv", bundles / FORGOT / "m1-power-80.csv")

    return folder_made_once(tmp_path_factory, "forgotten limit", make) / "archive"


@pytest.fixture(scope="module")
def figures(root: Path) -> Figures:
    """Its figures."""
    return reduce_archive(root)


def point(figures: Figures, bundle: str) -> PointResult:
    found = figures.results[bundle].point(POINT)
    assert found is not None
    return found


def test_power_above_the_limit_is_found_and_power_at_the_limit_is_not(figures: Figures) -> None:
    over = point(figures, FORGOT).over_limit
    assert over is not None
    card = figures.loaded.catalogue.cards["example-card"]
    assert over.limit_w == pytest.approx(0.8 * card.board_power_w)
    assert over.power.value - over.power.expanded() > 1.05 * over.limit_w
    assert point(figures, SET).over_limit is None
    assert point(figures, SET).changes


def test_it_has_no_change_from_stock_and_no_part_in_what_is_saved(figures: Figures) -> None:
    assert point(figures, FORGOT).changes == {}
    assert figures.results[FORGOT].sweep is None
    assert figures.results[SET].sweep is not None


def test_it_is_in_no_order_and_no_pair_and_the_reason_is_typed(figures: Figures) -> None:
    tested = figures.tested
    found = ranking(tested, group_of(tested, SET, POINT), "core_rise")
    assert [row.bundle for row in found.rows] == [SET]
    assert [(x.bundle, [r.code for r in x.reasons]) for x in found.left_out] == [(FORGOT, ["limit-not-applied"])]
    how = comparability(tested, *(PointOf(bundle=bundle, point=POINT) for bundle in (SET, FORGOT)))
    assert isinstance(how, NotComparable)
    assert [reason.code for reason in how.reasons] == ["limit-not-applied"]


def test_its_other_test_points_compare(figures: Figures) -> None:
    found = ranking(figures.tested, group_of(figures.tested, SET, "stock"), "core_rise")
    assert {bundle for row in found.rows for bundle in row.tests} == {SET, FORGOT}


def test_check_warns_at_the_run(figures: Figures) -> None:
    found = [p for p in readiness(figures.loaded, figures.results) if p.code == "limit-not-applied"]
    assert [(p.severity, str(p.where)) for p in found] == [
        (Severity.WARNING, f"bundles/{FORGOT}/bundle.yaml:16:17"),
    ]
    assert "the limit was not applied" in found[0].message


def test_page_and_charts_mark_it(root: Path, figures: Figures) -> None:
    site = SiteRenderer(root=root, loaded=figures.loaded, results=figures.results, keep=Cache())
    shown = {bundle: _words(site.page(f"results/{bundle}.html").decode()) for bundle in (FORGOT, SET)}
    name = point(figures, FORGOT).name
    assert f"{name} (power limit not applied)" in shown[FORGOT]
    assert ": the power limit was not applied." in shown[FORGOT]
    assert "not applied" not in shown[SET]
    subject = next(s for s in subjects(figures.loaded.catalogue, figures.results) if s.id == FORGOT)
    assert unsettled_mark(subject) == f"power limit not applied: {name}"
    drawn = result_charts(subject, figures.tested).points
    assert drawn is not None
    assert f"{name} (power limit not applied)" in str(drawn)


def _words(text: str) -> str:
    return " ".join(html.unescape(re.sub(r"<[^>]+>", " ", text)).replace("\N{NO-BREAK SPACE}", " ").split())
