"""The order of results by one figure, as measured or at reference conditions, with ties and what is left out."""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass, replace

from builder.archive.protocol import PointRole
from builder.comparison.families import (
    Basis,
    Family,
    LeftOut,
    eligible,
    judge,
    measured_family,
    why_unjudged,
)
from builder.comparison.members import (
    Case,
    Member,
    SharedLine,
    Term,
    absolute,
    mount_term,
    mounted,
    shared_lines,
    watts_of,
)
from builder.comparison.mount_spreads import Spreads
from builder.comparison.reasons import Reason, of_one, run_reasons
from builder.comparison.tested import Group, Tested, by_hand
from builder.core.quantity import Estimate, format_number
from builder.core.results import FIGURES, SENSORS, NoLine, PointResult, PowerLine
from builder.reduction.mounts import run_part
from builder.uncertainty import line_value

# The rise behind each kind of figure that has a value at reference conditions.
REFERENCE_KINDS = {kind: s.rise for s in SENSORS for kind in (s.rise, s.temperature, s.psi)}
NEAR = 0.15  # of the reference power: a test point further off says too little about it
# Rise follows power to some exponent; between one half and three halves covers fans that speed up and paths that
# saturate. Common practice, no source.
EXPONENT_HALF_WIDTH = 0.5
_NO_LOAD = (PointRole.IDLE, PointRole.CLOSING)


@dataclass(frozen=True, kw_only=True)
class RankRow:
    """One cooler in order: its figure, its letters (none where differences are not judged, `note` says why).

    `bundle` is its newest test and `tests` are all of them, which its figure pools. `behind` is the difference from the
    first row with its own uncertainty, None for the first and where not judged.
    """

    bundle: str
    estimate: Estimate
    letters: tuple[str, ...]
    tests: tuple[str, ...] = ()
    behind: Estimate | None = None
    note: str = ""


@dataclass(frozen=True, kw_only=True)
class Ranking:
    """Coolers in order, best first; rows that share a letter could not be told apart."""

    group: Group
    kind: str
    basis: Basis
    rows: tuple[RankRow, ...]
    left_out: tuple[LeftOut, ...]
    notes: tuple[str, ...]

    def row(self, bundle: str) -> RankRow | None:
        """Return the row that a bundle's test is part of, or None where it was left out."""
        return next((row for row in self.rows if bundle in row.tests), None)


def ranking(tested: Tested, group: Group, kind: str, basis: Basis = Basis.MEASURED) -> Ranking:
    """Return the order of a group's results by one kind of figure, with ties and what is left out.

    Raises KeyError for an unknown kind, ValueError for one that has no value at reference conditions where those are
    asked for.
    """
    found = family(tested, group, kind, basis)
    return Ranking(
        group=group,
        kind=kind,
        basis=basis,
        rows=tuple(_row(found, member) for member in found.members),
        left_out=found.left_out,
        notes=found.notes,
    )


def family(tested: Tested, group: Group, kind: str, basis: Basis) -> Family:
    """Return a group's results for one kind of figure, judged together on one basis, once for all who ask."""
    key = (group, kind, basis)
    if key not in tested.memo:
        judged = measured_family if basis is Basis.MEASURED else reference_family
        tested.memo[key] = judged(tested, group, kind)
    found: Family = tested.memo[key]
    return found


def _row(found: Family, member: Member) -> RankRow:
    first = found.members[0].bundle
    judged = found.pairs.get((first, member.bundle))
    hand = "read by hand, with the protocol's allowance" if member.by_hand else ""
    notes = (hand, member.note, why_unjudged(found.kind, found.basis, member))
    return RankRow(
        bundle=member.bundle,
        tests=found.tests_of(member.bundle),
        estimate=member.estimate,
        letters=found.letters.get(member.bundle, ()),
        behind=judged.difference.estimate.scaled(-1, judged.difference.estimate.unit) if judged else None,
        note="; ".join(note for note in notes if note),
    )


# --- Results at reference conditions: one ambient for the archive, one board power for the card


def reference_family(tested: Tested, group: Group, kind: str) -> Family:
    """Return a group's results at reference conditions, judged together.

    A result takes part where it compares directly in the group and reaches the card's reference board power. Raises
    ValueError for a kind of figure that has no value at reference conditions.
    """
    if kind not in REFERENCE_KINDS:
        raise ValueError(f"{kind} has no value at reference conditions")
    rise = REFERENCE_KINDS[kind]
    watts = tested.catalogue.cards[group.card].board_power_w
    ambient = tested.catalogue.archive.reference.ambient_c
    found = eligible(tested, group, rise)
    members, left_out = [], list(found.left_out)
    for case in found.cases:
        at = rise_at(tested, case, rise, watts)
        if isinstance(at, Reason):
            left_out.append(LeftOut(bundle=case.bundle, reasons=(at,)))
        elif FIGURES[kind].unit == "degC":
            # A temperature is the rise and the reference ambient, an exact number.
            member = converted(case, rise, found.spreads, at)
            shifted = replace(member.estimate, value=member.estimate.value + ambient, unit="degC")
            members.append(replace(member, estimate=shifted))
        else:
            members.append(converted(case, kind, found.spreads, at))
    room = f" and {format_number(ambient, 0)} °C" if FIGURES[kind].unit == "degC" else ""
    notes = (f"At {format_number(watts, 0)} W{room}.", *found.spreads.notes)
    return judge(tested, group, kind, Basis.REFERENCE, members, left_out=left_out, notes=notes)


@dataclass(frozen=True, kw_only=True)
class RiseAtPower:
    """A rise in K at a given board power: its uncertainty is the conversion's alone, without mounts and sensors.

    `slope` is in K/W; `nearest` is the test point whose Ψ was used, empty where it was the fitted line.
    """

    estimate: Estimate
    watts: float
    slope: float
    note: str
    nearest: str = ""


def line_at(line: PowerLine, watts: float) -> Estimate:
    """Return the rise in K of a fitted line or curve at a board power in W, with the covariance of its coefficients.

    Raises ValueError outside the tested range.
    """
    if not line.low_w <= watts <= line.high_w:
        raise ValueError(f"{watts} W is outside the tested {line.low_w} to {line.high_w} W")
    return line_value(line.intercept, line.slope, line.covariance, watts, line.bend)


def rise_at(tested: Tested, case: Case, rise: str, watts: float) -> RiseAtPower | Reason:
    """Return a bundle's rise at a board power: by its line inside the tested range, else by the nearest point's Ψ.

    Line and nearest point are looked for only among points that differ from the case's own in power alone; a point with
    another fan, clock or voltage stands for itself. A reason is returned where neither is possible.
    """
    declared = case.setup.protocol.point(case.result.point)
    swept = declared is not None and declared.role.by_power_alone
    line = tested.results[case.bundle].lines.get(rise) if swept else None
    if line and line.fits and line.low_w <= watts <= line.high_w:
        note = f"by the {line.shape} through {len(line.points)} test points"
        return RiseAtPower(estimate=line_at(line, watts), watts=watts, slope=line.slope_at(watts).value, note=note)
    loads = (
        load
        for load in load_points(tested, case.bundle)
        if rise in load.result.figures and (load.by_power_alone if swept else load.result.point == case.result.point)
    )
    nearest = min(loads, key=lambda load: abs(load.watts - watts), default=None)
    if nearest is None or abs(nearest.watts / watts - 1) > NEAR:
        said = f"no test point is near enough to {format_number(watts, 0)} W"
        return of_one("outside-power", tested.label(case.bundle), said)
    return _by_psi(nearest, rise, watts, line)


def _by_psi(load: LoadPoint, rise: str, watts: float, line: PowerLine | None) -> RiseAtPower:
    own = run_part(load.result.figures[rise])
    factor = watts / load.watts
    conversion = abs(own.value * factor * (factor - 1)) * EXPONENT_HALF_WIDTH / math.sqrt(3)
    estimate = own.scaled(factor, "K")
    why = "no line was fitted" if line is None else f"outside the {line.shape}'s range" if line.fits else NoLine.NO_FIT
    return RiseAtPower(
        estimate=replace(estimate, u=math.hypot(estimate.u, conversion)),
        watts=watts,
        slope=own.value / load.watts,
        note=f"by the Ψ of {load.result.name} at {format_number(load.watts, 0)} W, since {why}",
        nearest=load.result.point,
    )


@dataclass(frozen=True, kw_only=True)
class LoadPoint:
    """A test point under load with its mean board power in W, which is above zero."""

    result: PointResult
    watts: float
    by_power_alone: bool


def load_points(tested: Tested, bundle: str) -> Iterator[LoadPoint]:
    """Yield a bundle's settled test points under load, with the room inside the band and board power known."""
    for result in tested.results[bundle].points:
        declared = tested.setup(bundle).protocol.point(result.point)
        watts = watts_of(result) or 0.0
        if declared is None or declared.role in _NO_LOAD or watts <= 0:
            continue
        if not run_reasons(tested, bundle, result.point):
            yield LoadPoint(result=result, watts=watts, by_power_alone=declared.role.by_power_alone)


def converted(case: Case, kind: str, spreads: Spreads, at: RiseAtPower) -> Member:
    """Return a bundle's member with a rise, or a Ψ, as it is at another board power.

    `kind` is a rise or Ψ; the case and `spreads` are those of the test point that the mounting spread is taken from.
    """
    rise = REFERENCE_KINDS[kind]
    unit = FIGURES[kind].unit  # of a rise or a Ψ
    scale = 1 / at.watts if unit == "K/W" else 1.0
    count = len(mounted(case, rise).values)
    mount = mount_term(spreads.terms[case.bundle], count, scale * at.watts / (case.watts or at.watts))
    own = Term(u=at.estimate.u * scale, dof=at.estimate.dof, pool=f"conversion {case.bundle}")
    shared = converted_shared(case, rise, at.slope, scale)
    return Member(
        bundle=case.bundle,
        estimate=absolute(at.estimate.value * scale, unit, (own, *(mount or ())), shared),
        terms=None if mount is None else (own, *mount),
        shared=shared,
        note=at.note,
        mounts=count,
        by_hand=by_hand(case.result),
    )


def converted_shared(case: Case, rise: str, slope: float, scale: float = 1.0) -> tuple[SharedLine, ...]:
    """Return the sensors' part of a converted rise: thermometers as they are, the power meter by the line's slope."""
    figures = case.result.figures
    lines = shared_lines(case, figures[rise].budget, scale)
    power = figures.get("board_power")
    return (*lines, *(shared_lines(case, power.budget, -slope * scale) if power else ()))
