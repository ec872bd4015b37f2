"""One cooler on several cards, by Ψ: listed, never judged, since a Ψ belongs to one cooler on one card."""

from __future__ import annotations

from dataclasses import dataclass

from builder.archive.catalogue import Setup
from builder.archive.protocol import PointRole
from builder.comparison.families import LeftOut
from builder.comparison.head_to_head import PowerRange, power_range
from builder.comparison.members import watts_of
from builder.comparison.reasons import Reason, no_figure, run_reasons
from builder.comparison.tested import Tested
from builder.core.quantity import Estimate

ACROSS_NOTE = (
    "Ψ belongs to one cooler on one card: cards differ in where their heat leaves them. "
    "The rows are listed together and not judged against each other."
)


@dataclass(frozen=True, kw_only=True)
class AcrossRow:
    """A cooler's Ψ on one card sample at a test point, with its board power in W and the range that was tested."""

    bundle: str
    card: str
    sample: str
    point: str
    psi: Estimate
    watts: float
    tested_range: PowerRange


@dataclass(frozen=True, kw_only=True)
class AcrossCards:
    """A cooler across cards, ordered by card, sample and day of the test."""

    cooler: str
    kind: str
    rows: tuple[AcrossRow, ...]
    left_out: tuple[LeftOut, ...]
    note: str = ACROSS_NOTE


def across_cards(tested: Tested, cooler: str, kind: str = "core_psi", role: PointRole = PointRole.STOCK) -> AcrossCards:
    """Return a cooler's Ψ on every card it was tested on, at the test points with one role.

    `kind` is a Ψ. A result that did not settle or lacks the figure is left out with its reason.
    """
    mine = [setup for bundle in tested.results if (setup := tested.setup(bundle)).bundle.cooler == cooler]
    mine.sort(key=lambda s: (s.bundle.card, s.bundle.card_sample, s.bundle.tested, s.id))
    found = [(setup.id, _row(tested, setup, kind, role)) for setup in mine]
    return AcrossCards(
        cooler=cooler,
        kind=kind,
        rows=tuple(row for _, row in found if isinstance(row, AcrossRow)),
        left_out=tuple(LeftOut(bundle=b, reasons=row) for b, row in found if not isinstance(row, AcrossRow)),
    )


def _row(tested: Tested, setup: Setup, kind: str, role: PointRole) -> AcrossRow | tuple[Reason, ...]:
    point = next((p.id for p in setup.protocol.points if p.role is role), "")
    reasons = run_reasons(tested, setup.id, point)
    result = tested.point(setup.id, point)
    tested_range = power_range(tested, setup.id)
    watts = watts_of(result) if result else None
    if reasons or result is None or kind not in result.figures or watts is None or tested_range is None:
        return reasons or (no_figure(tested, setup.id, kind),)
    return AcrossRow(
        bundle=setup.id,
        card=setup.bundle.card,
        sample=setup.bundle.card_sample,
        point=point,
        psi=result.figures[kind].estimate,
        watts=watts,
        tested_range=tested_range,
    )
