"""Scores of a method of judging over many simulated runs."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np

from builder.core.quantity import Estimate, FloatArray
from builder.core.results import Verdict
from builder.settling import SettleRule, judge
from builder.uncertainty import effective_dof
from tests.studies.runs import Batch, logged
from tests.studies.scenarios import Scenario

LIMIT_K = 0.5
Simulator = Callable[[Scenario, int, int], Batch]


@dataclass(frozen=True, kw_only=True)
class Case:
    """One cell of a study: how runs are logged and judged; `sensors` of the card are judged together."""

    scenario: Scenario
    resolution_k: float
    interval_s: float = 1.0
    window_s: float | None = None
    sensors: int = 1

    def rule(self) -> SettleRule:
        """Return the rule of the default protocols, with the window of this case."""
        s = self.scenario
        if s.liquid:
            soak = 1200.0 if s.length_s >= 1800 else 900.0
            return SettleRule(tau_s=600, window_s=self.window_s or 600.0, soak_s=soak, loop_s=s.loop_s, study=True)
        return SettleRule(tau_s=150, window_s=self.window_s or 300.0, soak_s=300, loop_s=s.loop_s, study=True)


@dataclass(frozen=True, kw_only=True)
class Outcome:
    """One judged run against its truth; errors are estimate less truth, None where there is no estimate.

    `to_go` is the true distance of the window from rest, `approach` what the method says of it.
    """

    verdict: Verdict
    to_go: float
    approach: Estimate | None
    half_width: float
    rise: Estimate | None
    rise_error: float
    psi: Estimate | None
    psi_error: float


@dataclass(frozen=True, kw_only=True)
class Score:
    """Shares and ratios of one case; NaN where no run bears on it.

    `far` is the share of runs whose window was truly further from rest than the rule allows. Of these, `false_settled`
    is the share that was called settled; of the others, `false_drifting` the share that was called drifting.
    `approach`, `rise`, `psi` and `difference` are the shares of runs (of pairs) whose 95 % interval held the truth,
    whether settled or not. `width` is the mean stated half-width of the rise over the half-width that the errors
    actually show (1.96 times their root mean square).
    """

    runs: int
    to_go: float
    settled: float
    drifting: float
    far: float
    false_settled: float
    false_drifting: float
    approach: float
    rise: float
    psi: float
    difference: float
    width: float


def outcomes(case: Case, simulate: Simulator, *, runs: int, seed: int) -> tuple[Outcome, ...]:
    """Return what the method says of each simulated run."""
    batch = simulate(case.scenario, runs, seed)
    return tuple(_outcome(case, batch, run, seed) for run in range(runs))


def _outcome(case: Case, batch: Batch, run: int, seed: int) -> Outcome:
    signals = logged(
        batch,
        run,
        interval_s=case.interval_s,
        resolution_k=case.resolution_k,
        seed=seed,
        sensors=case.sensors,
        truncating=case.scenario.truncating,
    )
    judgement = judge(signals, case.rule())
    settlement, window = judgement.settlement, judgement.settlement.window
    rise = None if judgement.rise is None else judgement.rise.estimate
    psi = None if judgement.psi is None else judgement.psi.estimate
    # What a sensor that truncates reads low by is the sensor's, as its accuracy is, and no error of the method.
    low = case.resolution_k / 2 if case.scenario.truncating else 0.0
    return Outcome(
        verdict=settlement.verdict,
        to_go=math.nan if window is None else float(batch.remaining(window)[run]),
        approach=settlement.remaining,
        half_width=settlement.half_width or 0.0,
        rise=rise,
        rise_error=math.nan if rise is None else rise.value + low - float(batch.rise[run]),
        psi=psi,
        psi_error=math.nan if psi is None else psi.value + low / batch.watts(run) - float(batch.psi[run]),
    )


def score(found: Sequence[Outcome]) -> Score:
    """Return the shares and ratios of many outcomes."""
    far = [o for o in found if abs(o.to_go) > LIMIT_K]
    near = [o for o in found if abs(o.to_go) <= LIMIT_K]
    errors = np.array([o.rise_error for o in found if o.rise is not None])
    stated = np.array([o.rise.expanded() for o in found if o.rise is not None])
    return Score(
        runs=len(found),
        to_go=_mean([o.to_go for o in found]),
        settled=_share(found, Verdict.SETTLED),
        drifting=_share(found, Verdict.DRIFTING),
        far=len(far) / len(found) if found else math.nan,
        false_settled=_share(far, Verdict.SETTLED),
        false_drifting=_share(near, Verdict.DRIFTING),
        approach=_mean([abs(o.approach.value - o.to_go) <= o.half_width for o in found if o.approach is not None]),
        rise=_mean([abs(o.rise_error) <= o.rise.expanded() for o in found if o.rise is not None]),
        psi=_mean([abs(o.psi_error) <= o.psi.expanded() for o in found if o.psi is not None]),
        difference=_mean(_differences(found)),
        width=float(stated.mean() / (1.96 * math.sqrt(float((errors**2).mean())))) if errors.size else math.nan,
    )


def _differences(found: Sequence[Outcome]) -> list[bool]:
    """Return, for pairs of runs, whether the interval of the difference of their rises holds the true difference."""
    half = len(found) // 2
    hits = []
    for a, b in zip(found[:half], found[half : 2 * half], strict=True):
        if a.rise is not None and b.rise is not None:
            parts, dofs = [a.rise.u, b.rise.u], [a.rise.dof, b.rise.dof]
            apart = Estimate(value=0.0, u=math.hypot(*parts), unit="K", dof=effective_dof(parts, dofs))
            hits.append(abs(a.rise_error - b.rise_error) <= apart.expanded())
    return hits


def _share(found: Sequence[Outcome], verdict: Verdict) -> float:
    return _mean([o.verdict is verdict for o in found])


def _mean(values: Sequence[float] | FloatArray) -> float:
    return float(np.mean(values)) if len(values) else math.nan
