"""Whether the tool recovers the truth behind the demo's logs as often as its intervals claim.

The simulator knows every value without noise. A 95 % interval should hold it in at least 95 of 100 cases; a share below
that is refused only where a fair interval would do so badly in under one of 100 archives (binomial distribution).
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass

import pytest

from builder.core.results import Figure, Verdict
from tests.demo.conftest import Demo

LEVEL = 0.95
KINDS = (
    "core_rise",
    "hotspot_rise",
    "memory_rise",
    "core_psi",
    "hotspot_psi",
    "memory_psi",
    "board_power",
    "frame_rate",
    "ambient_temperature",
)


@dataclass(frozen=True, kw_only=True)
class Case:
    """One figure next to its true value and the constant errors of the sensors behind it."""

    name: str
    figure: Figure
    true: float
    read: float  # what perfect averaging of these sensors would give

    @property
    def held(self) -> bool:
        estimate = self.figure.estimate
        return abs(estimate.value - self.true) <= estimate.expanded(LEVEL)


def run_cases(demo: Demo, kind: str) -> Iterator[Case]:
    for bundle, result in demo.results.items():
        truth = demo.truth[bundle]
        for run in (run for point in result.points for run in point.runs):
            if run.settlement.verdict is Verdict.SETTLED and kind in run.figures:
                true = truth["runs"][run.id]
                read = as_read(kind, true, truth["sensors"])
                yield Case(name=f"{bundle} {run.id}", figure=run.figures[kind], true=true[kind], read=read)


def point_cases(demo: Demo, kind: str) -> Iterator[Case]:
    for bundle, result in demo.results.items():
        truth = demo.truth[bundle]
        for point in result.points:
            if point.verdict is Verdict.SETTLED and kind in point.figures:
                true = truth["points"][point.point]
                read = as_read(kind, true, truth["sensors"])
                yield Case(name=f"{bundle} {point.point}", figure=point.figures[kind], true=true[kind], read=read)


def as_read(kind: str, true: dict[str, float], sensors: dict[str, float]) -> float:
    """The truth with the constant errors of the sensors: offsets in K, power's as a share of the reading."""
    place, _, what = kind.partition("_")
    power = true["board_power"] * (1 + sensors["power"])
    if what in ("rise", "psi"):
        rise = true[f"{place}_rise"] + sensors[place] - sensors["room"]
        return rise if what == "rise" else rise / power
    return {"board_power": power, "ambient_temperature": true["ambient_temperature"] + sensors["room"]}.get(
        kind, true.get(kind, math.nan)
    )


def chance_of_at_most(held: int, cases: int) -> float:
    """The probability that a fair interval holds the truth in so few cases or fewer."""
    from scipy import stats

    return float(stats.binom.cdf(held, cases, LEVEL))


@pytest.mark.parametrize("kind", ["core_over_coolant", "coolant_rise"])
def test_intervals_of_a_loop_hold_the_truth_with_the_accuracy_of_both_sensors(demo: Demo, kind: str) -> None:
    held = [
        abs(figure.estimate.value - demo.truth[bundle]["runs"][run.id][kind]) <= figure.estimate.expanded(LEVEL)
        for bundle, result in demo.results.items()
        for point in result.points
        for run in point.runs
        if run.settlement.verdict is Verdict.SETTLED and (figure := run.figures.get(kind))
    ]
    assert len(held) > 50
    assert chance_of_at_most(sum(held), len(held)) > 0.01


@pytest.mark.parametrize("kind", KINDS)
def test_intervals_of_settled_runs_hold_the_truth_as_often_as_claimed(demo: Demo, kind: str) -> None:
    cases = list(run_cases(demo, kind))
    missed = [f"{c.name}: {c.figure.estimate} is not {c.true}" for c in cases if not c.held]
    assert len(cases) > 80
    assert chance_of_at_most(len(cases) - len(missed), len(cases)) > 0.01, "\n".join(missed)


@pytest.mark.parametrize("kind", KINDS)
def test_intervals_over_mounts_hold_the_truth_of_the_expected_mount(demo: Demo, kind: str) -> None:
    cases = list(point_cases(demo, kind))
    missed = [f"{c.name}: {c.figure.estimate} is not {c.true}" for c in cases if not c.held]
    assert len(cases) > 60
    assert chance_of_at_most(len(cases) - len(missed), len(cases)) > 0.01, "\n".join(missed)


@pytest.mark.parametrize("kind", ["core_rise", "hotspot_rise", "memory_rise", "frame_rate"])
def test_without_the_sensors_accuracy_intervals_still_hold_what_the_sensors_read(demo: Demo, kind: str) -> None:
    # Accuracy is the widest part of an absolute figure and cancels in a difference; what is left must hold by itself.
    cases = list(run_cases(demo, kind))
    held = sum(abs(c.figure.estimate.value - c.read) <= 1.96 * rest(c.figure) for c in cases)
    assert chance_of_at_most(held, len(cases)) > 0.01, f"{held} of {len(cases)}"


def rest(figure: Figure) -> float:
    """The standard uncertainty less the sensors' accuracy."""
    parts = [c.contribution for c in figure.budget if "accuracy" not in c.name]
    return math.hypot(*parts) if parts else figure.estimate.u


@pytest.mark.parametrize("kind", ["core_rise", "board_power", "frame_rate"])
def test_intervals_are_no_wider_than_ten_times_the_usual_error(demo: Demo, kind: str) -> None:
    # A figure could always be right by being vague.
    cases = list(run_cases(demo, kind))
    errors = sorted(abs(c.figure.estimate.value - c.true) for c in cases)
    widths = sorted(c.figure.estimate.expanded(LEVEL) for c in cases)
    assert widths[len(widths) // 2] < 10 * errors[len(errors) // 2]


def test_no_run_is_called_settled_that_is_not(demo: Demo) -> None:
    wrong = [
        f"{bundle} {run.id}"
        for bundle, result in demo.results.items()
        for point in result.points
        for run in point.runs
        if run.settlement.verdict is Verdict.SETTLED and not demo.truth[bundle]["runs"][run.id]["settled"]
    ]
    assert wrong == []


def test_no_run_is_called_drifting_that_is_settled(demo: Demo) -> None:
    called = [
        demo.truth[bundle]["runs"][run.id]["settled"]
        for bundle, result in demo.results.items()
        for point in result.points
        for run in point.runs
        if run.settlement.verdict is Verdict.DRIFTING
    ]
    assert called == [False]


def test_remaining_approach_is_estimated_to_well_within_the_limit(demo: Demo) -> None:
    errors = [
        abs(run.settlement.remaining.value - demo.truth[bundle]["runs"][run.id]["remaining_k"])
        for bundle, result in demo.results.items()
        for point in result.points
        for run in point.runs
        if run.settlement.verdict is Verdict.SETTLED and run.settlement.remaining is not None
    ]
    assert len(errors) > 100
    assert max(errors) < 0.5  # the limit that verdicts rest on
    assert sum(errors) / len(errors) < 0.1


@pytest.mark.parametrize("kind", ["core_rise", "hotspot_rise", "memory_rise", "frame_rate", "core_clock"])
def test_changes_from_stock_hold_the_truth_as_often_as_claimed(demo: Demo, kind: str) -> None:
    held: list[bool] = []
    for bundle, result in demo.results.items():
        true = demo.truth[bundle]["points"]
        for point in (p for p in result.points if p.verdict is Verdict.SETTLED and kind in p.changes):
            gap = point.changes[kind].absolute.value - (true[point.point][kind] - true["stock"][kind])
            held.append(abs(gap) <= point.changes[kind].absolute.expanded(LEVEL))
    assert len(held) > 50
    assert chance_of_at_most(sum(held), len(held)) > 0.01, f"{sum(held)} of {len(held)}"
