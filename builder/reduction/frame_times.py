"""Frame times in, frame rate and 1 % low with their uncertainty out."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal, TypeAlias

import numpy as np
from numpy.typing import NDArray

from builder.core.quantity import Estimate, FloatArray

IntArray: TypeAlias = NDArray[np.int64]
LowDefinition: TypeAlias = Literal["percentile", "slowest mean"]

DEFINITIONS: dict[LowDefinition, str] = {
    "percentile": "1000 divided by the 99th percentile of frame time in ms",
    "slowest mean": "1000 divided by the mean of the slowest 1 % of frame times in ms",
}
RATE_DEFINITION = "frames divided by the time they took"
MIN_FRAMES = 100  # fewer leave no frame in the slowest 1 %
MIN_BLOCKS = 4
MIN_LOOPS = 2
EQUAL_BLOCKS = 10
PHASES = 10
_RESAMPLES = 400
_SEED = 20240517


@dataclass(frozen=True, kw_only=True)
class FrameFigures:
    """Mean frame rate and 1 % low, both in frames per second, of one capture."""

    rate: Estimate
    low: Estimate
    frames: int


def frame_figures(frame_ms: FloatArray, *, definition: LowDefinition, loop_s: float | None) -> FrameFigures | None:
    """Return rate and 1 % low with uncertainty from blocks of the capture, or None under 100 frames.

    `frame_ms` has shape (n,), in ms and in the order of the capture; `loop_s` is one pass of the workload in s.
    Frames follow the scene, so single frames are not independent samples. With a known workload loop the mean rate is
    taken over whole loops: four or more are blocks of their own, two or three are compared phase by phase. Without
    one, ten equal blocks vary, scene included. The interval of a low is known to be too narrow even so.
    """
    if frame_ms.size < MIN_FRAMES:
        return None
    whole, loops = _whole_loops(frame_ms, loop_s)
    blocks = _blocks(frame_ms, loops if loops >= MIN_BLOCKS else EQUAL_BLOCKS)
    if MIN_LOOPS <= loops < MIN_BLOCKS:
        u, dof = _phase_u(whole, loops), float(PHASES * (loops - 1))
    else:
        u, dof = _ratio_u(_blocks(whole, len(blocks))), float(len(blocks) - 1)
    low, u_low = one_percent_low(frame_ms, definition), _bootstrap_u(blocks, definition)
    return FrameFigures(
        rate=Estimate(value=mean_rate(whole), u=u, unit="1/s", dof=dof),
        low=Estimate(value=low, u=u_low, unit="1/s", dof=float(len(blocks) - 1)),
        frames=int(whole.size),
    )


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


def _whole_loops(frame_ms: FloatArray, loop_s: float | None) -> tuple[FloatArray, int]:
    """Return the frames of whole loops and their number; all frames and 0 where no two loops fit."""
    elapsed = np.cumsum(frame_ms) / 1000.0
    loops = int(elapsed[-1] / loop_s + 1e-3) if loop_s else 0
    if not loop_s or loops < MIN_LOOPS:
        return frame_ms, 0
    return frame_ms[elapsed <= loops * loop_s + frame_ms[-1] / 1000.0], loops


def _blocks(frame_ms: FloatArray, count: int) -> list[FloatArray]:
    """Return the frames of each of `count` equal spans of time that has any."""
    index = _index(frame_ms, count)
    return [block for k in range(count) if (block := frame_ms[index == k]).size]


def _index(frame_ms: FloatArray, count: int) -> IntArray:
    """Return which of `count` equal spans of time each frame ends in, shape (n,)."""
    elapsed = np.cumsum(frame_ms)
    return np.asarray(np.minimum((elapsed / elapsed[-1] * count).astype(np.int64), count - 1))


def _phase_u(frame_ms: FloatArray, loops: int) -> float:
    """Return the standard uncertainty of the mean rate from how counts at one phase differ between loops."""
    counts = np.bincount(_index(frame_ms, loops * PHASES), minlength=loops * PHASES).reshape(loops, PHASES)
    variance_of_sum = float(np.sum(loops * counts.var(axis=0, ddof=1)))
    return float(np.sqrt(variance_of_sum) / (frame_ms.sum() / 1000.0))


def _ratio_u(blocks: list[FloatArray]) -> float:
    """Return the standard uncertainty of the ratio sum(n) / sum(t) over blocks, by its linearised residuals."""
    n = np.array([b.size for b in blocks], dtype=float)
    t = np.array([b.sum() for b in blocks]) / 1000.0
    residual = n - n.sum() / t.sum() * t
    k = len(blocks)
    return float(np.sqrt(k / (k - 1) * np.sum(residual**2)) / t.sum())


def _bootstrap_u(blocks: list[FloatArray], definition: LowDefinition) -> float:
    """Return the standard uncertainty of the 1 % low in frames per second, from resampled blocks.

    The spread of the resamples is widened by √(k/(k - 1)), as that of k blocks falls short of the true one.
    """
    rng = np.random.default_rng(_SEED)
    picks = rng.integers(0, len(blocks), size=(_RESAMPLES, len(blocks)))
    frames, sizes = np.concatenate(blocks), np.array([b.size for b in blocks])
    order = np.argsort(-frames, kind="stable")
    frames, block_of = frames[order], np.repeat(np.arange(len(blocks)), sizes)[order]
    lows = []
    for pick in picks:
        drawn = np.bincount(pick, minlength=len(blocks))
        total = int(drawn @ sizes)
        lows.append(_low_of_tail(_slowest(frames, block_of, drawn, total), total, definition))
    return float(np.std(lows, ddof=1) * np.sqrt(len(blocks) / (len(blocks) - 1)))


def _slowest(frames: FloatArray, block_of: IntArray, drawn: IntArray, total: int) -> FloatArray:
    """Return the slowest 1 % of a resample of `total` frames and two more, shape (k,).

    `frames` has shape (n,) and falls, `block_of` (n,) says whose each is, `drawn` (blocks,) how often each block was
    drawn. Only the slow end has to be walked, unless hardly one of its frames was drawn.
    """
    need = max(1, round(0.01 * total)) + 2
    taken = np.cumsum(drawn[block_of[: 4 * need]])
    if taken[-1] < need:
        taken = np.cumsum(drawn[block_of])
    return np.repeat(frames[: taken.size], np.diff(taken, prepend=0))[:need]


def _low_of_tail(tail: FloatArray, total: int, definition: LowDefinition) -> float:
    """Return the 1 % low of `total` frames from the slowest of them, falling."""
    if definition == "percentile":
        place = 0.01 * (total - 1)
        low = int(place)
        return float(1000.0 / (tail[low] + (place - low) * (tail[low + 1] - tail[low])))
    return float(1000.0 / tail[: max(1, round(0.01 * total))].mean())
