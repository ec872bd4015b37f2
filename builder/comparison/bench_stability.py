"""Whether the bench stayed put: repeats of a reference cooler as a chart of individual values."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterator, Sequence
from dataclasses import dataclass

import numpy as np

from builder.archive.protocol import PointRole
from builder.comparison.members import Case
from builder.comparison.reasons import bundle_reasons
from builder.comparison.tested import Group, Tested, groups, settled
from builder.core.quantity import Estimate

_D2 = 1.128  # mean range of two normal values in standard deviations
FEW = 8  # tests; limits from fewer are shown as provisional. Common practice, no source


@dataclass(frozen=True, kw_only=True)
class IndividualsChart:
    """Centre line and limits of single values in order, in their unit; `signals` are the indices outside the limits."""

    mean: float
    moving_range: float
    lower: float
    upper: float
    signals: tuple[int, ...]


@dataclass(frozen=True, kw_only=True)
class Retest:
    """One test of the reference cooler; `signal` says that it lies outside the limits."""

    bundle: str
    bench: str
    tested: dt.date
    estimate: Estimate
    signal: bool


@dataclass(frozen=True, kw_only=True)
class Stability:
    """The repeats of a reference cooler on one card sample at one test point, oldest first.

    `said` is one sentence; `provisional` where the limits rest on few tests.
    """

    cooler: str
    group: Group
    kind: str
    retests: tuple[Retest, ...]
    chart: IndividualsChart
    provisional: bool
    said: str


def individuals_chart(values: Sequence[float]) -> IndividualsChart:
    """Return the chart of individual values, at least two, in the order of time: mean ± 3 mean moving range / 1.128.

    Raises ValueError with fewer than two. Source: NIST/SEMATECH e-Handbook of Statistical Methods, 6.3.2.2.
    """
    if len(values) < 2:  # noqa: PLR2004 - no moving range
        raise ValueError("a chart of individual values needs at least two")
    mean = float(np.mean(values))
    moving_range = float(np.mean(np.abs(np.diff(values))))
    reach = 3 * moving_range / _D2
    signals = tuple(i for i, value in enumerate(values) if abs(value - mean) > reach)
    return IndividualsChart(
        mean=mean, moving_range=moving_range, lower=mean - reach, upper=mean + reach, signals=signals
    )


def bench_stability(tested: Tested, kind: str = "core_rise") -> tuple[Stability, ...]:
    """Return a chart for every reference cooler that was tested at least twice on a card sample at stock.

    Results that did not settle, or with the room outside the band, do not count. Order: group, then cooler.
    """
    stock = [g for g in groups(tested) if g.role is PointRole.STOCK]
    coolers = sorted(c for c, cooler in tested.catalogue.coolers.items() if cooler.reference)
    found = (_stability(tested, group, cooler, kind) for group in stock for cooler in coolers)
    return tuple(s for s in found if s)


def _stability(tested: Tested, group: Group, cooler: str, kind: str) -> Stability | None:
    repeats = sorted(_repeats(tested, group, cooler), key=lambda case: (case.setup.bundle.tested, case.bundle))
    usable = [case for case in repeats if kind in case.result.figures]
    if len(usable) < 2:  # noqa: PLR2004 - nothing was repeated
        return None
    chart = individuals_chart([case.result.figures[kind].estimate.value for case in usable])
    retests = tuple(
        Retest(
            bundle=case.bundle,
            bench=case.setup.bundle.bench,
            tested=case.setup.bundle.tested,
            estimate=case.result.figures[kind].estimate,
            signal=index in chart.signals,
        )
        for index, case in enumerate(usable)
    )
    return Stability(
        cooler=cooler,
        group=group,
        kind=kind,
        retests=retests,
        chart=chart,
        provisional=len(retests) < FEW,
        said=_said(retests),
    )


def _repeats(tested: Tested, group: Group, cooler: str) -> Iterator[Case]:
    for setup in map(tested.setup, tested.results):
        if setup.bundle.cooler == cooler and not bundle_reasons(tested, group, setup.id):
            result = tested.point(setup.id, group.point_of(setup.bundle) or "")
            if result and settled(result):  # limits are drawn from the values alone, however wide these are
                yield Case(setup=setup, result=result)


def _said(retests: Sequence[Retest]) -> str:
    days = [r.tested.isoformat() for r in retests if r.signal]
    if not days:
        return f"All {len(retests)} tests of the reference cooler lie inside the limits."
    verb = "lies" if len(days) == 1 else "lie"
    return f"The test of {', '.join(days)} {verb} outside the limits: something on the bench changed."
