"""How far figures scatter between mounts and from run to run, pooled over all bundles of an archive.

A few mounts of one cooler say little of their scatter, and two values multiply an interval by 12.7. So the scatter of
each kind of figure is pooled: between mounts over the coolers of one kind, from run to run over those of one kind of
heat path, where stock was run again at the end. Test points and cards differ in level, so a pool is kept in a scale in
which they are alike: a rise per watt of the card's power at the test point, a rate or a power as a share of itself.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from builder.archive.catalogue import CoolerKind, Setup
from builder.archive.protocol import PointRole, TestPoint
from builder.core.results import FIGURES, SENSORS, Bound, RunResult, Verdict

# What has no repeatable level of its own scatters as the rise of its sensor does.
_AS_RISE = {kind: s.rise for s in SENSORS for kind in (s.temperature, s.from_idle) if kind}
_POOLED = tuple(k for k, figure in FIGURES.items() if k not in _AS_RISE and not figure.of_room)


@dataclass(frozen=True, kw_only=True)
class Pool:
    """A pooled variance of single values, their own uncertainty inside it, with its effective degrees of freedom."""

    variance: float
    dof: float

    def times(self, scale: float) -> Pool:
        """Return the pool of values that are larger by an exact factor."""
        return Pool(variance=self.variance * scale**2, dof=self.dof)


@dataclass(frozen=True, kw_only=True)
class Spreads:
    """What an archive says of the scatter of a bundle's figures, by kind, in the scale of `scale_of`.

    `mounts` is that of single mounts, `repeats` that of single runs of one mount at one setting.
    """

    mounts: Mapping[str, Pool]
    repeats: Mapping[str, Pool]

    def between_mounts(self, kind: str, scale: float) -> Pool | None:
        """Return the pool between mounts of a figure in its unit; None where the archive says nothing of it."""
        pool = self.mounts.get(_AS_RISE.get(kind, kind))
        return pool.times(scale) if pool else None

    def from_run_to_run(self, kind: str, scale: float) -> Pool | None:
        """Return the pool from run to run of a figure in its unit; None where the archive says nothing of it."""
        pool = self.repeats.get(_AS_RISE.get(kind, kind))
        return pool.times(scale) if pool else None


NOTHING_POOLED = Spreads(mounts={}, repeats={})


@dataclass(frozen=True, kw_only=True)
class ArchiveSpreads:
    """The pools of a whole archive: between mounts by kind of cooler, from run to run by whether a loop is in it."""

    mounts: Mapping[CoolerKind, Mapping[str, Pool]]
    repeats: Mapping[bool, Mapping[str, Pool]]

    def of(self, cooler: CoolerKind) -> Spreads:
        """Return what the archive says of one kind of cooler."""
        return Spreads(mounts=self.mounts.get(cooler, {}), repeats=self.repeats.get(cooler.liquid, {}))


@dataclass(frozen=True, kw_only=True, eq=False)
class BundleRuns:
    """A bundle with everything it names, and its reduced runs."""

    setup: Setup
    runs: Sequence[RunResult]


def archive_spreads(bundles: Iterable[BundleRuns]) -> ArchiveSpreads:
    """Return the pools of an archive: of settled runs under load, made at the setting that their test point names."""
    given = sorted(bundles, key=lambda b: b.setup.id)  # so that sums have the same last digit whatever the order
    kinds = [k for k in CoolerKind if any(b.setup.cooler.kind is k for b in given)]
    mounts = {k: _pools(_remounts, [b for b in given if b.setup.cooler.kind is k]) for k in kinds}
    liquids = sorted({k.liquid for k in kinds})
    repeats = {q: _pools(_repeats, [b for b in given if b.setup.cooler.kind.liquid is q]) for q in liquids}
    return ArchiveSpreads(mounts=mounts, repeats=repeats)


def scale_of(setup: Setup, point: str, kind: str, value: float, watts: float | None = None) -> float:
    """Return by what a figure's scatter in its unit is divided in a pool; the same for all coolers on one card.

    Kelvins grow with power: watts of the card at the test point's limit, at idle those measured. K/W and dB are alike
    everywhere. Others are a share of their `value`.
    """
    unit = FIGURES[kind].unit
    if unit in ("K/W", "dBA"):
        return 1.0
    if unit not in ("K", "degC"):
        return abs(value)
    declared = setup.protocol.point(point)
    if declared and declared.role is PointRole.IDLE and watts and watts > 0:
        return watts
    share = declared.power_limit_pct if declared and declared.power_limit_pct else 100.0
    return setup.card.board_power_w * share / 100.0


# --- Deviations from their own mean, and what they say together


@dataclass(frozen=True, kw_only=True)
class Deviations:
    """Values less the mean of their group, in a pool's scale, of one bundle: shape (repeats, groups), NaN is missing.

    A row is one mount; it may shift all of its values alike, so that groups do not count as so many independent ones.
    """

    values: np.ndarray[tuple[int, int], np.dtype[np.float64]]


def pooled(found: Sequence[Deviations]) -> Pool | None:
    """Return the variance of single values pooled over bundles; None where nothing was repeated.

    The variance is Σ d² / Σ (n - 1), the mean square within groups. Rows shared by several groups correlate them by ρ,
    estimated from the cross products within rows, so that a bundle's (n - 1) P degrees of freedom over P groups are
    divided by 1 + (P - 1) ρ². In a whole table that is Satterthwaite's number for the sum of two mean squares: Searle,
    Casella and McCulloch 1992, Variance Components, section 3.6 (value from memory).
    """
    squares = cross = pairs = 0.0
    sizes: list[tuple[float, int]] = []
    for one in found:
        known = np.isfinite(one.values)
        filled = np.where(known, one.values, 0.0)
        by_row, count = (filled**2).sum(axis=1), known.sum(axis=1)
        squares += float(by_row.sum())
        cross += float((filled.sum(axis=1) ** 2 - by_row).sum())
        pairs += float(((count - 1) * by_row).sum())
        sizes.append((float(known.sum() - one.values.shape[1]), one.values.shape[1]))
    plain = math.fsum(dof for dof, _ in sizes)
    if not plain:
        return None
    rho = min(max(cross / pairs, 0.0), 1.0) if pairs > 0 else 0.0
    dof = math.fsum(dof / (1 + (groups - 1) * rho**2) for dof, groups in sizes)
    return Pool(variance=squares / plain, dof=max(dof, 1.0))


def _pools(
    deviations: Callable[[BundleRuns, str], Iterator[Deviations]], bundles: Sequence[BundleRuns]
) -> Mapping[str, Pool]:
    found = ((kind, pooled([d for bundle in bundles for d in deviations(bundle, kind)])) for kind in _POOLED)
    return {kind: pool for kind, pool in found if pool}


def _remounts(bundle: BundleRuns, kind: str) -> Iterator[Deviations]:
    """Yield how the mounts of a bundle deviate, a column for each test point under load with more than one."""
    points = [p for p in bundle.setup.protocol.points if p.role is not PointRole.IDLE]
    columns = [by for p in points if len(by := _by_mount(bundle, p, kind)) > 1]
    if not columns:
        return
    mounts = sorted({mount for column in columns for mount in column})
    yield Deviations(values=np.array([[column.get(mount, math.nan) for column in columns] for mount in mounts]))


def _by_mount(bundle: BundleRuns, point: TestPoint, kind: str) -> Mapping[int, float]:
    """Return how far each mount's value at a test point lies from their mean, in the pool's scale."""
    found: dict[int, list[float]] = {}
    for mount, value in _values(bundle, point, kind):
        found.setdefault(mount, []).append(value)
    means = {mount: float(np.mean(values)) for mount, values in found.items()}
    middle = float(np.mean(list(means.values()))) if means else 0.0
    scale = scale_of(bundle.setup, point.id, kind, middle)
    return {mount: (mean - middle) / scale for mount, mean in means.items()} if scale > 0 else {}


def _repeats(bundle: BundleRuns, kind: str) -> Iterator[Deviations]:
    """Yield how stock and stock run again at the end deviate from their mean, for each mount that has both."""
    points = bundle.setup.protocol.points
    stock, closing = (
        [(point, value) for point in points if point.role is role for value in _values(bundle, point, kind)]
        for role in (PointRole.STOCK, PointRole.CLOSING)
    )
    again = {mount: value for _, (mount, value) in closing}
    for point, (mount, first) in stock:
        if mount in again:
            middle = (first + again[mount]) / 2
            scale = scale_of(bundle.setup, point.id, kind, middle)
            if scale > 0:
                yield Deviations(values=np.array([[first - middle], [again[mount] - middle]]) / scale)


def _values(bundle: BundleRuns, point: TestPoint, kind: str) -> Iterator[tuple[int, float]]:
    """Yield a figure of each run at a test point that can stand for it, with the run's mount."""
    for run in bundle.runs:
        figure = run.figures.get(kind)
        sound = run.settlement.verdict is Verdict.SETTLED and run.over_limit is None
        if run.point == point.id and sound and figure and figure.bound is Bound.NONE:
            yield run.mount, figure.estimate.value
