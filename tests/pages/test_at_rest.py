"""How a rise at rest is made, as a page shows it: window's mean, correction and sum, each named and adding up."""

from __future__ import annotations

from dataclasses import replace
from decimal import Decimal

from hypothesis import given
from hypothesis import strategies as st

from builder.comparison import Subject, subjects
from builder.core.quantity import MINUS, Estimate
from builder.core.results import Figure, Verdict
from builder.pages.at_rest import at_rest_table, labelled_cell
from builder.pages.parts import Num, Table, plain_text
from builder.pages.result_tables import all_figures_table
from tests.support.site_data import catalogue, results

SUBJECT = {s.id: s for s in subjects(catalogue(), results())}["slab-on-780"]


def figure(kind: str, value: float, u: float, unit: str) -> Figure:
    return Figure(kind=kind, estimate=Estimate(value=value, u=u, unit=unit))


def subject_of(core: float, ambient: float, rise: float, *, u: float = 0.05, verdict: Verdict | None = None) -> Subject:
    stock = SUBJECT.stock
    assert stock
    figures = {
        "core_temperature": figure("core_temperature", core, u, "degC"),
        "ambient_temperature": figure("ambient_temperature", ambient, u, "degC"),
        "core_rise": figure("core_rise", rise, u, "K"),
    }
    point = replace(stock, figures=figures, verdict=verdict or stock.verdict)
    return replace(SUBJECT, result=replace(SUBJECT.result, points=(point,)))


def digits(table: Table, *, fahrenheit: bool = False) -> list[Decimal]:
    (row,) = table.rows
    numbers = [part for cell in row.cells for part in cell if isinstance(part, Num)]
    texts = [number.fahrenheit_value if fahrenheit else number.value for number in numbers]
    return [Decimal(text.replace(MINUS, "-")) for text in texts]


def test_the_figures_that_did_not_add_up_stand_with_their_names_and_the_correction() -> None:
    table = at_rest_table(subject_of(54.83, 21.96, 33.1))
    assert [str(number) for number in digits(table)] == ["54.83", "21.96", "32.87", "0.23", "33.10"]
    assert [column.label for column in table.columns[1:]] == [
        "Mean of the window",
        "Less",
        "Difference in the window",
        "Correction to rest",
        "At rest",
    ]


@given(st.floats(20, 110), st.floats(15, 30), st.floats(-2, 2), st.floats(0.004, 3))
def test_every_row_adds_up_as_its_digits_stand_in_both_units(
    core: float, ambient: float, correction: float, u: float
) -> None:
    table = at_rest_table(subject_of(core, ambient, core - ambient + correction, u=u))
    for fahrenheit in (False, True):
        mean, less, difference, added, at_rest = digits(table, fahrenheit=fahrenheit)
        assert mean - less == difference
        assert difference + added == at_rest


def test_a_run_that_had_not_settled_has_no_correction_and_its_rise_is_the_windows() -> None:
    subject = subject_of(54.83, 21.96, 32.87, verdict=Verdict.UNDECIDED)
    assert at_rest_table(subject).empty
    (point,) = subject.result.points
    assert plain_text(labelled_cell(point, "core_rise")).endswith("in the window")
    assert not plain_text(labelled_cell(point, "core_temperature")).endswith("in the window")


def test_figures_at_rest_and_means_of_the_window_have_names_that_tell_them_apart() -> None:
    heads = {plain_text(row.head) for row in all_figures_table(SUBJECT).rows}
    assert {"Core over ambient, at rest", "Core temperature, mean of the window"} <= heads
