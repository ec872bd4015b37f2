"""All runs of a bundle into figures per test point, changes from stock and lines of rise on power."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence

from builder.figures import FIGURES, BundleResult, Change, Figure, PointResult, RunResult, Verdict
from builder.model import PointRole, TestPoint
from builder.reduce.air import altitude_note
from builder.reduce.changes import changes_from_stock
from builder.reduce.declared import declared_spread
from builder.reduce.inputs import RunInput, Setting
from builder.reduce.mounts import over_mounts, spread_of
from builder.reduce.powerline import power_lines
from builder.reduce.run import reduce_run
from builder.reduce.sweep import power_sweep

_WORST_FIRST = (Verdict.TOO_SHORT, Verdict.DRIFTING, Verdict.UNDECIDED, Verdict.SETTLED)


def reduce_bundle(setting: Setting, inputs: Sequence[RunInput]) -> BundleResult:
    """Return everything computed for one bundle; test points follow the protocol's order.

    Raises KeyError for a run at a test point that the protocol does not have (validation refuses it before).
    """
    points = {p.id: p for p in setting.protocol.points}
    return combine_runs(setting, [reduce_run(setting, given, points[given.run.point]) for given in inputs])


def combine_runs(setting: Setting, runs: Sequence[RunResult]) -> BundleResult:
    """Return what is computed from the runs of a bundle together, with the runs."""
    points = {p.id: p for p in setting.protocol.points}
    stock = [r for r in runs if points[r.point].role is PointRole.STOCK]
    grouped = ((p, [r for r in runs if r.point == p.id]) for p in setting.protocol.points)
    results = tuple(_point(setting, p, mine, stock) for p, mine in grouped if mine)
    mounts = len({r.mount for r in runs})
    return BundleResult(
        bundle=setting.bundle_id,
        points=results,
        lines=power_lines(results, setting.protocol),
        mounts=mounts,
        warnings=tuple(_warnings(setting, results, mounts)),
        notes=tuple(_notes(setting)),
        sweep=power_sweep(results, setting.protocol),
    )


def _point(setting: Setting, point: TestPoint, runs: Sequence[RunResult], stock: Sequence[RunResult]) -> PointResult:
    used = [r for r in runs if r.settlement.verdict is Verdict.SETTLED] or list(runs)
    return PointResult(
        point=point.id,
        name=point.name,
        runs=tuple(runs),
        figures=_over_mounts(setting, used),
        changes=_changes(point, used, stock),
        verdict=min((r.settlement.verdict for r in used), key=_WORST_FIRST.index),
        mount_note=_mount_note(setting, used, left_out=len(runs) - len(used)),
    )


def _over_mounts(setting: Setting, runs: Sequence[RunResult]) -> Mapping[str, Figure]:
    figures: dict[str, Figure] = {}
    for kind in FIGURES:
        mine = [r.figures[kind] for r in runs if kind in r.figures]
        if mine:
            figures[kind] = over_mounts(mine, _declared_spread(setting, kind, runs))
    return figures


def _declared_spread(setting: Setting, kind: str, runs: Sequence[RunResult]) -> float | None:
    """Return the protocol's declared mounting spread in the figure's unit; None where it declares none."""
    watts = next((r.figures["board_power"].estimate.value for r in runs if "board_power" in r.figures), None)
    return declared_spread(setting.protocol, setting.cooler.kind, kind, watts)


def _changes(point: TestPoint, runs: Sequence[RunResult], stock: Sequence[RunResult]) -> Mapping[str, Change]:
    if point.role in (PointRole.STOCK, PointRole.IDLE):
        return {}
    settled = [r for r in stock if r.settlement.verdict is Verdict.SETTLED] or list(stock)
    return changes_from_stock(runs, settled)


def _mount_note(setting: Setting, runs: Sequence[RunResult], *, left_out: int) -> str:
    rises = [r.figures["core_rise"].estimate.value for r in runs if "core_rise" in r.figures]
    spread = spread_of(rises, _declared_spread(setting, "core_rise", runs)) if rises else None
    parts = [_spread_words(len(runs), spread.sd if spread else None, spread.source if spread else "")]
    if left_out:
        parts.append(f"{left_out} run{'s' if left_out > 1 else ''} not settled and left out of the mean.")
    return " ".join(parts)


def _spread_words(mounts: int, sd: float | None, source: str) -> str:
    count = "One mount" if mounts == 1 else f"{mounts} mounts"
    if sd is None:
        return f"{count}: mounting spread unknown, so differences from other coolers are not judged."
    return f"{count}: mounting spread {sd:.2f} K ({source})."


def _warnings(setting: Setting, points: Sequence[PointResult], mounts: int) -> Iterator[str]:
    have = {p.point for p in points}
    missing = [p.name for p in setting.protocol.points if p.required and p.id not in have]
    if missing:
        yield f"No run yet at: {', '.join(missing)}."
    if mounts < setting.protocol.mounts:
        yield f"{mounts} of {setting.protocol.mounts} mounts that the protocol asks for."


def _notes(setting: Setting) -> Iterator[str]:
    note = "" if setting.cooler.kind.liquid else altitude_note(setting.bench.altitude_m)
    if note:
        yield note
