"""Frames, axes and labels: where things go."""

from __future__ import annotations

import math
from itertools import pairwise

import pytest
from hypothesis import given
from hypothesis import strategies as st

from builder.charts.frame import COMPACT, WIDE, Margins, plot_area, scale, step, still_frame
from builder.charts.labels import Room, beside_points, spread, text_width

NUMBERS = st.floats(-1e6, 1e6)


@given(st.lists(NUMBERS, min_size=1, max_size=20), st.booleans())
def test_axis_covers_its_values_and_has_ticks_inside(values: list[float], zero: bool) -> None:
    axis = scale(values, zero=zero)
    assert axis.low <= min(values)
    assert axis.high >= max(values)
    assert all(axis.low - 1e-6 <= tick <= axis.high + 1e-6 for tick in axis.ticks)
    assert not zero or axis.low <= 0 <= axis.high


def test_axis_of_nothing_goes_from_zero_to_one() -> None:
    axis = scale([math.nan, math.inf])
    assert axis.low <= 0
    assert axis.high >= 1


def test_tight_axis_ends_at_its_values() -> None:
    axis = scale([0.0, 30.0], tight=True)
    assert axis.domain == [0.0, 30.0]
    assert axis.ticks == (0, 10, 20, 30)


def test_axis_ending_at_zero_is_not_padded_beyond_it() -> None:
    assert scale([3.0, 40.0], zero=True).low == 0
    assert scale([-40.0, -3.0], zero=True).high == 0


@pytest.mark.parametrize(
    ("span", "count", "expected"), [(37, 5, 10), (0.9, 6, 0.2), (100, 5, 20), (5, 5, 1), (0.004, 4, 0.001)]
)
def test_tick_step_is_one_two_or_five_times_a_power_of_ten(span: float, count: int, expected: float) -> None:
    assert step(span, count) == pytest.approx(expected)


@pytest.mark.parametrize(
    ("values", "expected"), [((0, 40), ",.0f"), ((0.30, 0.47), ",.2f"), ((46.0, 49.0), ",.0f"), ((0, 2.1), ",.1f")]
)
def test_ticks_share_as_many_decimals_as_they_need(values: tuple[float, float], expected: str) -> None:
    assert scale(values).format == expected


def test_place_is_a_share_of_the_length() -> None:
    assert scale([0.0, 50.0], tight=True).place(10, 200) == 40


def test_text_on_a_phone_is_at_least_11_pixels() -> None:
    """A phone 360 px wide shows a picture at 328 px."""
    assert COMPACT.text * 328 / COMPACT.width >= 11


def test_wide_text_is_at_least_11_pixels_where_the_wide_picture_starts() -> None:
    """The style sheet shows it from 640 px, with 16 px on each side."""
    assert WIDE.text * 608 / WIDE.width >= 11


def test_stills_of_both_sizes_have_the_same_layout() -> None:
    small, large = still_frame(1920, 1080), still_frame(3840, 2160)
    assert large.text == pytest.approx(2 * small.text)
    assert small.text == 30


def test_a_still_too_small_to_read_is_refused() -> None:
    with pytest.raises(ValueError, match="a still of 200 by 100 pixels is too small to read"):
        still_frame(200, 100)


def test_plot_and_margins_make_up_the_frame() -> None:
    plot = plot_area(COMPACT, Margins(left=30, top=10, right=20, bottom=40), 150)
    assert (plot.outer_width, plot.outer_height, plot.width, plot.height) == (400, 200, 350, 150)


def test_plot_of_a_still_takes_the_frame_height() -> None:
    plot = plot_area(still_frame(1920, 1080), Margins(left=30, top=10, right=20, bottom=40), 150)
    assert (plot.outer_width, plot.outer_height) == pytest.approx((1920, 1080))


@given(st.lists(st.floats(0, 300), max_size=8))
def test_spread_labels_keep_their_distance_and_order(wanted: list[float]) -> None:
    placed = spread(wanted, 15, 0, 300)
    order = sorted(range(len(wanted)), key=lambda i: wanted[i])
    assert all(placed[b] - placed[a] >= 15 - 1e-9 for a, b in pairwise(order))
    assert all(-1e-9 <= place <= 300 + 1e-9 for place in placed)


def test_labels_with_room_stay_where_they_want_to_be() -> None:
    assert spread([200, 10, 90], 15, 0, 300) == (200, 10, 90)


def test_labels_that_meet_share_the_way_apart() -> None:
    assert spread([100, 100, 100], 20, 0, 300) == (80, 100, 120)


def test_names_beside_points_cover_neither_points_nor_one_another() -> None:
    points = [(50.0, 50.0), (60.0, 55.0), (70.0, 60.0), (200.0, 50.0)]
    texts = ["first", "second", "third", "fourth"]
    spots = beside_points(points, texts, Room(size=13, width=300, height=150))
    boxes = []
    for spot, text in zip(spots, texts, strict=True):
        if spot:
            width = text_width(text, 13)
            left = spot.x - {"left": 0, "right": width, "center": width / 2}[spot.align]
            boxes.append((left, spot.y - 6, left + width, spot.y + 6))
    assert len(boxes) >= 3
    for left, top, right, bottom in boxes:
        assert not any(left < x < right and top < y < bottom for x, y in points)
    for index, (l1, t1, r1, b1) in enumerate(boxes):
        assert all(r1 <= l2 or r2 <= l1 or b1 <= t2 or b2 <= t1 for l2, t2, r2, b2 in boxes[index + 1 :])


def test_a_name_without_room_is_left_out() -> None:
    assert beside_points([(5.0, 5.0)], ["far too long for this plot"], Room(size=13, width=20, height=20)) == (None,)
