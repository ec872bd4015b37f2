"""One result as comparison sees it, with what it shares with others on the bench; and the difference of two."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from builder.archive.catalogue import Setup
from builder.comparison.mount_spreads import Mounted, MountTerm
from builder.core.quantity import Estimate
from builder.core.results import Bound, Component, PointResult, Quantity, Role, counted
from builder.reduction.mounts import declared_spread, run_part
from builder.reduction.pooled_spreads import ArchiveSpreads, scale_of
from builder.uncertainty import combined


@dataclass(frozen=True, kw_only=True, eq=False)
class Case:
    """A bundle's result at one test point, with everything that the bundle names."""

    setup: Setup
    result: PointResult

    @property
    def bundle(self) -> str:
        """Return the id of the bundle."""
        return self.setup.id

    @property
    def watts(self) -> float | None:
        """Return the mean board power in W, or None where it was not logged."""
        return watts_of(self.result)


@dataclass(frozen=True, kw_only=True)
class Term:
    """A part of a result's uncertainty that is its own: standard uncertainty in the figure's unit.

    Terms of two results with the same `pool` rest on one estimate of variance, so their degrees of freedom are one.
    """

    u: float
    dof: float
    pool: str


@dataclass(frozen=True, kw_only=True)
class SharedLine:
    """What an instrument's accuracy contributes, in the figure's unit and signed: offset and gain, both standard.

    `instrument` is whose accuracy it is: lines of two results on one bench with the same one are one error twice, which
    `bench` tells apart from the same instrument of another bench.
    """

    instrument: str
    bench: str = ""
    offset: float = 0.0
    gain: float = 0.0


@dataclass(frozen=True, kw_only=True)
class Member:
    """One result in a comparison, or several tests of one cooler pooled; `terms` is None where the spread is unknown.

    `mounts` is how many values stand behind it.
    """

    bundle: str
    estimate: Estimate
    terms: tuple[Term, ...] | None
    shared: tuple[SharedLine, ...]
    definition: str = ""
    bound: Bound = Bound.NONE
    note: str = ""
    mounts: int = 1


def mounted(case: Case, kind: str, spreads: ArchiveSpreads | None = None) -> Mounted:
    """Return a bundle's values of a figure by mount, with the archive's pool; raises KeyError where it has none."""
    figure = case.result.figures[kind]
    values = mount_values(case.result, kind) or (figure.estimate.value,)
    own = run_part(figure)
    cooler = case.setup.cooler.kind
    scale = scale_of(case.setup, case.result.point, kind, figure.estimate.value, case.watts)
    return Mounted(
        bundle=case.bundle,
        cooler_kind=cooler,
        values=values,
        own_variance=own.u**2 * len(values),
        own_dof=own.dof,
        declared=declared_spread(case.setup.protocol, cooler, kind, case.watts),
        pool=spreads.of(cooler).between_mounts(kind, scale) if spreads else None,
    )


def mount_values(result: PointResult, kind: str) -> tuple[float, ...]:
    """Return the mean value of a figure in each mount, in order, of the runs that count."""
    by_mount: dict[int, list[float]] = {}
    for run in counted(result.runs):
        if kind in run.figures:
            by_mount.setdefault(run.mount, []).append(run.figures[kind].estimate.value)
    return tuple(float(np.mean(by_mount[mount])) for mount in sorted(by_mount))


def watts_of(result: PointResult) -> float | None:
    """Return a point's mean board power in W, or None where it was not logged."""
    power = result.figures.get("board_power")
    return power.estimate.value if power else None


def mount_term(term: MountTerm | None, count: int, scale: float = 1.0) -> tuple[Term, ...] | None:
    """Return the mounting term of a mean over `count` mounts, times an exact scale; None where it is unknown."""
    if term is None:
        return None
    u = abs(scale) * math.sqrt(term.variance / count)
    return (Term(u=u, dof=term.dof, pool=term.pool),)


def shared_lines(case: Case, budget: Sequence[Component], scale: float = 1.0) -> tuple[SharedLine, ...]:
    """Return what each instrument adds to a figure by its budget, times an exact scale, as offset and gain."""
    by_instrument: dict[Quantity | None, list[Component]] = {}
    for line in (c for c in budget if c.of_instrument):
        by_instrument.setdefault(line.sensor, []).append(line)
    return tuple(_shared_line(case, sensor, lines, scale) for sensor, lines in by_instrument.items())


def _shared_line(case: Case, sensor: Quantity | None, lines: Sequence[Component], scale: float) -> SharedLine:
    """Return one instrument's part: a gain error is a share of the mean reading, and the rest of its line is offset.

    The line itself was made for the run's usual reading, from which the mean over the mounts differs a little.
    """
    u = math.hypot(*(line.u for line in lines))
    gain = 0.0
    if any(line.role is Role.GAIN for line in lines):
        gain = min(_gain_u(case, sensor), u)
    factor = lines[0].sensitivity * scale
    name, bench = str(sensor or ""), case.setup.bundle.bench
    return SharedLine(instrument=name, bench=bench, offset=factor * math.sqrt(u**2 - gain**2), gain=factor * gain)


def _gain_u(case: Case, quantity: Quantity | None) -> float:
    sensor = case.setup.bench.sensor(quantity) if quantity else None
    reading = case.result.figures.get(str(quantity))
    if sensor is None or not sensor.accuracy_pct or reading is None:
        return 0.0
    return sensor.accuracy_pct / 100 * abs(reading.estimate.value) / math.sqrt(3)


# --- The difference of two results: what both share cancels, each one's mounts do not


@dataclass(frozen=True, kw_only=True)
class Difference:
    """Result a less result b; a difference of temperatures is in K."""

    a: str
    b: str
    estimate: Estimate

    @property
    def p(self) -> float:
        """Return the two-sided probability of a difference at least this large between equals (Student's t)."""
        return two_sided_p(self.estimate)


def difference(a: Member, b: Member) -> Difference | None:
    """Return a less b; None where the mounting spread of either is unknown.

    On one bench an instrument's offset and gain are the same error twice, so what remains is the difference of the
    signed contributions (JCGM 100:2008, 5.2.2, equation (16) with r = 1). On two benches they are independent. Terms of
    one pool combine with that pool's degrees of freedom; the rest by Welch-Satterthwaite (G.4.1).
    """
    if a.terms is None or b.terms is None:
        return None
    unit = "K" if a.estimate.unit == "degC" else a.estimate.unit
    own = _by_pool((*a.terms, *b.terms))
    shared = _left_of_instruments(a, b)
    parts, dofs = [*(t.u for t in own), *shared], [*(t.dof for t in own), *(math.inf for _ in shared)]
    value = a.estimate.value - b.estimate.value
    return Difference(a=a.bundle, b=b.bundle, estimate=combined(value, unit, parts, dofs))


def _by_pool(terms: Sequence[Term]) -> list[Term]:
    """Return one term a pool; their order must not matter to the last digit, hence hypot over a sorted list."""
    pools: dict[str, list[Term]] = {}
    for term in terms:
        pools.setdefault(term.pool, []).append(term)
    return [
        Term(u=math.hypot(*sorted(t.u for t in mine)), dof=min(t.dof for t in mine), pool=pool)
        for pool, mine in sorted(pools.items())
    ]


def _left_of_instruments(a: Member, b: Member) -> list[float]:
    """Return what each instrument leaves in the difference, which is nothing of an equal error on one bench."""
    lines_a, lines_b = ({(line.instrument, line.bench): line for line in m.shared} for m in (a, b))
    left = []
    for instrument, bench in sorted({*lines_a, *lines_b}):
        none = SharedLine(instrument=instrument, bench=bench)
        one, two = (lines.get((instrument, bench), none) for lines in (lines_a, lines_b))
        left.append(math.hypot(one.offset - two.offset, one.gain - two.gain))
    return [u for u in left if u > 0]


def pooled(tests: Sequence[Member]) -> Member:
    """Return several tests of one cooler on one card sample as one member, weighted by their mounts.

    The newest test, the last of `tests`, gives the bundle. What the tests' mounts add is independent; what one
    instrument adds to all of them is one error and keeps its size. Raises ValueError when empty.
    """
    if not tests:
        raise ValueError("no tests to pool")
    if len(tests) == 1:
        return tests[0]
    total = sum(test.mounts for test in tests)
    weights = [test.mounts / total for test in tests]
    known = [test.terms for test in tests if test.terms is not None]
    terms = tuple(
        replace(term, u=weight * term.u)
        for weight, test in zip(weights, tests, strict=True)
        for term in test.terms or ()
    )
    shared = _pooled_lines(tests, weights)
    value = math.fsum(weight * test.estimate.value for weight, test in zip(weights, tests, strict=True))
    newest = tests[-1]
    return replace(
        newest,
        estimate=absolute(value, newest.estimate.unit, terms, shared),
        terms=terms if len(known) == len(tests) else None,
        shared=shared,
        bound=next((test.bound for test in tests if test.bound is not Bound.NONE), Bound.NONE),
        mounts=total,
    )


def _pooled_lines(tests: Sequence[Member], weights: Sequence[float]) -> tuple[SharedLine, ...]:
    found: dict[tuple[str, str], SharedLine] = {}
    for weight, test in zip(weights, tests, strict=True):
        for line in test.shared:
            old = found.get((line.instrument, line.bench), replace(line, offset=0.0, gain=0.0))
            offset, gain = old.offset + weight * line.offset, old.gain + weight * line.gain
            found[line.instrument, line.bench] = replace(old, offset=offset, gain=gain)
    return tuple(found.values())


def absolute(value: float, unit: str, terms: Sequence[Term], shared: Sequence[SharedLine]) -> Estimate:
    """Return a value with its own terms and the whole accuracy of the instruments behind it."""
    parts = [*(t.u for t in terms), *(math.hypot(s.offset, s.gain) for s in shared)]
    return combined(value, unit, parts, [*(t.dof for t in terms), *(math.inf for _ in shared)])


def two_sided_p(estimate: Estimate) -> float:
    """Return the probability of a value at least this far from zero if it were zero: 2 t(-|value|/u; dof).

    An exact value is zero (1) or is not (0).
    """
    from scipy import special

    if estimate.u == 0:
        return 1.0 if estimate.value == 0 else 0.0
    t = -abs(estimate.value) / estimate.u
    return float(2 * (special.ndtr(t) if math.isinf(estimate.dof) else special.stdtr(estimate.dof, t)))
