"""Pads: compression from thickness and gap. The limits are common practice, no source."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from builder.archive.bundle import Pad
from builder.sheet.steps import gap_range, pad_fit

POOR = "compressed by {} only: contact may be poor"
CHECK = "compressed by {}: check the maker's figure"
BENDS = "compressed by {}: this much can bend the board and keep the cooler off the chip"


def pad(thickness: float, gap: float | None) -> Pad:
    return Pad(where="memory", thickness_mm=thickness, gap_mm=gap)


@pytest.mark.parametrize(
    ("thickness", "gap", "compression", "warning"),
    [
        (1.5, 1.2, 0.20, ""),
        (1.0, 0.9, 0.10, ""),  # a tenth, though 1.0 - 0.9 is a little less in binary fractions
        (1.0, 0.7, 0.30, ""),
        (1.0, 0.95, 0.05, POOR.format("5 %")),
        (2.0, 1.3, 0.35, CHECK.format("35 %")),
        (1.0, 0.6, 0.40, CHECK.format("40 %")),
        (2.0, 1.0, 0.50, BENDS.format("50 %")),
        (1.0, 1.0, 0.0, "the pad does not fill its gap"),
        (1.0, 1.2, -0.2, "the pad does not fill its gap"),
    ],
)
def test_compression_is_what_the_pad_gives_up_of_its_thickness(
    thickness: float, gap: float, compression: float, warning: str
) -> None:
    fit = pad_fit(pad(thickness, gap))
    assert fit.compression == pytest.approx(compression)
    assert fit.warning == warning


def test_a_pad_of_unknown_gap_has_no_compression_and_no_warning() -> None:
    fit = pad_fit(pad(1.5, None))
    assert (fit.compression, fit.warning) == (None, "")


@given(thickness=st.floats(0.1, 10), share=st.floats(0, 1))
def test_every_gap_of_the_printed_range_is_without_a_warning(thickness: float, share: float) -> None:
    gaps = gap_range(thickness)
    gap = gaps.low_mm + share * (gaps.high_mm - gaps.low_mm)
    assert pad_fit(pad(thickness, gap)).warning == ""


@given(thickness=st.floats(0.1, 10), gap=st.floats(0.05, 20), factor=st.sampled_from([0.5, 2.0, 4.0]))
def test_only_the_ratio_of_gap_and_thickness_counts(thickness: float, gap: float, factor: float) -> None:
    one, other = pad_fit(pad(thickness, gap)), pad_fit(pad(factor * thickness, factor * gap))
    assert (one.compression, one.warning) == (other.compression, other.warning)
