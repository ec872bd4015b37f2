"""How much a figure changes from mount to mount: measured by remounting, declared by the protocol, or unknown."""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from builder.archive.catalogue import CoolerKind
from builder.reduction.mounts import DECLARED_DOF
from builder.reduction.pooled_spreads import Pool

UNEQUAL_P = 0.05  # below this the coolers of a kind are held to spread differently


@dataclass(frozen=True, kw_only=True)
class Mounted:
    """One bundle's values of a figure, one a mount, with what is known of their scatter.

    `own_variance` is that of one mount's value by its run alone, with its degrees of freedom; `declared` is the
    protocol's standard deviation from mount to mount in the figure's unit, None where it declares none; `pool` is what
    the whole archive shows of coolers of the kind, in the figure's unit, None where it shows nothing.
    """

    bundle: str
    cooler_kind: CoolerKind
    values: tuple[float, ...]
    own_variance: float
    own_dof: float
    declared: float | None
    pool: Pool | None = None


@dataclass(frozen=True, kw_only=True)
class MountTerm:
    """Variance of a figure of one mount, its degrees of freedom, and the pool that it was estimated from.

    Two bundles with the same `pool` share the estimate, so their degrees of freedom do not add.
    """

    variance: float
    dof: float
    pool: str


@dataclass(frozen=True, kw_only=True)
class Spreads:
    """The mount term of every bundle (None where the spread is unknown), with what was done in words."""

    terms: Mapping[str, MountTerm | None]
    notes: tuple[str, ...]


def mount_spreads(mounted: Sequence[Mounted]) -> Spreads:
    """Return each bundle's variance from mount to mount, never below what its runs alone imply.

    Variance is that of the archive's pool, or without one it is pooled over these coolers of one kind with sum(n_i - 1)
    degrees of freedom; the declared one counts as ten. Where Bartlett's test rejects equal spreads within a kind, each cooler keeps its own.
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
        pool = f"own {mounted.bundle}" if alone else f"kind {kind}"
        term = _pooled([mounted] if alone else mine, pool, mounted, archive=None if alone else mounted.pool)
        if term is not None and term.variance < mounted.own_variance:
            own, dof, pool = mounted.own_variance, mounted.own_dof, f"run {mounted.bundle}"
            term = MountTerm(variance=own, dof=dof, pool=pool)
        yield mounted.bundle, term


def _notes(kind: CoolerKind, mine: Sequence[Mounted]) -> Iterator[str]:
    if not mine:
        return
    if spreads_differ(mine):
        yield f"Kind {kind}: mounting spreads differ between coolers, so each cooler's own is used."
    if any(_pooled(mine, "", mounted, archive=mounted.pool) is None for mounted in mine):
        yield f"Kind {kind}: mounting spread unknown: differences are not judged."


def _pooled(mine: Sequence[Mounted], pool: str, one: Mounted, *, archive: Pool | None) -> MountTerm | None:
    """Return the term of one bundle, from the archive's pool or else from all bundles of its own.

    A bundle with one mount says nothing of spread, so that adding one to an archive changes no other bundle's term.
    """
    dof = archive.dof if archive else float(sum(len(m.values) - 1 for m in mine))
    squares = archive.variance * dof if archive else math.fsum(_squares(m) for m in mine)
    declared = max((m.declared for m in mine if m.declared is not None), default=None)
    if declared is None:
        return MountTerm(variance=squares / dof, dof=dof, pool=pool) if dof else None
    variance = (DECLARED_DOF * (declared**2 + one.own_variance) + squares) / (DECLARED_DOF + dof)
    return MountTerm(variance=variance, dof=DECLARED_DOF + dof, pool=pool)


def _squares(mounted: Mounted) -> float:
    values = np.asarray(mounted.values)
    return float(((values - values.mean()) ** 2).sum())


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
