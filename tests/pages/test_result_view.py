"""What result pages say, for every awkward result of the small archive."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from builder.archive.bench import Sensor
from builder.archive.loading import assumed_accuracies
from builder.comparison import Subject, Tested, subjects
from builder.core.quantity import NO_BREAK
from builder.core.results import Quantity, Trace, Verdict
from builder.pages.facts import condition_facts
from builder.pages.parts import Line, Table, Tag, plain_text
from builder.pages.result import ResultView, result_view
from builder.pages.result_tables import all_figures_table, changes_table, figure_in_words, points_table, runs_table
from builder.pages.sentences import remarks, verdict_sentence
from tests.support.site_data import catalogue, results

TESTED = Tested(catalogue=catalogue(), results=results())
SUBJECTS = {s.id: s for s in subjects(TESTED.catalogue, TESTED.results)}


def words(line: Line) -> str:
    return plain_text(line).replace(NO_BREAK, " ")


def said(subject: Subject) -> list[str]:
    return [words(line) for line in remarks(subject)]


def column(table: Table, label: str) -> int:
    return next(i for i, c in enumerate(table.columns) if c.label == label)


def test_the_verdict_is_one_sentence_with_uncertainty() -> None:
    assert words(verdict_sentence(SUBJECTS["slab-on-780"])) == (
        "At stock settings the Fenwick Slab holds the core of the Orrery 780 31.2 ± 0.4 K above ambient"
        " at 285.0 ± 2.9 W board power."
    )


def test_a_drifting_run_says_that_it_is_not_ranked() -> None:
    text = words(verdict_sentence(SUBJECTS["lantern-on-780"]))
    assert (
        text == "The run at stock settings was still drifting when it ended, so there is no final figure and no rank."
    )


def test_without_ambient_the_temperature_stands_for_the_rise() -> None:
    text = words(verdict_sentence(SUBJECTS["slab-on-740"]))
    assert "at 42.0 ± 0.5 °C (the room's temperature is not known, so no rise)" in text


def test_without_stock_the_page_says_so() -> None:
    assert words(verdict_sentence(SUBJECTS["twin-on-780"])).startswith("There is no run at stock settings")


@pytest.mark.parametrize("verdict", [Verdict.TOO_SHORT, Verdict.UNDECIDED, Verdict.DRIFTING])
def test_a_stock_run_without_figures_still_has_a_sentence(verdict: Verdict) -> None:
    subject = SUBJECTS["slab-on-780"]
    stock = subject.stock
    assert stock
    empty = replace(stock, figures={}, verdict=verdict)
    bare = replace(subject, result=replace(subject.result, points=(empty,)))
    text = words(verdict_sentence(bare))
    assert text.startswith("The run at stock settings ")
    assert text.endswith("so there is no final figure and no rank.")


def test_a_run_outside_the_band_is_named_with_the_band() -> None:
    assert "Ambient was outside the protocol's band (18 °C to 28 °C) at Power limit 60 %." in " ".join(
        said(SUBJECTS["stock-on-780"])
    )


def test_one_mount_is_said_and_two_are_not() -> None:
    assert any(text.startswith("One mount only") for text in said(SUBJECTS["riffle-on-780"]))
    assert not any(text.startswith("One mount only") for text in said(SUBJECTS["slab-on-780"]))


def test_unsettled_test_points_are_named_with_their_verdict() -> None:
    assert said(SUBJECTS["riffle-on-780"])[0].startswith("Not settled: Overclock, raised power limit (too short).")


def test_sensors_that_were_not_there_are_named() -> None:
    assert "Not measured: memory temperature and hotspot temperature." in said(SUBJECTS["fold-on-740"])
    assert not any(text.startswith("Not measured") for text in said(SUBJECTS["slab-on-780"]))


def test_where_the_cooler_came_from_is_disclosed() -> None:
    assert "The cooler is a sample from its maker." in said(SUBJECTS["slab-on-780"])


def test_a_correction_is_announced_and_listed() -> None:
    subject = SUBJECTS["slab-on-780"]
    assert "1 figure on this page was corrected: what changed and why." in said(subject)
    view = result_view(subject, TESTED)
    row = view.corrections.rows[0]
    assert words(row.head) == "3 May 2026"
    assert [words(cell) for cell in row.cells[:3]] == ["Core over ambient at Stock", "30.9 K", "31.2 K"]


def test_a_figure_that_nobody_knows_stays_as_it_was_written() -> None:
    assert words(figure_in_words(SUBJECTS["slab-on-780"], "the sound")) == "the sound"
    assert words(figure_in_words(SUBJECTS["slab-on-780"], "stock/nothing")) == "stock/nothing"


def test_a_figure_that_was_not_measured_is_an_empty_cell() -> None:
    table = points_table(SUBJECTS["slab-on-780"])
    idle = table.rows[0]
    assert words(idle.head) == "Idle"
    assert idle.cells[column(table, "Frame rate")] == ()


def test_columns_that_nothing_fills_are_left_out() -> None:
    labels = [c.label for c in points_table(SUBJECTS["fold-on-740"]).columns]
    assert "Frame rate" not in labels
    assert "Memory rise" not in labels
    assert "Core rise" in labels


def test_changes_from_stock_show_their_sign_and_percent() -> None:
    table = changes_table(SUBJECTS["slab-on-780"])
    row = next(r for r in table.rows if words(r.head) == "Power limit 80 %")
    rise, percent = row.cells[column(table, "Core rise")], row.cells[column(table, "Core rise") + 1]
    assert words(rise) == "−6.2 ± 0.5 K"
    assert words(percent) == "−20.0 ± 1.2 %"


def test_stock_and_idle_have_no_change_from_stock() -> None:
    heads = [words(r.head) for r in changes_table(SUBJECTS["slab-on-780"]).rows]
    assert "Stock" not in heads
    assert "Idle" not in heads


def test_every_run_stands_with_its_verdict_and_what_was_found() -> None:
    table = runs_table(SUBJECTS["slab-on-780"])
    assert len(table.rows) == 14
    repairs = [words(r.cells[column(table, "Found in the log")]) for r in table.rows if words(r.head) == "Idle"]
    assert repairs == ["1 repeated header row skipped."] * 2


def test_all_figures_are_rows_and_test_points_columns() -> None:
    table = all_figures_table(SUBJECTS["slab-on-780"])
    assert [c.label.replace(NO_BREAK, " ") for c in table.columns][:3] == ["Idle", "Stock", "Power limit 80 %"]
    assert words(table.rows[0].head) == "Core over ambient, at rest"


def test_the_uncertainty_budget_is_largest_first_and_ends_with_the_sum() -> None:
    view = result_view(SUBJECTS["slab-on-780"], TESTED)
    budget = view.budgets[0]
    assert words(budget.figure) == "Core over ambient: 31.2 ± 0.4 K"
    heads = [words(r.head) for r in budget.table.rows]
    assert heads == ["Mount to mount", "Ambient sensor", "Scatter of the readings", "Combined"]
    assert words(budget.table.rows[1].cells[3]) == "infinite"


def test_degrees_of_freedom_too_many_to_count_are_not_spelled_out() -> None:
    subject = SUBJECTS["slab-on-780"]
    stock = subject.stock
    assert stock
    figure = stock.figures["core_rise"]
    many = replace(figure, budget=tuple(replace(c, dof=1e30) for c in figure.budget))
    changed = replace(stock, figures={"core_rise": many})
    view = result_view(replace(subject, result=replace(subject.result, points=(changed,))), TESTED)
    assert words(view.budgets[0].table.rows[0].cells[3]) == "over 1000"


def test_a_definition_is_said_once() -> None:
    view = result_view(SUBJECTS["slab-on-780"], TESTED)
    assert [(d.term, d.text) for d in view.definitions] == [
        ("1 % low", "the frame rate at the 99th percentile of frame times")
    ]


def test_a_verdict_is_a_word_and_not_only_a_colour() -> None:
    view = result_view(SUBJECTS["lantern-on-780"], TESTED)
    assert view.stock_verdict == Tag(text="drifting", kind="bad")


@pytest.mark.parametrize("subject", SUBJECTS.values(), ids=SUBJECTS.keys())
def test_every_result_has_a_view(subject: Subject) -> None:
    view: ResultView = result_view(subject, TESTED)
    assert words(view.headline)
    assert words(view.lead)
    assert len(view.answers) <= 5
    for table in (view.points, view.changes, view.all_figures, view.runs):
        assert all(len(row.cells) == len(table.columns) for row in table.rows)


def test_newest_results_come_first() -> None:
    days = [s.shown_on for s in SUBJECTS.values()]
    assert days == sorted(days, reverse=True)


def test_the_bench_marks_the_accuracies_that_are_assumed_among_those_that_it_states() -> None:
    subject = SUBJECTS["slab-on-780"]
    sensors = (
        Sensor(quantity=Quantity.CORE_TEMPERATURE, name="on the card", resolution=1.0),
        Sensor(quantity=Quantity.BOARD_POWER, accuracy_pct=1.5),
    )
    logged = dict.fromkeys((Quantity.AMBIENT_TEMPERATURE, Quantity.BOARD_POWER, Quantity.FRAME_RATE))
    traces = {q: Trace(quantity=q, time_s=np.zeros(1), values=np.zeros(1)) for q in logged}
    point = subject.result.points[0]
    runs = (replace(point.runs[0], traces=traces),)
    shown = replace(
        subject,
        bench=subject.bench.model_copy(update={"sensors": sensors}),
        assumed=assumed_accuracies(),
        result=replace(subject.result, points=(replace(point, runs=runs),)),
    )
    (found,) = [fact for fact in condition_facts(shown) if fact.label == "Sensors"]
    assert [words(line) for line in found.values] == [
        "Core temperature (on the card): \N{PLUS-MINUS SIGN}2 K (assumed), resolution 1 K",
        "Board power: \N{PLUS-MINUS SIGN}1.5 % of reading",
        "Ambient temperature: \N{PLUS-MINUS SIGN}0.5 K (assumed)",
    ]
