"""Problems: their one shape, their order, and what is offered instead of a wrong word."""

from __future__ import annotations

import json

from builder.core.errors import (
    Problem,
    Problems,
    Severity,
    SoakbookError,
    Span,
    closest,
    nearest,
    problem_rows,
)
from builder.core.words import listing


def test_a_problem_is_printed_as_code_place_message_and_hint() -> None:
    where = Span(file="cards/a.yaml", line=3, column=7)
    problem = Problem(code="bad-id", where=where, message="this is wrong", hint="write that")
    assert str(problem) == "error[bad-id] cards/a.yaml:3:7: this is wrong\nhint: write that"


def test_an_unknown_line_or_column_is_left_out() -> None:
    assert str(Span(file="a.yaml")) == "a.yaml"
    assert str(Span(file="a.yaml", line=3)) == "a.yaml:3"


def test_problems_are_sorted_by_place_with_errors_first() -> None:
    problems = Problems()
    problems.notice("n", Span(file="b.yaml", line=1), "x")
    problems.warning("w", Span(file="a.yaml", line=10), "x")
    problems.error("e", Span(file="a.yaml", line=10), "x")
    problems.error("e", Span(file="a.yaml", line=9), "x")
    found = [(p.severity, p.where.file, p.where.line) for p in problems]
    assert found == [
        (Severity.ERROR, "a.yaml", 9),
        (Severity.ERROR, "a.yaml", 10),
        (Severity.WARNING, "a.yaml", 10),
        (Severity.NOTICE, "b.yaml", 1),
    ]


def test_a_repeated_problem_is_kept_once() -> None:
    problems = Problems()
    for _ in range(3):
        problems.error("e", Span(file="a.yaml"), "x")
    assert len(problems) == 1


def test_only_errors_stop_publication() -> None:
    problems = Problems()
    problems.warning("w", Span(file="a.yaml"), "x")
    problems.notice("n", Span(file="a.yaml"), "x")
    assert not problems.has_errors
    problems.error("e", Span(file="a.yaml"), "x")
    assert problems.has_errors


def test_rows_for_programs_hold_every_part_of_a_problem() -> None:
    problems = Problems()
    problems.warning("w", Span(file="ä.yaml", line=2), 'a "b"', "c")
    rows = problem_rows(problems)
    assert json.loads(json.dumps(rows)) == [
        {
            "code": "w",
            "severity": "warning",
            "file": "ä.yaml",
            "line": 2,
            "column": 0,
            "message": 'a "b"',
            "hint": "c",
        }
    ]


def test_the_nearest_word_is_offered_only_where_one_is_close() -> None:
    assert nearest("coolr", ["card", "cooler"]) == 'did you mean "cooler"?'
    assert nearest("zzz", ["card", "cooler"]) == ""
    assert closest("coolr", []) == ""


def test_a_long_listing_is_cut_with_the_number_left_out() -> None:
    assert listing(["b", "a"]) == "a, b"
    assert listing("fedcba", limit=2) == "a, b and 4 more"


def test_an_error_carries_its_problems() -> None:
    problem = Problem(code="e", where=Span(file="a.yaml"), message="x")
    error = SoakbookError([problem])
    assert error.problems == (problem,)
    assert str(error) == "error[e] a.yaml: x"
