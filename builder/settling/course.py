"""The course of a temperature under load: heat through die, base and fins, a hidden slow part, and the fan.

A stage of the heat path is described by

    T(t) = A(t) + L + sum_i R_i (LP_i[P/P0 - 1]) - a_2 e^(-t/τ_2) - a_3 e^(-t/τ_3) - a_4 e^(-t/τ_4) + R_3 N(t)

with i over die, base and fins; LP_i is a first-order low-pass with time constant τ_i, A the ambient (or the coolant) as
base and fins feel it, L the rise at rest, and N what the fins' conductance adds: it goes as (n/n0)^γ x^p, where n is
the fan's speed and x the fins' own rise relative to rest. At rest the same path carries all of the power, so the R_i
add up to L. Several sensors share the time constants, γ, p and the hidden part, and have their own L, R_i and a_i.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from builder.core.quantity import FloatArray
from builder.settling.grid import low_pass

SHARED = 7  # ln τ of die, base and fins; γ; p; the hidden part in K; a step of heat flow in K
LN_DIE, LN_BASE, LN_FINS, FAN, CONVECTION, HIDDEN, STEP = range(SHARED)
OWN = 6  # of each sensor, in K: level at rest, R of die, base and fins, start of base and fins
LEVEL, R_DIE, R_BASE, R_FINS, START_BASE, START_FINS = range(OWN)

NUDGE = 0.02  # of ln τ, for slopes by differences
COLDEST_FINS, HOTTEST_FINS = 0.02, 5.0  # relative to rest, for the power law
LEAST_FINS_K = 0.5
PICARD_ROUNDS, PICARD_ROUNDS_FAN = 2, 6  # a fan that spins up changes the conductance by much

# Beliefs, from the physics of coolers and common practice, not from a simulator.
DIE_TAU_S, BASE_TAU_S, FINS_SHARE = 5.0, 22.0, 0.65  # fins: of the declared time constant
TAU_LOG_SD = (0.5, 0.5, 0.45)
FAN_EXPONENT, FAN_EXPONENT_SD = 0.8, 0.25  # conductance of fins goes about as n^0.8: common practice, no source
CONVECTION_EXPONENT, CONVECTION_SD = 0.06, 0.06  # nearly none where a fan blows, 1/4 to 1/3 where none does
HIDDEN_SD_K = 1.4
STEP_SD_K = 3.0
LEVEL_SD_K = 1e3
TIE = 0.10  # of the rise, between the sum of R and the level
PINNED = 1e-6


@dataclass(frozen=True, kw_only=True, eq=False)
class Drive:
    """What moves a stage, by bin, shape (bins,): seconds since the load began, power and fan relative to their means.

    `power` is P/P0 - 1, `fan` is ln(n/n0), `base` the temperature below the stage in K; `waves`, shape (k, bins), are
    sines and cosines of the workload's loop.
    """

    time_s: FloatArray
    step_s: float
    power: FloatArray
    fan: FloatArray
    base: FloatArray
    waves: FloatArray


@dataclass(frozen=True, kw_only=True, eq=False)
class Course:
    """Courses of all sensors, shape (sensors, bins), in K, with their slopes by the parameters.

    `shared` has shape (sensors, 7, bins), `own` (sensors, 6 + waves, bins). `remaining` is what each sensor still
    has to go at each moment, with its own slopes.
    """

    level: FloatArray
    shared: FloatArray
    own: FloatArray
    remaining: FloatArray
    remaining_shared: FloatArray
    remaining_own: FloatArray


@dataclass(frozen=True, kw_only=True, eq=False)
class Prior:
    """Normal beliefs about the parameters, shape (k,), and how far each sensor's R may miss its level, in K."""

    mean: FloatArray
    sd: FloatArray
    tie_k: FloatArray
    own: int

    def places(self, sensor: int) -> NDArray[np.intp]:
        """Return where a sensor's parameters stand among all: the shared ones, then its own."""
        first = SHARED + sensor * self.own
        return np.concatenate([np.arange(SHARED), np.arange(first, first + self.own)])

    def value(self, theta: FloatArray) -> float:
        """Return the log density of parameters, up to a constant."""
        off = (theta - self.mean) / self.sd
        return -0.5 * float(off @ off) - 0.5 * float(((self._ties() @ theta / self.tie_k) ** 2).sum())

    def slope(self, theta: FloatArray) -> FloatArray:
        """Return the gradient of the log density, shape (k,)."""
        ties = self._ties()
        return (self.mean - theta) / self.sd**2 - ties.T @ (ties @ theta / self.tie_k**2)

    def precision(self) -> FloatArray:
        """Return the negative second derivative of the log density, shape (k, k)."""
        ties = self._ties() / self.tie_k[:, None]
        return np.diag(1 / self.sd**2) + ties.T @ ties

    def _ties(self) -> FloatArray:
        rows = np.zeros((self.tie_k.size, self.mean.size))
        for sensor, row in enumerate(rows):
            first = SHARED + sensor * self.own
            row[first + LEVEL] = 1.0
            row[first + R_DIE : first + R_FINS + 1] = -1.0
        return rows

    def with_step(self, *, allowed: bool) -> Prior:
        """Return the same beliefs with a step of heat flow allowed, or none."""
        sd = self.sd.copy()
        sd[STEP] = STEP_SD_K if allowed else PINNED
        return replace(self, sd=sd)


@dataclass(frozen=True, kw_only=True)
class Beliefs:
    """What differs between stages: usual time constants in s, the hidden part's spread in K, whether a fan is known."""

    taus_s: tuple[float, float, float]
    hidden_sd_k: float = HIDDEN_SD_K
    fan: bool = False


def make_prior(beliefs: Beliefs, rises: FloatArray, ranges: FloatArray, waves: int) -> Prior:
    """Return the beliefs about a stage whose sensors show these rises and ranges, shape (sensors,), in K."""
    shared = [*np.log(beliefs.taus_s), FAN_EXPONENT, CONVECTION_EXPONENT, 0.3 * beliefs.hidden_sd_k, 0.0]
    shared_sd = [*TAU_LOG_SD, FAN_EXPONENT_SD if beliefs.fan else PINNED, CONVECTION_SD, beliefs.hidden_sd_k, PINNED]
    mean, sd = [np.array(shared)], [np.array(shared_sd)]
    for rise, reach in zip(rises, ranges, strict=True):
        size, sign = max(abs(rise), 1.0), 1.0 if rise >= 0 else -1.0
        start = max(size / 2, reach / 1.5)
        mean.append(sign * size * np.array([1.0, 1 / 3, 1 / 4, 1 / 2.5, 1 / 4, 1 / 2.5, *([0.0] * waves)]))
        sd.append(np.array([LEVEL_SD_K, size / 3, size / 3, size / 3, start, start, *([3.0] * waves)]))
    ties = TIE * np.maximum(np.abs(rises), 1.0)
    return Prior(mean=np.concatenate(mean), sd=np.concatenate(sd), tie_k=ties, own=OWN + waves)


class Stage:
    """Courses of a stage's sensors under a drive, for any parameters and time constant of the hidden part."""

    def __init__(self, drive: Drive, sensors: int, *, step_at_s: float | None = None) -> None:
        self.drive = drive
        self.sensors = sensors
        self.step_at_s = step_at_s

    def stepping_at(self, time_s: float | None) -> Stage:
        """Return the same stage with a step of heat flow at a time, or without one."""
        return Stage(self.drive, self.sensors, step_at_s=time_s)

    def felt(self, ln_base: float, ln_fins: float) -> FloatArray:
        """Return the base temperature as base and fins feel it."""
        return self._low_pass(self._low_pass(self.drive.base, ln_base, at_rest=True), ln_fins, at_rest=True)

    def dip(self, ln_fins: float) -> FloatArray:
        """Return the unit answer of the fins to a step of heat flow, zeros without a step."""
        if self.step_at_s is None:
            return np.zeros(self.drive.time_s.size)
        return -np.expm1(-np.maximum(self.drive.time_s - self.step_at_s, 0.0) / math.exp(ln_fins))

    def course(self, theta: FloatArray, slow_tau_s: float) -> Course:
        """Return the courses at parameters of shape (7 + sensors * (6 + waves),), with slopes."""
        own = theta[SHARED:].reshape(self.sensors, -1)
        parts = self._parts(theta, own, slow_tau_s)
        driven = own[:, R_DIE : R_FINS + 1] @ parts.answers
        starting = np.column_stack([own[:, START_BASE : START_FINS + 1], np.full(self.sensors, theta[HIDDEN])])
        remaining = starting @ parts.fades - own[:, [R_FINS]] * parts.fins.added + theta[STEP] * (1 - parts.dip)
        at_rest = parts.felt + own[:, [LEVEL]] + driven + theta[STEP] + own[:, OWN:] @ self.drive.waves
        rest_shared, rest_own = self._remaining_slopes(theta, own, parts)
        shared = -rest_shared
        shared[:, STEP] += 1.0
        shared[:, LN_DIE : LN_FINS + 1] += own[:, R_DIE : R_FINS + 1, None] * parts.answers_by_tau
        shared[:, LN_FINS] += parts.felt_by_tau
        zero = np.zeros(self.drive.time_s.size)
        plain = np.stack([zero + 1.0, *parts.answers, zero, zero, *self.drive.waves])
        return Course(
            level=at_rest - remaining,
            shared=shared,
            own=plain - rest_own,
            remaining=remaining,
            remaining_shared=rest_shared,
            remaining_own=rest_own,
        )

    def _parts(self, theta: FloatArray, own: FloatArray, slow_tau_s: float) -> _Parts:
        power, taus = self.drive.power, theta[LN_DIE : LN_FINS + 1]
        answers = np.stack([self._low_pass(power, tau) for tau in taus])
        nudged = np.stack([self._low_pass(power, tau + NUDGE) for tau in taus])
        faded = np.array([*np.exp(taus[1:]), slow_tau_s])
        fades = np.exp(-self.drive.time_s / faded[:, None])
        felt = self.felt(theta[LN_BASE], theta[LN_FINS])
        return _Parts(
            answers=answers,
            answers_by_tau=(nudged - answers) / NUDGE,
            fades=fades,
            felt=felt,
            felt_by_tau=(self.felt(theta[LN_BASE], theta[LN_FINS] + NUDGE) - felt) / NUDGE,
            dip=self.dip(theta[LN_FINS]),
            fins=_Fins.of(self, theta, own, answers[2], fades[1]),
        )

    def _remaining_slopes(self, theta: FloatArray, own: FloatArray, parts: _Parts) -> tuple[FloatArray, FloatArray]:
        """Return the slopes of the remaining approach by shared and by own parameters."""
        time, fins = self.drive.time_s, parts.fins
        shared = np.zeros((self.sensors, SHARED, time.size))
        shared[:, LN_BASE] = own[:, [START_BASE]] * parts.fades[0] * time / math.exp(theta[LN_BASE])
        shared[:, LN_FINS] = own[:, [START_FINS]] * parts.fades[1] * time / math.exp(theta[LN_FINS])
        shared[:, LN_FINS] -= own[:, [R_FINS]] * fins.by_tau
        shared[:, FAN] = -own[:, [R_FINS]] * fins.by_fan
        shared[:, CONVECTION] = -own[:, [R_FINS]] * fins.by_power_law
        shared[:, HIDDEN] = parts.fades[2]
        shared[:, STEP] = 1 - parts.dip
        each = np.zeros((self.sensors, own.shape[1], time.size))
        each[:, R_FINS] = fins.start * fins.by_start - fins.added
        each[:, START_BASE] = parts.fades[0]
        each[:, START_FINS] = parts.fades[1] - fins.by_start
        return shared, each

    def _low_pass(self, values: FloatArray, ln_tau: float, *, at_rest: bool = False) -> FloatArray:
        start = float(values[..., 0]) if at_rest else 0.0
        return low_pass(values, step_s=self.drive.step_s, tau_s=math.exp(ln_tau), start=start)


@dataclass(frozen=True, kw_only=True, eq=False)
class _Parts:
    """What a course is put together from, by bin: answers to power (3, bins), fading starts (3, bins), and the base."""

    answers: FloatArray
    answers_by_tau: FloatArray
    fades: FloatArray
    felt: FloatArray
    felt_by_tau: FloatArray
    dip: FloatArray
    fins: _Fins


@dataclass(frozen=True, kw_only=True, eq=False)
class _Fins:
    """What the fins' changing conductance adds to their relative rise, with slopes, shape (sensors, bins).

    The fins obey τ dx/dt = u - x g with u the relative power and g = (n/n0)^γ x^p. About the course x0 for g = 1 the
    difference is LP[-x (g - 1)], put in twice (Picard); both g - 1 and the difference vanish at rest.
    """

    start: FloatArray  # a_3 / R_3, shape (sensors, 1)
    added: FloatArray
    by_fan: FloatArray
    by_power_law: FloatArray
    by_start: FloatArray
    by_tau: FloatArray

    @classmethod
    def of(cls, stage: Stage, theta: FloatArray, own: FloatArray, answer: FloatArray, fade: FloatArray) -> _Fins:
        fins_k = own[:, R_FINS]
        size = np.where(np.abs(fins_k) < LEAST_FINS_K, np.copysign(LEAST_FINS_K, fins_k), fins_k)
        start = (own[:, START_FINS] / size)[:, None]
        drive, gamma, power_law = stage.drive, theta[FAN], theta[CONVECTION]
        base = 1 + answer - start * fade
        rounds = PICARD_ROUNDS_FAN if drive.fan.any() else PICARD_ROUNDS

        def settle(plain: FloatArray, ln_tau: float) -> tuple[FloatArray, FloatArray, FloatArray]:
            added = np.zeros(plain.shape)
            for _ in range(rounds):
                x = np.clip(plain + added, COLDEST_FINS, HOTTEST_FINS)
                g = np.exp(gamma * drive.fan + power_law * np.log(x))
                added = _filtered(stage, -x * (g - 1), ln_tau)
            return added, x, g

        def answered(pushed: FloatArray) -> FloatArray:
            moved = np.zeros(base.shape)
            for _ in range(rounds // 2):
                moved = _filtered(stage, pushed - moved * (g - 1), theta[LN_FINS])
            return moved

        added, x, g = settle(base, theta[LN_FINS])
        ln_tau = theta[LN_FINS] + NUDGE
        moved = 1 + _filtered(stage, drive.power, ln_tau) - start * np.exp(-drive.time_s / math.exp(ln_tau))
        return cls(
            start=start,
            added=added,
            by_fan=answered(-x * g * drive.fan),
            by_power_law=answered(-x * g * np.log(x)),
            by_start=answered(fade * (g - 1 + power_law * g)),
            by_tau=(settle(moved, ln_tau)[0] - added) / NUDGE,
        )


def _filtered(stage: Stage, values: FloatArray, ln_tau: float) -> FloatArray:
    return low_pass(values, step_s=stage.drive.step_s, tau_s=math.exp(ln_tau), start=0.0)
