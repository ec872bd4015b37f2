"""One result as comparison sees it: its value, what is its own, and what it shares with others on the bench."""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from builder.archive.bench import Bench
from builder.archive.catalogue import CoolerKind
from builder.comparison.tested import Tested
from builder.core.quantity import Estimate
from builder.core.results import Bound, Component, PointResult, Quantity, Role, Verdict
from builder.reduction.mounts import DECLARED_DOF, declared_spread, run_part

# --- How much a figure changes from mount to mount, pooled over coolers of one kind


UNEQUAL_P = 0.05  # below this the coolers of a kind are held to spread differently


@dataclass(frozen=True, kw_only=True)
class Mounted:
    """One bundle's values of a figure, one a mount, with what is known of their scatter.

    `own_variance` is that of one mount's value by its run alone, with its degrees of freedom; `declared` is the
    protocol's standard deviation from mount to mount in the figure's unit, None where it declares none.
    """

    bundle: str
    cooler_kind: CoolerKind
    values: tuple[float, ...]
    own_variance: float
    own_dof: float
    declared: float | None


@dataclass(frozen=True, kw_only=True)
class MountTerm:
    """Variance of a figure of one mount, its degrees of freedom, and the pool that it was estimated from.

    Two bundles with the same `pool` share the estimate, so their degrees of freedom do not add.
    """

    variance: float
    dof: float
    pool: str
    words: str


@dataclass(frozen=True, kw_only=True)
class Spreads:
    """The mount term of every bundle (None where the spread is unknown), with what was done in words."""

    terms: Mapping[str, MountTerm | None]
    notes: tuple[str, ...]


def mount_spreads(mounted: Sequence[Mounted]) -> Spreads:
    """Return each bundle's variance from mount to mount, never below what its runs alone imply.

    Variance is pooled over the coolers of one kind with sum(n_i - 1) degrees of freedom, and with the declared one
    counting as ten. Where Bartlett's test rejects equal spreads within a kind, each cooler keeps its own.
    """
    terms: dict[str, MountTerm | None] = {}
    notes: list[str] = []
    for kind in CoolerKind:
        mine = sorted((m for m in mounted if m.cooler_kind is kind), key=lambda m: m.bundle)
        terms.update(_terms_of_kind(kind, mine))
        notes.extend(_notes(kind, mine))
    return Spreads(terms=terms, notes=tuple(notes))


def _terms_of_kind(kind: CoolerKind, mine: Sequence[Mounted]) -> Iterator[tuple[str, MountTerm | None]]:
    unequal = spreads_differ(mine)
    for mounted in mine:
        alone = unequal and len(mounted.values) > 1
        term = _pooled([mounted], f"own {mounted.bundle}") if alone else _pooled(mine, f"kind {kind}")
        yield mounted.bundle, _at_least_own(term, mounted)


def _pooled(mine: Sequence[Mounted], pool: str) -> MountTerm | None:
    dof = float(sum(len(m.values) - 1 for m in mine))
    squares = math.fsum(_squares(m) for m in mine)
    declared = max((m.declared for m in mine if m.declared is not None), default=None)
    if declared is None:
        return MountTerm(variance=squares / dof, dof=dof, pool=pool, words="mounting spread, measured") if dof else None
    own = float(np.mean([m.own_variance for m in mine]))
    variance = (DECLARED_DOF * (declared**2 + own) + squares) / (DECLARED_DOF + dof)
    words = "mounting spread, measured and declared" if dof else "mounting spread, declared by the protocol"
    return MountTerm(variance=variance, dof=DECLARED_DOF + dof, pool=pool, words=words)


def _squares(mounted: Mounted) -> float:
    values = np.asarray(mounted.values)
    return float(((values - values.mean()) ** 2).sum())


def _at_least_own(term: MountTerm | None, mounted: Mounted) -> MountTerm | None:
    if term is None or term.variance >= mounted.own_variance:
        return term
    pool = f"run {mounted.bundle}"
    return MountTerm(variance=mounted.own_variance, dof=mounted.own_dof, pool=pool, words="within a run")


def spreads_differ(mine: Sequence[Mounted]) -> bool:
    """Return whether Bartlett's test rejects equal variances among the bundles with several mounts.

    No variance is taken below that of the runs alone, so two mounts that agree by luck prove nothing.
    """
    several = [m for m in mine if len(m.values) > 1]
    dofs = [len(m.values) - 1.0 for m in several]
    variances = [max(_squares(m) / dof, m.own_variance) for m, dof in zip(several, dofs, strict=True)]
    return bartlett_p(variances, dofs) < UNEQUAL_P


def bartlett_p(variances: Sequence[float], dofs: Sequence[float]) -> float:
    """Return the probability of variances at least this unequal if all were equal; 1 with fewer than two above zero.

    Source: NIST/SEMATECH e-Handbook of Statistical Methods, 1.3.5.7, Bartlett's test.
    """
    from scipy import special

    pairs = [(v, d) for v, d in zip(variances, dofs, strict=True) if v > 0]
    if len(pairs) < 2:  # noqa: PLR2004 - nothing to compare
        return 1.0
    total = sum(d for _, d in pairs)
    pooled = sum(v * d for v, d in pairs) / total
    statistic = total * math.log(pooled) - sum(d * math.log(v) for v, d in pairs)
    correction = 1 + (sum(1 / d for _, d in pairs) - 1 / total) / (3 * (len(pairs) - 1))
    return float(special.chdtrc(len(pairs) - 1, max(statistic / correction, 0.0)))


def _notes(kind: CoolerKind, mine: Sequence[Mounted]) -> Iterator[str]:
    if not mine:
        return
    if spreads_differ(mine):
        yield f"Kind {kind}: mounting spreads differ between coolers, so each cooler's own is used."
    if _pooled(mine, "") is None:
        yield f"Kind {kind}: mounting spread unknown: differences are not judged."


@dataclass(frozen=True, kw_only=True)
class Term:
    """A part of a result's uncertainty that is its own: standard uncertainty in the figure's unit.

    Terms of two results with the same `pool` rest on one estimate of variance, so their degrees of freedom are one.
    """

    name: str
    u: float
    dof: float
    pool: str


@dataclass(frozen=True, kw_only=True)
class SharedLine:
    """What an instrument's accuracy contributes, in the figure's unit and signed: offset and gain, both standard.

    `instrument` is whose accuracy it is: lines of two results on one bench with the same one are one error twice.
    """

    instrument: str
    offset: float = 0.0
    gain: float = 0.0


@dataclass(frozen=True, kw_only=True)
class Member:
    """One result in a comparison; `terms` is None where the mounting spread is unknown."""

    bundle: str
    bench: str
    estimate: Estimate
    terms: tuple[Term, ...] | None
    shared: tuple[SharedLine, ...]
    definition: str = ""
    bound: Bound = Bound.NONE
    note: str = ""


@dataclass(frozen=True, kw_only=True, eq=False)
class Case:
    """A bundle's result at one test point, inside its archive."""

    tested: Tested
    bundle: str
    result: PointResult

    @property
    def bench(self) -> Bench:
        """Return the bench of the test."""
        return self.tested.catalogue.benches[self.tested.setup(self.bundle).bundle.bench]

    @property
    def watts(self) -> float | None:
        """Return the mean board power in W, or None where it was not logged."""
        return watts_of(self.result)


def mounted(case: Case, kind: str) -> Mounted:
    """Return a bundle's values of a figure by mount; raises KeyError where it has none."""
    figure = case.result.figures[kind]
    values = mount_values(case.result, kind) or (figure.estimate.value,)
    own = run_part(figure)
    cooler = case.tested.setup(case.bundle).cooler.kind
    return Mounted(
        bundle=case.bundle,
        cooler_kind=cooler,
        values=values,
        own_variance=own.u**2 * len(values),
        own_dof=own.dof,
        declared=declared_spread(case.tested.setup(case.bundle).protocol, cooler, kind, case.watts),
    )


def mount_values(result: PointResult, kind: str) -> tuple[float, ...]:
    """Return the mean value of a figure in each mount, in order; of settled runs only, where there are any."""
    used = [r for r in result.runs if r.settlement.verdict is Verdict.SETTLED] or list(result.runs)
    by_mount: dict[int, list[float]] = {}
    for run in used:
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
    return (Term(name=term.words, u=u, dof=term.dof, pool=term.pool),)


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
    return SharedLine(instrument=str(sensor or ""), offset=factor * math.sqrt(u**2 - gain**2), gain=factor * gain)


def _gain_u(case: Case, quantity: Quantity | None) -> float:
    sensor = case.bench.sensor(quantity) if quantity else None
    reading = case.result.figures.get(str(quantity))
    if sensor is None or not sensor.accuracy_pct or reading is None:
        return 0.0
    return sensor.accuracy_pct / 100 * abs(reading.estimate.value) / math.sqrt(3)
