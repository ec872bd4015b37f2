"""Invented archives as they truly are: cards, coolers, benches, tests with their mounts, and what each run does.

Everything that an audit needs to call a claim true or false stands here; nothing of it is told to the program.
Quantities: K, W, K/W, 1/s and seconds. Rises are those at rest, over the room.
"""

from __future__ import annotations

import datetime as dt
import math
import zlib
from collections.abc import Iterable
from dataclasses import dataclass
from functools import cached_property
from pathlib import Path

import numpy as np

from builder.core.results import Window

WATTS = 260.0  # at stock
POINTS = ("idle", "stock", "power-85", "power-70", "overclock", "closing")
POWER_SHARES = {"idle": 0.07, "overclock": 1.05}  # of stock's power, at points without a power limit
FAN_FACTORS = {"fan-30": 1.30, "fan-60": 0.92}  # on the resistance, at stock's power
RATE, RATE_EXPONENT, OVERCLOCKED = 90.0, 0.35, 1.04
FAST_SHARE = 0.6  # of the rise; the rest follows slowly
RUN_TO_RUN = 0.001  # standard deviation of power and frame rate, as a share
WARM = 0.15  # share of the way that a run has gone when its log begins
SLOW_S = 420.0  # of a run that is far from rest after 20 minutes
FAULTY = ("stock", "power-85")  # the test points whose runs a fault spoils


@dataclass(frozen=True, kw_only=True)
class Cooler:
    """A cooler's true resistances in K/W, core and memory over the room, its slow time constant, its mounts' spread.

    `spread_k` is the standard deviation from mount to mount in K at stock.
    """

    id: str
    core: float
    memory: float
    tau_s: float
    spread_k: float

    @property
    def name(self) -> str:
        """Return the name that pages show."""
        return self.id.replace("-", " ").capitalize()

    def resistance(self, sensor: str) -> float:
        """Return the resistance in K/W from a sensor to the room, for the mean mount at stock's fan."""
        return self.core if sensor == "core" else self.memory


@dataclass(frozen=True, kw_only=True)
class Instruments:
    """What a bench's instruments add to the truth: offsets in K, gain of the power meter as a share; and the step in K.

    They stay inside the accuracy that the bench declares, and are the same in every run on it.
    """

    core: float
    memory: float
    room: float
    power: float
    step: float


@dataclass(frozen=True, kw_only=True)
class Test:
    """One bundle: which cooler on which bench and day, what each mount adds in K at stock, and what is wrong.

    `fault` is empty, "short" (stopped early), "slow" (far from rest at the end) or "limit not applied" (a power limit
    that was forgotten, so that the run draws stock's power). `next_k` is what another mount would add.
    """

    id: str
    cooler: Cooler
    bench: str
    day: dt.date
    mounts_k: tuple[float, ...]
    next_k: float
    fault: str = ""

    __test__ = False

    @property
    def mean_k(self) -> float:
        """Return what the tested mounts add on average, in K at stock."""
        return sum(self.mounts_k) / len(self.mounts_k)


@dataclass(frozen=True, kw_only=True, eq=False)
class World:
    """An archive's truth; the reference power differs a little from stock's, so that lines are used."""

    root: Path
    seed: int
    tests: tuple[Test, ...]
    benches: dict[str, Instruments]
    reference_w: float
    ambient_c: float
    points: tuple[str, ...]
    declared_spread: bool

    @cached_property
    def by_bundle(self) -> dict[str, Test]:
        """Return every test by its bundle."""
        return {t.id: t for t in self.tests}

    @cached_property
    def by_name(self) -> dict[str, Cooler]:
        """Return every cooler by the name that pages show."""
        return {t.cooler.name: t.cooler for t in self.tests}

    # --- what a cooler does: the truth of comparisons, which are about coolers and not about mounts

    def cooler_rise(self, cooler: Cooler, point: str, sensor: str = "core", watts: float | None = None) -> float:
        """Return a cooler's rise in K with its mean mount at a test point as declared, or there at another power."""
        power = WATTS * self.declared_share(point) if watts is None else watts
        return cooler.resistance(sensor) * FAN_FACTORS.get(point, 1.0) * power

    def declared_share(self, point: str) -> float:
        """Return the power of a test point as declared, as a share of stock's; limits are of the reference power."""
        if point.startswith("power-"):
            return float(point.removeprefix("power-")) / 100 * self.reference_w / WATTS
        return POWER_SHARES.get(point, 1.0)

    # --- what a test did: the truth of figures, which are about the runs as they were made

    def share(self, bundle: str, point: str) -> float:
        """Return the power of a bundle's runs at a test point as a share of stock's."""
        return 1.0 if self.mistaken(bundle, point) else self.declared_share(point)

    def power(self, bundle: str, point: str) -> float:
        """Return the mean board power in W of a bundle's runs at a test point."""
        return WATTS * self.share(bundle, point)

    def rate(self, bundle: str, point: str) -> float:
        """Return the mean frame rate in 1/s of a bundle's runs at a test point."""
        more = OVERCLOCKED if point == "overclock" else 1.0
        return RATE * math.pow(min(self.share(bundle, point), 1.0), RATE_EXPONENT) * more

    def rise(self, bundle: str, point: str, sensor: str = "core", *, mount_k: float = 0.0) -> float:
        """Return the rise in K of a bundle's runs at a test point, with a mount that adds so much at stock."""
        return self.slope(bundle, sensor, mount_k=mount_k, factor=FAN_FACTORS.get(point, 1.0)) * self.power(
            bundle, point
        )

    def slope(self, bundle: str, sensor: str = "core", *, mount_k: float = 0.0, factor: float = 1.0) -> float:
        """Return the rise per watt in K/W: a mount's paste adds a resistance of its own, whatever the fan does."""
        return self.by_bundle[bundle].cooler.resistance(sensor) * factor + mount_k / WATTS

    def saved(self) -> float:
        """Return the board power in W that giving up a tenth of stock's frame rate saves."""
        return WATTS * (1 - math.pow(0.9, 1 / RATE_EXPONENT))

    def most_frames(self, bundle: str, points: Iterable[str]) -> str:
        """Return the test point with most frames for their energy."""
        return max(points, key=lambda p: self.rate(bundle, p) / self.power(bundle, p))

    def ran(self, bundle: str, point: str, mount: int, what: str) -> float:
        """Return by which factor "power" or "rate" of one run differs from those of the setting: runs vary a little."""
        rng = np.random.default_rng([self.seed, zlib.crc32(f"{bundle}/{mount}/{point}/{what}".encode())])
        return 1 + RUN_TO_RUN * float(rng.standard_normal())

    def mean_ran(self, bundle: str, point: str, what: str) -> float:
        """Return the mean of these factors over a bundle's mounts."""
        mounts = range(1, len(self.by_bundle[bundle].mounts_k) + 1)
        return sum(self.ran(bundle, point, mount, what) for mount in mounts) / len(mounts)

    def mistaken(self, bundle: str, point: str) -> bool:
        """Return whether a bundle's runs at a test point were not made as the protocol says."""
        return self.by_bundle[bundle].fault == "limit not applied" and point == "power-85"

    # --- how far from rest a run was

    def slow_tau(self, bundle: str, point: str) -> float:
        """Return the time constant in s of the slow part of the rise: the cooler's own, or a fault's."""
        test = self.by_bundle[bundle]
        return SLOW_S if test.fault == "slow" and point in FAULTY else test.cooler.tau_s

    def to_go(self, bundle: str, point: str, mount: int, window: Window) -> float:
        """Return the mean distance in K from rest over a window of one run of a bundle: what is still to rise."""
        tau = self.slow_tau(bundle, point)
        left = math.exp(-window.start_s / tau) - math.exp(-window.end_s / tau)
        mean = left * tau / (window.end_s - window.start_s)
        rise = self.rise(bundle, point, mount_k=self.by_bundle[bundle].mounts_k[mount - 1])
        return (1 - FAST_SHARE) * (1 - WARM) * rise * mean
