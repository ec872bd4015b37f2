"""Fewer points for a line: means with their extremes, and the line that looks the same."""

from __future__ import annotations

from itertools import pairwise

import numpy as np
import pytest

from builder.charts.line_thinning import cell_length, cells, same_picture


def test_cells_hold_mean_lowest_and_highest_of_their_samples() -> None:
    found = cells(np.arange(30.0), np.arange(30.0), 10.0)
    assert found.time_s.tolist() == [5, 15, 25]
    assert found.mean.tolist() == [4.5, 14.5, 24.5]
    assert found.low.tolist() == [0, 10, 20]
    assert found.high.tolist() == [9, 19, 29]


def test_a_spike_stays_in_the_band() -> None:
    values = np.zeros(600)
    values[304] = 40.0
    found = cells(np.arange(600.0), values, 10.0)
    assert found.high[30] == 40
    assert found.mean[30] == 4


def test_a_cell_without_samples_is_missing() -> None:
    values = np.ones(40)
    values[10:20] = np.nan
    found = cells(np.arange(40.0), values, 10.0)
    assert np.isnan(found.mean).tolist() == [False, True, False, False]
    assert np.isnan(found.low).tolist() == np.isnan(found.high).tolist() == [False, True, False, False]


def test_a_trace_of_missing_values_has_no_cells() -> None:
    assert cells(np.arange(5.0), np.full(5, np.nan), 10.0).time_s.size == 0


@pytest.mark.parametrize(
    ("duration", "most", "expected"),
    [(600, 180, 10), (1800, 180, 10), (2700, 180, 15), (2700, 90, 30), (400_000, 90, 4800)],
)
def test_cells_are_as_short_as_their_number_allows(duration: float, most: int, expected: float) -> None:
    assert cell_length(duration, most) == expected
    assert duration / cell_length(duration, most) <= most


def test_a_short_line_is_kept_whole() -> None:
    line = same_picture(np.arange(100.0), np.arange(100.0), 50)
    assert line.values.size == 100


def test_a_long_line_keeps_the_ends_and_extremes_of_every_column() -> None:
    """Jugel et al. (2014), M4: first, last, lowest and highest of each pixel column draw the same picture."""
    values = np.random.default_rng(seed=3).standard_normal(40_000).cumsum()
    time = np.arange(40_000.0)
    line = same_picture(time, values, 400)
    assert line.values.size <= 4 * 400
    edges = np.linspace(time[0], time[-1], 401)
    edges[-1] = np.inf
    for left, right in pairwise(edges):
        whole, kept = (v[(t >= left) & (t < right)] for t, v in ((time, values), (line.time_s, line.values)))
        assert (kept.min(), kept.max(), kept[0], kept[-1]) == (whole.min(), whole.max(), whole[0], whole[-1])


def test_a_long_gap_stays_a_gap() -> None:
    values = np.ones(8000)
    values[2000:6000] = np.nan
    line = same_picture(np.arange(8000.0), values, 100)
    inside = (line.time_s > 2100) & (line.time_s < 5900)
    assert inside.any()
    assert np.isnan(line.values[inside]).all()
