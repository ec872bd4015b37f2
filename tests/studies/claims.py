"""Every claim that an archive's typed figures make, beside the truth.

A claim is something that can be false: one cooler is cooler than another, a setting changed something, a run is at
rest. An interval is a value with its ±, which holds the truth or misses it; "too close to call" claims no more than
that. What published pages say in words and tables is read in `claims_on_pages`.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from itertools import combinations

from builder.comparison import (
    Basis,
    Group,
    PointOf,
    Standing,
    Tested,
    bench_stability,
    evaluate,
    groups,
    head_to_head,
    ranking,
    rise_at,
    room_models,
)
from builder.comparison.members import Case
from builder.core.quantity import Estimate
from builder.core.results import Bound, Change, Figure, PointResult, Role, RunResult, Verdict
from tests.studies.invented_truth import FAN_FACTORS, World

EQUAL_K = 0.1  # coolers whose true difference is smaller are equal
SENSOR_OF = {"core_rise": "core", "memory_rise": "memory"}
COMPARED = ("stock", "power-85", "power-70", *FAN_FACTORS)


@dataclass(frozen=True, kw_only=True)
class Claim:
    """One claim: what it is about, where it was read, whether it is false, and whether its interval holds the truth.

    `false` is None for an interval that claims nothing else, `holds` is None where there is no interval. `unlike`: it
    put settings beside each other that differ in more than power.
    """

    about: str
    where: str
    false: bool | None = None
    holds: bool | None = None
    unlike: bool = False


def claims(world: World, tested: Tested) -> Iterator[Claim]:
    """Give every claim of the typed figures of one archive."""
    for bundle, result in tested.results.items():
        for point in result.points:
            yield from figure_claims(world, bundle, point)
            yield from change_claims(world, bundle, point)
            yield from (c for run in point.runs for c in rest_claims(world, bundle, run))
        yield from line_claims(world, tested, bundle)
        yield from sweep_claims(world, tested, bundle)
        yield from room_claims(world, tested, bundle)
    yield from pair_claims(world, tested)
    yield from order_claims(world, tested)
    yield from stability_claims(tested)


# --- what a figure says of its own test


def figure_claims(world: World, bundle: str, point: PointResult) -> Iterator[Claim]:
    """Give a test point's figures: intervals where the runs had settled, bounds or intervals where they had not."""
    settled = point.verdict is Verdict.SETTLED
    for kind, figure in point.figures.items():
        true = figure_truth(world, bundle, point.point, figure)
        if true is None:
            continue
        where = f"{bundle}/{point.point}"
        if figure.bound is Bound.NONE:
            about = f"figure: {kind}" if settled else f"figure of an unsettled run: {kind}"
            yield Claim(about=about, where=where, holds=holds(figure.estimate, true))
        else:
            low = figure.bound is Bound.LOWER
            value, width = figure.estimate.value, figure.estimate.expanded()
            false = true < value - width if low else true > value + width
            yield Claim(about=f"bound: {kind}", where=where, false=false)


def figure_truth(world: World, bundle: str, point: str, figure: Figure) -> float | None:
    """Return what a figure should be, as the runs were; None for a kind that the archive's truth does not know.

    A rise is that of the cooler's mean mount where the figure has a line for mounts or several of them; else of the one
    mount, as its page says.
    """
    test = world.by_bundle[bundle]
    of_cooler = len(test.mounts_k) > 1 or any(c.role is Role.MOUNT for c in figure.budget)
    mount_k = 0.0 if of_cooler else test.mean_k
    ran = world.mean_ran(bundle, point, "power")
    power, rate = world.power(bundle, point) * ran, world.rate(bundle, point) * world.mean_ran(bundle, point, "rate")
    known = {
        "core_rise": world.rise(bundle, point, mount_k=mount_k) * ran,
        "memory_rise": world.rise(bundle, point, "memory", mount_k=mount_k) * ran,
        "core_psi": world.rise(bundle, point, mount_k=mount_k) * ran / power,
        "board_power": power,
        "frame_rate": rate,
        "frames_per_joule": rate / power,
    }
    return known.get(figure.kind)


def rest_claims(world: World, bundle: str, run: RunResult) -> Iterator[Claim]:
    """Give a run's verdict and its remaining approach, beside what was truly still to rise."""
    found = run.settlement
    if found.window is None:
        return
    where = f"{bundle}/{run.id}"
    to_go = world.to_go(bundle, run.point, run.mount, found.window)
    if found.verdict is Verdict.SETTLED:
        yield Claim(about="run: settled", where=where, false=to_go > found.limit_k)
    elif found.verdict is Verdict.DRIFTING:
        yield Claim(about="run: drifting", where=where, false=to_go < found.limit_k)
    if found.remaining and found.half_width is not None and found.verdict is not Verdict.UNDECIDED:
        held = abs(found.remaining.value - to_go) <= found.half_width
        yield Claim(about="run: remaining approach", where=where, holds=held)


# --- what is said of one result's test points together


def change_claims(world: World, bundle: str, point: PointResult) -> Iterator[Claim]:
    """Give a test point's changes from stock, which are about the mounts that were tested."""
    for kind, change in point.changes.items():
        ends = [_as_tested(world, bundle, at, kind) for at in (point.point, "stock")]
        if point.verdict is not Verdict.SETTLED or None in ends:
            continue
        here, stock = (end for end in ends if end is not None)
        yield from _change(f"{bundle}/{point.point}", change, here - stock, 100 * (here / stock - 1))


def _as_tested(world: World, bundle: str, point: str, kind: str) -> float | None:
    if sensor := SENSOR_OF.get(kind):
        return world.rise(bundle, point, sensor, mount_k=world.by_bundle[bundle].mean_k)
    rate, power = world.rate(bundle, point), world.power(bundle, point)
    return {"frame_rate": rate, "board_power": power, "frames_per_joule": rate / power}.get(kind)


def _change(where: str, change: Change, true: float, percent: float) -> Iterator[Claim]:
    value = change.absolute
    told = abs(value.value) > value.expanded()
    wrong = true == 0 or (value.value > 0) != (true > 0)
    yield Claim(about=f"change: {change.kind}", where=where, false=wrong if told else None, holds=holds(value, true))
    if change.percent:
        yield Claim(about=f"change in %: {change.kind}", where=where, holds=holds(change.percent, percent))


def line_claims(world: World, tested: Tested, bundle: str) -> Iterator[Claim]:
    """Give what is said of the rise on power: truly a straight line between points that differ in power alone."""
    for kind, line in tested.results[bundle].lines.items():
        if sensor := SENSOR_OF.get(kind):
            true = world.slope(bundle, sensor, mount_k=world.by_bundle[bundle].mean_k)
            unlike = any(point in FAN_FACTORS for point in line.points)
            yield Claim(
                about="line: slope",
                where=f"{bundle}/{kind}",
                false=not line.fits,
                holds=holds(line.stated_slope, true) if line.fits else None,
                unlike=unlike,
            )


def sweep_claims(world: World, tested: Tested, bundle: str) -> Iterator[Claim]:
    """Give where frames cost least energy, and what giving up a tenth of stock's frames saves."""
    sweep = tested.results[bundle].sweep
    if sweep is None:
        return
    false = sweep.best != world.most_frames(bundle, sweep.points)
    yield Claim(about="sweep: most frames for their energy", where=bundle, false=false)
    if sweep.last_tenth:
        yield Claim(about="sweep: what a tenth saves", where=bundle, holds=holds(sweep.last_tenth, world.saved()))


def room_claims(world: World, tested: Tested, bundle: str) -> Iterator[Claim]:
    """Give the temperatures to expect in a reader's room, of another mount where mounts are known."""
    test = world.by_bundle[bundle]
    for model in room_models(tested, bundle):
        mount_k = test.next_k if model.mounts_known else test.mean_k
        slope = world.slope(bundle, model.kind.removesuffix("_temperature"), mount_k=mount_k)
        for share in (0.1, 0.9):
            watts = model.low_w + share * (model.high_w - model.low_w)
            said = evaluate(model, world.ambient_c, watts)
            held = abs(said.value - world.ambient_c - slope * watts) <= said.half_width
            yield Claim(about="in a reader's room", where=f"{bundle}/{model.kind}", holds=held)


# --- what is said of coolers beside each other


def pair_claims(world: World, tested: Tested) -> Iterator[Claim]:
    """Give what is said of every pair of results at a test point, as measured and at reference conditions."""
    for a, b in combinations(sorted(tested.results), 2):
        for point in COMPARED:
            if all(tested.point(bundle, point) for bundle in (a, b)):
                yield from (c for basis in Basis for c in _pair(world, tested, (a, b), point, basis))


def _pair(world: World, tested: Tested, pair: tuple[str, str], point: str, basis: Basis) -> Iterator[Claim]:
    a, b = (PointOf(bundle=bundle, point=point) for bundle in pair)
    mistaken = any(world.mistaken(bundle, point) for bundle in pair)
    about = f"pair {basis}{', a limit forgotten' if mistaken else ''}"
    for row in head_to_head(tested, a, b, basis).rows:
        if row.kind in SENSOR_OF and row.difference:
            true = difference(world, pair, point, SENSOR_OF[row.kind], basis)
            told = row.standing in (Standing.A_BETTER, Standing.B_BETTER)
            wrong = is_wrong(true, first_cooler=row.standing is Standing.A_BETTER)
            where = f"{'~'.join(pair)}/{point}/{row.kind}"
            yield Claim(about=about, where=where, false=wrong if told else None, holds=holds(row.difference, true))


def difference(world: World, pair: tuple[str, str], point: str, sensor: str, basis: Basis) -> float:
    """Return the true difference in K between the coolers of two results at a test point, first less second."""
    watts = None if basis is Basis.MEASURED else world.reference_w
    a, b = (world.cooler_rise(world.by_bundle[bundle].cooler, point, sensor, watts) for bundle in pair)
    return a - b


def is_wrong(true: float, *, first_cooler: bool) -> bool:
    """Return whether "the first is cooler", or else "the second is", is false for a true difference in K."""
    return abs(true) < EQUAL_K or (true < 0) != first_cooler


def order_claims(world: World, tested: Tested) -> Iterator[Claim]:
    """Give every pair that an order tells apart, how far rows are behind the first, and unlike settings in an order."""
    for group in groups(tested):
        for basis in Basis:
            yield from _order(world, tested, group, basis)


def _order(world: World, tested: Tested, group: Group, basis: Basis) -> Iterator[Claim]:
    point = group.points[0][1]
    rows = [row for row in ranking(tested, group, "core_rise", basis).rows if row.letters]
    mistaken = any(world.mistaken(bundle, point) for row in rows for bundle in row.tests)
    about = f"order {basis}{', a limit forgotten' if mistaken else ''}"
    for first, second in combinations(rows, 2):
        true = difference(world, (first.bundle, second.bundle), point, "core", basis)
        where = f"{group.name}: {first.bundle} before {second.bundle}"
        if not set(first.letters) & set(second.letters):
            yield Claim(about=about, where=where, false=is_wrong(true, first_cooler=True))
        if first is rows[0] and second.behind:
            yield Claim(about=f"{about}: behind the first", where=where, holds=holds(second.behind, -true))
    if basis is Basis.REFERENCE:
        tests = (bundle for row in rows for bundle in row.tests)
        yield from (_like(world, tested, bundle, point) for bundle in tests)


def _like(world: World, tested: Tested, bundle: str, point: str) -> Claim:
    """Return whether a value at reference conditions came from test points with the fan of the one it stands for."""
    result = tested.point(bundle, point)
    if result is None:
        raise LookupError(bundle, point)
    case = Case(setup=tested.setup(bundle), result=result)
    at = rise_at(tested, case, "core_rise", world.reference_w)
    nearest = getattr(at, "nearest", "")
    used = (nearest,) if nearest else tested.results[bundle].lines["core_rise"].points
    unlike = any(FAN_FACTORS.get(other) != FAN_FACTORS.get(point) for other in used)
    return Claim(about="like settings at reference conditions", where=f"{bundle}/{point}", false=unlike, unlike=unlike)


def stability_claims(tested: Tested) -> Iterator[Claim]:
    """Give what is said of the bench by retests; no bench ever changes."""
    for found in bench_stability(tested):
        for retest in found.retests:
            yield Claim(about="bench: changed", where=retest.bundle, false=retest.signal)


def holds(estimate: Estimate, true: float) -> bool:
    """Return whether an estimate's interval holds a true value."""
    return abs(estimate.value - true) <= estimate.expanded()
