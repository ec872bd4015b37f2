"""Frame times in, frame rate and 1 % low with their uncertainty out."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal, TypeAlias

import numpy as np

from builder.quantity import Estimate, FloatArray

LowDefinition: TypeAlias = Literal["percentile", "slowest mean"]

DEFINITIONS: dict[LowDefinition, str] = {
    "percentile": "1000 divided by the 99th percentile of frame time in ms",
    "slowest mean": "1000 divided by the mean of the slowest 1 % of frame times in ms",
}
RATE_DEFINITION = "frames divided by the time they took"
MIN_FRAMES = 100  # fewer leave no frame in the slowest 1 %
MIN_BLOCKS = 4
_RESAMPLES = 400
_SEED = 20240517


@dataclass(frozen=True, kw_only=True)
class FrameFigures:
    """Mean frame rate and 1 % low, both in frames per second, of one capture."""

    rate: Estimate
    low: Estimate | None
    frames: int
    total_s: float


def mean_rate(frame_ms: FloatArray) -> float:
    """Return frames divided by total time, in frames per second; `frame_ms` has shape (n,), positive, in ms.

    The mean of the instantaneous rates would count fast frames too often.

    >>> mean_rate(np.array([10.0, 30.0]))
    50.0
    """
    return float(1000.0 * frame_ms.size / frame_ms.sum())


def one_percent_low(frame_ms: FloatArray, definition: LowDefinition) -> float:
    """Return the 1 % low in frames per second, by the definition that is published with it.

    `percentile`: 1000 / P99, type 7 of Hyndman and Fan (1996). `slowest mean`: 1000 over the mean of the slowest
    1 % of frames, at least one frame.
    """
    if definition == "percentile":
        return float(1000.0 / np.percentile(frame_ms, 99, method="linear"))
    count = max(1, round(0.01 * frame_ms.size))
    return float(1000.0 / np.sort(frame_ms)[-count:].mean())


def frame_figures(frame_ms: FloatArray, *, definition: LowDefinition, loop_s: float | None) -> FrameFigures | None:
    """Return rate and 1 % low with uncertainty from whole blocks of the capture, or None under 100 frames.

    Frames follow the scene, so single frames are not independent samples: the capture is cut into blocks of one
    workload loop (or ten equal blocks where no loop is known), and the blocks vary. Degrees of freedom are the number
    of blocks less one. The interval of a low is known to be too narrow even so.
    """
    if frame_ms.size < MIN_FRAMES:
        return None
    blocks = _blocks(frame_ms, loop_s)
    dof = float(len(blocks) - 1)
    rate = Estimate(value=mean_rate(frame_ms), u=_ratio_u(blocks), unit="1/s", dof=dof)
    low = Estimate(value=one_percent_low(frame_ms, definition), u=_bootstrap_u(blocks, definition), unit="1/s", dof=dof)
    return FrameFigures(rate=rate, low=low, frames=int(frame_ms.size), total_s=float(frame_ms.sum() / 1000.0))


def _blocks(frame_ms: FloatArray, loop_s: float | None) -> list[FloatArray]:
    elapsed = np.cumsum(frame_ms) / 1000.0
    whole_loops = int(elapsed[-1] // loop_s) if loop_s else 0
    count = whole_loops if whole_loops >= MIN_BLOCKS else 10
    length = loop_s if loop_s and whole_loops >= MIN_BLOCKS else elapsed[-1] / count
    index = np.minimum((elapsed / length).astype(int), count - 1)
    return [block for k in range(count) if (block := frame_ms[index == k]).size]


def _ratio_u(blocks: list[FloatArray]) -> float:
    """Return the standard uncertainty of the ratio sum(n) / sum(t) over blocks, by its linearised residuals."""
    n = np.array([b.size for b in blocks], dtype=float)
    t = np.array([b.sum() for b in blocks]) / 1000.0
    residual = n - n.sum() / t.sum() * t
    k = len(blocks)
    return float(np.sqrt(k / (k - 1) * np.sum(residual**2)) / t.sum())


def _bootstrap_u(blocks: list[FloatArray], definition: LowDefinition) -> float:
    rng = np.random.default_rng(_SEED)
    picks = rng.integers(0, len(blocks), size=(_RESAMPLES, len(blocks)))
    counts = np.array([b.size for b in blocks])
    order = np.argsort(-np.concatenate(blocks), kind="stable")
    slowest_first = np.concatenate(blocks)[order]
    owner = np.repeat(np.arange(len(blocks)), counts)[order]
    lows = [
        _weighted_low(slowest_first, owner, np.bincount(pick, minlength=len(blocks)), counts, definition)
        for pick in picks
    ]
    return float(np.std(lows, ddof=1) * np.sqrt(len(blocks) / (len(blocks) - 1)))


def _weighted_low(
    slowest_first: FloatArray,
    owner: np.ndarray[tuple[int], np.dtype[np.int64]],
    weight: np.ndarray[tuple[int], np.dtype[np.int64]],
    counts: np.ndarray[tuple[int], np.dtype[np.int64]],
    definition: LowDefinition,
) -> float:
    """1 % low of a resample given as a count per block: only the slow end of the sorted frames has to be walked."""
    total = int(weight @ counts)
    need = max(1, round(0.01 * total)) + 2
    taken = np.cumsum(weight[owner[: 4 * need]])
    if taken[-1] < need:
        taken = np.cumsum(weight[owner])
    tail = np.repeat(slowest_first[: taken.size], np.diff(taken, prepend=0))[:need]
    if definition == "percentile":
        place = 0.01 * (total - 1)
        low = int(place)
        value = tail[low] + (place - low) * (tail[low + 1] - tail[low])
        return float(1000.0 / value)
    return float(1000.0 / tail[: max(1, round(0.01 * total))].mean())
