"""Frame rate and 1 % low against published definitions, closed forms and a resampling oracle."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from builder.reduction.frame_times import frame_figures, mean_rate, one_percent_low

# 900 x 10 ms, 90 x 12.5 and ten slow frames: 1000 frames in 10 520 ms.
MIXED = np.array([10.0] * 900 + [12.5] * 90 + [20, 20, 25, 25, 25, 40, 40, 50, 50, 100])


def test_mean_rate_is_frames_over_time_not_the_mean_of_rates() -> None:
    # Hand: 1000 frames / 10.520 s. The mean of instantaneous rates would be 97.52.
    assert mean_rate(MIXED) == pytest.approx(95.0570, abs=5e-5)
    assert np.mean(1000 / MIXED) == pytest.approx(97.52, abs=5e-3)


def test_two_definitions_of_the_low_differ_fourfold_on_one_file() -> None:
    # Percentile: type 7 of Hyndman & Fan (1996), The American Statistician 50(4).
    assert one_percent_low(MIXED, "percentile") == pytest.approx(79.5229, abs=5e-5)
    assert one_percent_low(MIXED, "slowest mean") == pytest.approx(25.3165, abs=5e-5)


def test_exponential_frame_times_have_their_closed_form_tail() -> None:
    # Exponential law with mean 1: P99 = ln 100, mean above it ln 100 + 1.
    quantiles = (np.arange(2_000_000) + 0.5) / 2_000_000
    times = -np.log1p(-quantiles)
    assert 1000 / one_percent_low(times, "percentile") == pytest.approx(4.605170, abs=1e-3)
    assert 1000 / one_percent_low(times, "slowest mean") == pytest.approx(5.605170, abs=1e-3)


def test_fewer_than_a_hundred_frames_give_no_figure() -> None:
    assert frame_figures(np.full(99, 10.0), definition="percentile", loop_s=None) is None


@pytest.mark.parametrize("definition", ["percentile", "slowest mean"])
def test_equal_frames_are_exact(definition: str) -> None:
    found = frame_figures(np.full(1000, 12.5), definition=definition, loop_s=None)  # type: ignore[arg-type]
    assert found is not None
    assert found.rate.value == pytest.approx(80.0)
    assert found.low.value == pytest.approx(80.0)
    assert found.rate.u == pytest.approx(0.0, abs=1e-9)


def test_block_uncertainty_covers_what_a_new_capture_would_give() -> None:
    # Frames follow a slow scene: single frames are far from independent. The stated u must match the real scatter.
    rates, stated = [], []
    for seed in range(60):
        rng = np.random.default_rng(seed)
        scene = np.repeat(rng.normal(14.0, 1.0, 40), 300)
        found = frame_figures(scene + rng.normal(0, 0.3, scene.size), definition="percentile", loop_s=None)
        assert found is not None
        rates.append(found.rate.value)
        stated.append(found.rate.u)
    assert np.mean(stated) == pytest.approx(np.std(rates, ddof=1), rel=0.35)


def test_bootstrap_low_agrees_with_resampling_whole_blocks_by_hand() -> None:
    rng = np.random.default_rng(7)
    times = np.repeat(rng.normal(14.0, 1.0, 20), 250) + rng.gamma(2.0, 0.2, 5000)
    found = frame_figures(times, definition="slowest mean", loop_s=None)
    assert found is not None
    edges = np.minimum((np.cumsum(times) / times.sum() * 10).astype(int), 9)
    blocks = [times[edges == k] for k in range(10)]
    other = np.random.default_rng(1)
    lows = [
        one_percent_low(np.concatenate([blocks[i] for i in other.integers(0, 10, 10)]), "slowest mean")
        for _ in range(400)
    ]
    assert found.low.u == pytest.approx(np.std(lows, ddof=1) * np.sqrt(10 / 9), rel=0.15)


@given(
    st.lists(st.floats(min_value=1.0, max_value=200.0), min_size=100, max_size=300),
    st.sampled_from(["percentile", "slowest mean"]),
)
def test_the_low_never_exceeds_the_fastest_frame_and_no_figure_is_not_a_number(times: list[float], how: str) -> None:
    found = frame_figures(np.array(times), definition=how, loop_s=None)  # type: ignore[arg-type]
    assert found is not None
    assert found.low.value <= 1000 / min(times) * (1 + 1e-9)
    assert found.low.u >= 0
    assert found.rate.u >= 0


def loop_capture(seed: int, *, loops: float) -> np.ndarray[tuple[int], np.dtype[np.float64]]:
    """Frames of a 90 s scene that repeats, 8 % up and down, with slow noise of its own in each pass."""
    rng = np.random.default_rng(seed)
    times: list[float] = []
    elapsed = 0.0
    drift = np.repeat(rng.normal(0, 0.15, 400), 60)
    while elapsed < loops * 90.0:
        ms = 14.0 * (1 + 0.08 * np.sin(2 * np.pi * elapsed / 90.0)) + drift[len(times)] + rng.normal(0, 0.3)
        times.append(ms)
        elapsed += ms / 1000.0
    return np.array(times)


def test_scenes_of_whole_loops_are_not_scatter() -> None:
    found = [frame_figures(loop_capture(s, loops=2.05), definition="percentile", loop_s=90.0) for s in range(40)]
    rates = [f.rate for f in found if f]
    assert np.std([r.value for r in rates], ddof=1) == pytest.approx(np.mean([r.u for r in rates]), rel=0.4)
    blind = frame_figures(loop_capture(1, loops=2.05), definition="percentile", loop_s=None)
    assert blind is not None
    assert rates[1].u < blind.rate.u / 3


def test_part_of_a_loop_beyond_whole_ones_does_not_bias_the_rate() -> None:
    whole = frame_figures(loop_capture(3, loops=2.0), definition="percentile", loop_s=90.0)
    more = frame_figures(loop_capture(3, loops=2.4), definition="percentile", loop_s=90.0)
    assert whole is not None
    assert more is not None
    assert more.rate.value == pytest.approx(whole.rate.value, rel=2e-4)
