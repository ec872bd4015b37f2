"""Over the whole demo: a chart on a page, its still, its alternative text and its table name the same points alike."""

from __future__ import annotations

import html
from dataclasses import fields
from pathlib import Path
from typing import Any

import pytest

from builder.charts.chart import Chart
from builder.charts.frame import still_frame
from builder.charts.of_result import ResultCharts, result_charts, still_charts
from builder.commands.cache.cache import open_cache
from builder.commands.reduce_archive import sound_figures
from builder.comparison import Subject, Tested, subjects
from builder.core.results import PointResult, Verdict
from tests.support.demo import published_demo

STILL = still_frame(1920, 1080)
OF_POINTS = ("points", "changes", "power", "efficiency")
Drawn = tuple[Subject, Chart, Chart]  # a result, its chart on the page, the same as a still


@pytest.fixture(scope="module")
def demo(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return published_demo(tmp_path_factory)


@pytest.fixture(scope="module")
def tested(demo: Path) -> Tested:
    return sound_figures(demo / "archive", cache=open_cache(demo / "archive")).tested


@pytest.fixture(scope="module")
def drawn(tested: Tested) -> dict[str, list[Drawn]]:
    """The charts of every result, by name, as (result, on its page, as a still)."""
    found: dict[str, list[Drawn]] = {}
    for subject in subjects(tested.catalogue, tested.results):
        on_page, stills = result_charts(subject, tested), still_charts(subject, tested)
        assert [chart.id for chart in on_page] == [f"chart-{still.id}" for still in stills]
        for page, still in zip(on_page, stills, strict=True):
            found.setdefault(still.id, []).append((subject, page, still))
    return found


def of_points(drawn: dict[str, list[Drawn]]) -> list[Drawn]:
    return [one for name in OF_POINTS for one in drawn[name]]


def marks(chart: Chart, frame: Any) -> list[str]:  # noqa: ANN401 - any frame
    """What hovering over the marks of a chart says, in the order in which they are drawn."""
    datasets = chart.draw(frame)["datasets"]
    return [row["d"] for name in ("dots", "points") for row in datasets.get(name, ())]


def texts(chart: Chart, frame: Any) -> set[str]:  # noqa: ANN401 - any frame
    datasets = chart.draw(frame)["datasets"]
    return {row["t"] for name in ("labels", "strongs") for row in datasets[name]}


def names(chart: Chart) -> list[str]:
    """The points that the table of a chart names."""
    return [row[0] for row in chart.table.rows if not row[0].startswith(("Line, ", "Curve, "))]


def named(point: PointResult) -> str:
    return point.name if point.verdict is Verdict.SETTLED else f"{point.name} ({point.verdict})"


def test_the_demo_has_points_that_did_not_settle(drawn: dict[str, list[Drawn]]) -> None:
    shown = {name for _, page, _ in of_points(drawn) for name in names(page)}
    assert any(name.endswith(" (drifting)") for name in shown)
    assert any(name.endswith(" (undecided)") for name in shown)
    assert set(drawn) == {field.name for field in fields(ResultCharts)}


def test_page_and_still_differ_in_frame_and_title_only(drawn: dict[str, list[Drawn]]) -> None:
    for _, page, still in (one for charts in drawn.values() for one in charts):
        assert page.table.rows == still.table.rows
        assert page.table.columns == still.table.columns
        assert still.description.startswith(page.description)
        assert marks(page, page.frames[0]) == marks(still, STILL)


def test_tables_name_points_with_the_marks_of_their_verdicts(drawn: dict[str, list[Drawn]]) -> None:
    for subject, page, _ in of_points(drawn):
        assert set(names(page)) <= {named(point) for point in subject.result.points}


def test_marks_and_labels_name_the_points_of_the_table(drawn: dict[str, list[Drawn]]) -> None:
    for _, page, still in of_points(drawn):
        for chart, frame in ((page, page.frames[0]), (still, STILL)):
            said = marks(chart, frame)
            assert {name for name in names(chart) for words in said if words.startswith(f"{name}, ")} == set(
                names(chart)
            )
            assert all(any(words.startswith(f"{name}, ") for name in names(chart)) for words in said)
            if chart.id.endswith(("points", "changes")):
                assert set(names(chart)) <= texts(chart, frame)


def test_alternative_texts_name_points_as_the_table_does(drawn: dict[str, list[Drawn]]) -> None:
    for subject, page, _ in of_points(drawn):
        rest = page.description
        for name in sorted(names(page), key=len, reverse=True):
            rest = rest.replace(name, "")
        unsettled = [point.name for point in subject.result.points if point.verdict is not Verdict.SETTLED]
        assert not [name for name in unsettled if name in rest]


def test_the_published_page_holds_the_chart(drawn: dict[str, list[Drawn]], demo: Path) -> None:
    for subject, page, _ in of_points(drawn):
        markup = html.unescape((demo / "site" / subject.href).read_text(encoding="utf-8"))
        assert f'id="{page.id}-compact-desc"' in markup
        assert page.description in markup
        for words in marks(page, page.frames[0]):
            assert f'aria-label="{words}"' in markup
