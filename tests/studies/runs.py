"""Simulated runs as a logger would have written them, and the truth behind each."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from scipy import signal

from builder.core.quantity import FloatArray
from builder.core.results import Window
from builder.settling import Channel, Signals


@dataclass(frozen=True, kw_only=True, eq=False)
class Noise:
    """Noise of the temperature sensor, of each run: white, and slow with a wide spectrum; standard deviations in K."""

    sd: FloatArray
    slow_sd: FloatArray


@dataclass(frozen=True, kw_only=True, eq=False)
class Batch:
    """Many runs on a fine even grid, shape (runs, steps); `still` is the rise at constant power, the truth."""

    time_s: FloatArray
    core: FloatArray
    power: FloatArray
    ambient: FloatArray
    coolant: FloatArray | None
    still: FloatArray
    rise: FloatArray
    psi: FloatArray
    noise: Noise
    fan: FloatArray | None = None  # r/min
    further: tuple[FloatArray, ...] = ()  # other sensors of the card

    def watts(self, run: int) -> float:
        """Return a run's board power at rest in W."""
        return float(self.rise[run] / self.psi[run])

    def remaining(self, window: Window) -> FloatArray:
        """Return by how much each run's rise in the window falls short of its equilibrium, in K."""
        inside = (self.time_s >= window.start_s) & (self.time_s < window.end_s)
        return np.asarray(self.rise - self.still[:, inside].mean(axis=1), dtype=float)


def logged(  # noqa: PLR0913 - all but two named
    batch: Batch,
    run: int,
    *,
    interval_s: float,
    resolution_k: float,
    seed: int,
    sensors: int = 1,
    truncating: bool = False,
) -> Signals:
    """Return one run as logged: sampled, with sensor noise, rounded; power is the meter's average over the interval.

    A truncating sensor cuts its reading off instead of rounding it, and gives a new one only every two seconds.
    """
    rng = np.random.default_rng([seed, run])
    step = float(batch.time_s[1] - batch.time_s[0])
    count = round((batch.time_s[-1] + step / 2) / interval_s)
    time = interval_s * np.arange(count)

    def sampled(values: FloatArray, q: float, extra: FloatArray | float = 0.0) -> Channel:
        exact = np.interp(time + 0.5 * interval_s, batch.time_s, values) + extra
        return Channel(values=np.round(exact / q) * q, resolution=q)

    def sensed(values: FloatArray) -> Channel:
        noise = batch.noise.sd[run] * rng.standard_normal(count) + batch.noise.slow_sd[run] * _pink(rng, count)
        if not truncating:
            return sampled(values, resolution_k, noise)
        exact = np.interp(time + 0.5 * interval_s, batch.time_s, values) + noise
        held = max(1, round(2.0 / interval_s))
        cut = np.floor(exact / resolution_k)[np.arange(count) // held * held]
        return Channel(values=cut * resolution_k, resolution=resolution_k)

    core = sensed(batch.core[run])
    further = tuple(sensed(values[run]) for values in batch.further[: sensors - 1])
    power = np.interp(time + 0.5 * interval_s, batch.time_s, _averaged(batch.power[run], interval_s, step))
    coolant = None if batch.coolant is None else sampled(batch.coolant[run], 0.1, 0.03 * rng.standard_normal(count))
    return Signals(
        time_s=time,
        temperature=core,
        power=Channel(values=np.round(power * (1 + 0.002 * rng.standard_normal(count)), 1), resolution=0.1),
        ambient=sampled(batch.ambient[run], 0.1, 0.02 * rng.standard_normal(count)),
        coolant=coolant,
        fan=None if batch.fan is None else sampled(batch.fan[run], 1.0, 4.0 * rng.standard_normal(count)),
        further=further,
    )


def _averaged(values: FloatArray, interval_s: float, step: float) -> FloatArray:
    width = max(1, round(interval_s / step))
    padded = np.pad(values, (width // 2, width - 1 - width // 2), mode="edge")
    return np.convolve(padded, np.full(width, 1 / width), mode="valid")


def _pink(rng: np.random.Generator, count: int) -> FloatArray:
    """Return noise of about unit spread whose spectrum falls as 1/f over three decades: slower and slower parts."""
    parts = []
    for keep in (0.5, 0.9, 0.98, 0.995):
        drive = rng.standard_normal(count) * np.sqrt(1 - keep**2)
        parts.append(signal.lfilter([1.0], [1.0, -keep], drive))
    return np.asarray(sum(parts), dtype=float) / 2
