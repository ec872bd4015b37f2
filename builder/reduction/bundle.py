"""All runs of a bundle into figures per test point, and what is worth knowing about the bundle in words."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from functools import partial

import numpy as np

from builder.archive.catalogue import Setup
from builder.archive.protocol import PointRole, TestPoint
from builder.core.results import FIGURES, BundleResult, Figure, PointResult, RunResult, Verdict, counted
from builder.core.words import count
from builder.reduction.between_points import changes_from_stock, power_lines, power_sweep, with_load_less_idle
from builder.reduction.inputs import RunInput
from builder.reduction.mounts import declared_spread, over_mounts, spread_of
from builder.reduction.pooled_spreads import BundleRuns, Pool, Spreads, archive_spreads, scale_of
from builder.reduction.run import reduce_run

_WORST_FIRST = (Verdict.TOO_SHORT, Verdict.DRIFTING, Verdict.UNDECIDED, Verdict.SETTLED)


def reduce_bundle(setup: Setup, inputs: Sequence[RunInput]) -> BundleResult:
    """Return everything computed for one bundle; test points follow the protocol's order.

    Raises KeyError for a run at a test point that the protocol does not have (validation refuses it before).
    """
    points = {p.id: p for p in setup.protocol.points}
    return combine_runs(setup, [reduce_run(setup, given, points[given.run.point]) for given in inputs])


def combine_runs(setup: Setup, runs: Sequence[RunResult], spreads: Spreads | None = None) -> BundleResult:
    """Return what is computed from the runs of a bundle together, with the runs.

    `spreads` is what the archive says of scatter between mounts and runs; without it these runs speak for themselves.
    """
    spreads = spreads or archive_spreads([BundleRuns(setup=setup, runs=runs)]).of(setup.cooler.kind)
    points = {p.id: p for p in setup.protocol.points}
    runs = with_load_less_idle(runs, {p.id: p.role for p in setup.protocol.points})
    stock = counted([r for r in runs if points[r.point].role is PointRole.STOCK])
    grouped = ((p, [r for r in runs if r.point == p.id]) for p in setup.protocol.points)
    results = tuple(_point(setup, p, mine, stock, spreads) for p, mine in grouped if mine)
    mounts = len({r.mount for r in runs})
    note = "" if setup.cooler.kind.liquid else altitude_note(setup.bench.altitude_m)
    return BundleResult(
        bundle=setup.id,
        points=results,
        lines=power_lines(results, setup.protocol),
        mounts=mounts,
        warnings=tuple(_warnings(setup, results, mounts)),
        notes=(note,) if note else (),
        sweep=power_sweep(results, setup.protocol, partial(repeat_pool, setup, spreads)),
    )


def _point(
    setup: Setup, point: TestPoint, runs: Sequence[RunResult], stock: Sequence[RunResult], spreads: Spreads
) -> PointResult:
    used = counted(runs)
    other_setting = any(run.over_limit for run in used)
    unchanged = other_setting or point.role in (PointRole.STOCK, PointRole.IDLE)
    changes = {} if unchanged else changes_from_stock(used, stock, partial(repeat_pool, setup, spreads))
    return PointResult(
        point=point.id,
        name=point.name,
        runs=tuple(runs),
        figures=_over_mounts(setup, used, spreads),
        changes=changes,
        verdict=min((r.settlement.verdict for r in used), key=_WORST_FIRST.index),
        mount_note=_mount_note(setup, used, spreads, left_out=len(runs) - len(used)),
    )


def _over_mounts(setup: Setup, runs: Sequence[RunResult], spreads: Spreads) -> Mapping[str, Figure]:
    by_kind = {kind: [r.figures[kind] for r in runs if kind in r.figures] for kind in FIGURES}
    return {
        kind: over_mounts(mine, _declared(setup, kind, runs), _mount_pool(setup, kind, runs, spreads))
        for kind, mine in by_kind.items()
        if mine
    }


def _mount_pool(setup: Setup, kind: str, runs: Sequence[RunResult], spreads: Spreads) -> Pool | None:
    """Return the archive's pool between mounts in the unit of a figure at the test point of some runs."""
    value = float(np.mean([r.figures[kind].estimate.value for r in runs if kind in r.figures]))
    return spreads.between_mounts(kind, scale_of(setup, runs[0].point, kind, value, _watts(runs)))


def repeat_pool(setup: Setup, spreads: Spreads, point: str, kind: str, value: float) -> Pool | None:
    """Return the archive's pool from run to run in the unit of a figure with a value at a test point."""
    return spreads.from_run_to_run(kind, scale_of(setup, point, kind, value))


def _watts(runs: Sequence[RunResult]) -> float | None:
    return next((r.figures["board_power"].estimate.value for r in runs if "board_power" in r.figures), None)


def _declared(setup: Setup, kind: str, runs: Sequence[RunResult]) -> float | None:
    """Return the protocol's declared mounting spread in the figure's unit; None where it declares none."""
    return declared_spread(setup.protocol, setup.cooler.kind, kind, _watts(runs))


# --- What is said of a point and of a bundle in words


def _mount_note(setup: Setup, runs: Sequence[RunResult], spreads: Spreads, *, left_out: int) -> str:
    kind = next((k for k in ("core_rise", "core_temperature") if any(k in r.figures for r in runs)), "core_rise")
    values = [r.figures[kind].estimate.value for r in runs if kind in r.figures]
    pool = _mount_pool(setup, kind, runs, spreads) if values else None
    spread = spread_of(values, _declared(setup, kind, runs), pool)
    mounts = "One mount" if len(runs) == 1 else count(len(runs), "mount")
    said = f"{spread.sd:.2f} K ({spread.source})" if spread else _UNKNOWN
    note = f"{mounts}: mounting spread {said}."
    if left_out:
        note += f" {count(left_out, 'run')} not settled, or not at the point's power limit, and left out of the mean."
    return note


_UNKNOWN = "unknown, so differences from other coolers are not judged"


def _warnings(setup: Setup, points: Sequence[PointResult], mounts: int) -> Iterator[str]:
    have = {p.point for p in points}
    missing = [p.name for p in setup.protocol.points if p.required and p.id not in have]
    if missing:
        yield f"No run yet at: {', '.join(missing)}."
    if mounts < setup.protocol.mounts:
        yield f"{mounts} of {setup.protocol.mounts} mounts that the protocol asks for."


# --- Air at altitude: thinner air carries less heat from an air cooler

SEA_LEVEL_DENSITY = 1.225  # kg/m³
WORTH_SAYING = 0.03  # relative: less is lost in the ambient band


def altitude_note(altitude_m: float) -> str:
    """Return a sentence on thin air for a bench at this altitude in m, empty where the difference is small."""
    loss = 1.0 - air_density(altitude_m) / SEA_LEVEL_DENSITY
    if loss < WORTH_SAYING:
        return ""
    return (
        f"The bench stands at {altitude_m:.0f} m, where air is {100 * loss:.0f} % thinner than at sea level: "
        "an air cooler runs warmer here than it would there."
    )


def air_density(altitude_m: float) -> float:
    """Return the density of the standard atmosphere in kg/m³, from sea level to 11 000 m of geopotential altitude.

    Source: ISO 2533:1975, gradient layer -6.5 K/km, exponent g/(R L) - 1 = 4.25588.

    >>> round(air_density(1000.0), 4)
    1.1116
    """
    return float(SEA_LEVEL_DENSITY * (1.0 - 0.0065 * altitude_m / 288.15) ** 4.25588)
