"""Ties as letters."""

from itertools import combinations

from hypothesis import given
from hypothesis import strategies as st

from builder.comparison import tie_letters


@st.composite
def separations(draw: st.DrawFn) -> tuple[int, frozenset[tuple[int, int]]]:
    count = draw(st.integers(0, 9))
    pairs = list(combinations(range(count), 2))
    return count, frozenset(pair for pair in pairs if draw(st.booleans()))


def test_worked_example_gives_its_letters() -> None:
    """Letters of four groups of which only a-b, a-c and c-d differ; worked by hand from the rule of Piepho 2004."""
    assert tie_letters(4, frozenset({(0, 1), (0, 2), (2, 3)})) == (("a",), ("b", "c"), ("b",), ("a", "c"))


def test_all_tied_share_one_letter_and_all_apart_have_one_each() -> None:
    assert tie_letters(3, frozenset()) == (("a",),) * 3
    assert tie_letters(3, frozenset(combinations(range(3), 2))) == (("a",), ("b",), ("c",))


def test_thirty_rows_all_apart_have_thirty_letters() -> None:
    letters = tie_letters(30, frozenset(combinations(range(30), 2)))
    assert len(set(letters)) == 30
    assert letters[26] == ("a1",)


@given(separations())
def test_two_rows_share_a_letter_if_and_only_if_they_are_not_separable(
    case: tuple[int, frozenset[tuple[int, int]]],
) -> None:
    count, separable = case
    letters = [set(row) for row in tie_letters(count, separable)]
    assert all(letters)
    for i, j in combinations(range(count), 2):
        assert bool(letters[i] & letters[j]) == ((i, j) not in separable)


@given(separations())
def test_no_letter_can_be_left_out(case: tuple[int, frozenset[tuple[int, int]]]) -> None:
    count, separable = case
    letters = [set(row) for row in tie_letters(count, separable)]
    for one in set().union(*letters):
        fewer = [row - {one} for row in letters]
        tied = [(i, j) for i, j in combinations(range(count), 2) if (i, j) not in separable]
        assert not all(fewer) or any(not fewer[i] & fewer[j] for i, j in tied)
