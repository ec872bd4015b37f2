"""Whether the bench stayed put: repeats of a reference cooler as a chart of individual values."""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from builder.archive.protocol import PointRole
from builder.comparison.reasons import run_reasons
from builder.comparison.tested import Group, Tested, groups
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
    bundles = sorted(_repeats(tested, group, cooler, kind), key=lambda b: (tested.setup(b).bundle.tested, b))
    if len(bundles) < 2:  # noqa: PLR2004 - nothing was repeated
        return None
    estimates = [_estimate(tested, group, bundle, kind) for bundle in bundles]
    chart = individuals_chart([e.value for e in estimates])
    retests = tuple(
        Retest(
            bundle=bundle,
            bench=tested.setup(bundle).bundle.bench,
            tested=tested.setup(bundle).bundle.tested,
            estimate=estimate,
            signal=index in chart.signals,
        )
        for index, (bundle, estimate) in enumerate(zip(bundles, estimates, strict=True))
    )
    return Stability(
        cooler=cooler,
        group=group,
        kind=kind,
        retests=retests,
        chart=chart,
        provisional=len(bundles) < FEW,
        said=_said(retests),
    )


def _repeats(tested: Tested, group: Group, cooler: str, kind: str) -> list[str]:
    found = []
    for name in tested.results:
        bundle = tested.setup(name).bundle
        point = group.point_of(bundle)
        result = tested.point(name, point) if point else None
        usable = result is not None and kind in result.figures and not run_reasons(tested, name, point or "")
        if bundle.cooler == cooler and group.on_card(bundle) and usable:
            found.append(name)
    return found


def _estimate(tested: Tested, group: Group, bundle: str, kind: str) -> Estimate:
    result = tested.point(bundle, group.point_of(tested.setup(bundle).bundle) or "")
    if result is None:  # cannot be: the bundle was found by this point
        raise KeyError(bundle)
    return result.figures[kind].estimate


def _said(retests: Sequence[Retest]) -> str:
    days = [r.tested.isoformat() for r in retests if r.signal]
    if not days:
        return f"All {len(retests)} tests of the reference cooler lie inside the limits."
    verb = "lies" if len(days) == 1 else "lie"
    return f"The test of {', '.join(days)} {verb} outside the limits: something on the bench changed."
