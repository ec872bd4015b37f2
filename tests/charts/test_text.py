"""Text for pictures: cleaning, widths and shortening."""

from __future__ import annotations

import math
import unicodedata

import pytest
from hypothesis import given
from hypothesis import strategies as st

from builder.charts.labels import clean, clean_text, shorten, shorten_apart, shorten_middle, text_width

NONCHARACTERS = [*range(0xFDD0, 0xFDF0), *(plane * 0x10000 + end for plane in range(17) for end in (0xFFFE, 0xFFFF))]


def xml_allows(character: str) -> bool:
    """XML 1.0, production 2, Char."""
    code = ord(character)
    return code in (0x9, 0xA, 0xD) or 0x20 <= code <= 0xD7FF or 0xE000 <= code <= 0xFFFD or code >= 0x10000


@given(st.text(alphabet=st.characters(), max_size=40))
def test_cleaned_text_is_valid_xml_and_encodes(text: str) -> None:
    cleaned = clean_text(text)
    assert all(xml_allows(character) for character in cleaned)
    assert cleaned.encode().decode() == cleaned


@given(st.text(max_size=40))
def test_cleaning_twice_changes_nothing(text: str) -> None:
    assert clean_text(clean_text(text)) == clean_text(text)


def test_controls_surrogates_and_noncharacters_are_removed() -> None:
    """The Unicode Standard, 23.7: noncharacters are U+FDD0 to U+FDEF and the last two code points of each plane."""
    codes = [*range(0x20), *range(0x7F, 0xA0), 0xD800, 0xDBFF, 0xDC00, 0xDFFF, *NONCHARACTERS]
    assert clean_text("".join(chr(code) for code in codes)) == ""


@pytest.mark.parametrize("kept", ["مبرّد", "व्यू", "👩🏽\u200d🔧", "naïve Ψ°C µ", "<b>&amp;</b> \"'", "\U0001fae8"])
def test_scripts_emoji_and_markup_survive(kept: str) -> None:
    assert clean_text(kept) == kept


def test_characters_that_reorder_text_are_removed() -> None:
    overrides = "\u202a\u202b\u202d\u202e\u202c\u2066\u2067\u2068\u2069"
    assert clean_text(f"safe{overrides}name") == "safename"


def test_white_space_becomes_single_spaces() -> None:
    assert clean_text(" a\n\tb\u2028 c\xa0d ") == "a b c d"


def test_numbers_that_are_not_finite_become_missing() -> None:
    assert clean({"a": [math.nan, math.inf, -math.inf, 1.5, 2, None, True]}) == {
        "a": [None, None, None, 1.5, 2, None, True]
    }


def test_texts_inside_data_are_cleaned() -> None:
    assert clean([{"k\x00": "v\ud800"}]) == [{"k": "v"}]


@given(st.text(alphabet=st.characters(exclude_categories=["Cs"]), max_size=60), st.floats(40, 300))
def test_shortened_text_fits(text: str, width: float) -> None:
    short = shorten(text, width, 13.0)
    assert short == text or (text_width(short, 13.0) <= width and short.endswith("…"))


@given(st.text(alphabet=st.characters(exclude_categories=["Cs"]), max_size=60), st.floats(60, 300))
def test_text_shortened_in_its_middle_fits(text: str, width: float) -> None:
    assert text_width(shorten_middle(text, width, 13.0), 13.0) <= width * 1.05 + 13


def test_names_that_differ_at_their_end_stay_apart() -> None:
    names = ["Orrery 780 stock cooler, tested 2025-07-12", "Orrery 780 stock cooler, tested 2025-07-28", "Fold"]
    short = shorten_apart(names, [200.0] * 3, 13.0)
    assert len(set(short)) == 3
    assert [text[-3:] for text in short] == ["-12", "-28", "old"]


def test_shortening_does_not_cut_joined_emoji_or_accents() -> None:
    family = "👩\u200d👩\u200d👧"
    for width in range(20, 90, 3):
        kept = shorten(f"ab{family}e\u0301 and more text", width, 13.0).removesuffix("…")
        assert not kept.endswith("\u200d")
        assert kept.count("👩") in (0, 2)
        assert not kept or not unicodedata.combining(f"ab{family}e\u0301 and"[len(kept)]) or len(kept) < 3


def test_width_of_text_errs_on_the_wide_side() -> None:
    """Advance widths of Liberation Sans, which are those of Arial: m 0.833, i 0.222, 0 0.556; value from memory."""
    real = 0.833 + 0.222 + 0.556
    assert real * 10 <= text_width("mi0", 10) <= 1.25 * real * 10
