"""Ids: which texts are one, and what is offered instead."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st
from pydantic import TypeAdapter, ValidationError

from builder.archive.fields import Id, is_id, suggested_id
from builder.archive.messages import found
from builder.core.words import count, listed

ID = TypeAdapter[str](Id)


@pytest.mark.parametrize("text", ["a", "7", "orrery-780", "tarn-x9", "a-b-c", "0-0", "a" * 64])
def test_small_letters_digits_and_single_hyphens_are_an_id(text: str) -> None:
    assert is_id(text)
    assert ID.validate_python(text) == text


@pytest.mark.parametrize(
    ("text", "offered"),
    [
        ("", ""),
        ("-", ""),
        ("-a", "a"),
        ("a-", "a"),
        ("a--b", "a-b"),
        ("A", "a"),
        ("a b", "a-b"),
        ("a_b", "a-b"),
        ("a/b", "a-b"),
        ("a\\b", "a-b"),
        ("a.b", "a-b"),
        ("../a", "a"),
        ("a\n", "a"),
        ("\ta", "a"),
        ("é", "e"),
        ("ﬁn", "fin"),
        ("ß", ""),
        ("٣", ""),
        ("Ⅷ", "viii"),
        ("برج", ""),
        ("a\u202eb", "a-b"),
        ("<b>", "b"),
        ("a" * 65, "a" * 64),
        ("a" * 64 + "-b", "a" * 64),
        ("a" * 63 + "-b", "a" * 63),
    ],
)
def test_what_is_no_id_is_refused_and_a_good_one_offered(text: str, offered: str) -> None:
    assert not is_id(text)
    with pytest.raises(ValidationError):
        ID.validate_python(text)
    assert suggested_id(text) == offered


@given(st.text())
def test_an_offered_id_is_an_id(text: str) -> None:
    offered = suggested_id(text)
    assert offered == "" or is_id(offered)


@given(st.text(alphabet="ab0-AB _/\n", max_size=70))
def test_the_rule_for_file_names_is_the_models_rule(text: str) -> None:
    try:
        ID.validate_python(text)
    except ValidationError:
        assert not is_id(text)
    else:
        assert is_id(text)


@given(st.lists(st.text(alphabet="az059", min_size=1, max_size=8), min_size=1, max_size=7).map("-".join))
def test_an_id_is_offered_unchanged(text: str) -> None:
    assert suggested_id(text) == text


def test_long_text_is_cut_and_kept_on_one_line() -> None:
    assert found("x" * 40) == '"' + "x" * 40 + '"'
    assert found("x" * 41) == '"' + "x" * 40 + '…"'
    assert found("a\nb\tc") == '"a b c"'


def test_choices_and_counts_read_as_words() -> None:
    assert listed([], last="or") == ""
    assert listed(["a"], last="or") == "a"
    assert listed(["a", "b"], last="or") == "a or b"
    assert count(1, "item") == "1 item"
    assert count(0, "item") == "0 items"
