"""The archive's table and its filters."""

from __future__ import annotations

from builder.comparison import subjects
from builder.pages.archive_table import archive_view
from builder.pages.parts import sort_key
from tests.support.site_data import POINTS, catalogue, results

SUBJECTS = subjects(catalogue(), results())
VIEW = archive_view(SUBJECTS)


def test_stock_comes_first_and_the_others_follow_the_protocol() -> None:
    others = [point for point in POINTS if point != "stock"]
    assert [g.id for g in VIEW.table.groups] == ["stock", *others]


def test_every_result_stands_at_every_test_point_that_it_has() -> None:
    shown = {(str(r.data["card"]), str(r.data["cooler"]), g.id) for g in VIEW.table.groups for r in g.rows if r.data}
    there = {(s.bundle.card, s.bundle.cooler, p.point) for s in SUBJECTS for p in s.result.points}
    assert shown == there


def test_rows_can_be_filtered_by_all_that_the_filters_offer() -> None:
    rows = [r for g in VIEW.table.groups for r in g.rows]
    for choice in VIEW.filters:
        offered = {option.value for option in choice.options}
        assert offered == {str(r.data[choice.key]) for r in rows if r.data}


def test_the_test_point_starts_at_stock_and_the_rest_at_all() -> None:
    assert {f.key: f.chosen for f in VIEW.filters if f.chosen} == {"point": ("stock",)}


def test_a_missing_figure_has_no_sort_key() -> None:
    keys = {column.key: i for i, column in enumerate(VIEW.table.columns)}
    fold = next(r for r in VIEW.table.groups[0].rows if r.data and r.data["cooler"] == "fold")
    assert sort_key(fold.cells[keys["memory_rise"]]) == ""
    assert float(sort_key(fold.cells[keys["core_rise"]])) == 52.0


def test_an_archive_without_results_is_empty() -> None:
    assert archive_view(()).table.empty
