"""Why results do not compare, in words for viewers: one code and one sentence for each rule."""

from __future__ import annotations

from dataclasses import dataclass

from builder.comparison.tested import Group, Tested
from builder.core.quantity import format_number
from builder.core.results import FIGURES, PointResult, Verdict

SPREAD_UNKNOWN = "mounting spread unknown: differences are not judged"

_UNSETTLED = {
    Verdict.DRIFTING: "was still drifting when it ended",
    Verdict.UNDECIDED: "cannot be shown to have settled",
    Verdict.TOO_SHORT: "was too short",
}


@dataclass(frozen=True, kw_only=True, order=True)
class Reason:
    """Why a result or a pair is not compared: a stable code and a sentence."""

    code: str
    text: str


def bundle_reasons(tested: Tested, group: Group, bundle: str) -> tuple[Reason, ...]:
    """Return why a bundle does not take part in a group's direct comparisons; empty where it does."""
    if not group.on_card(tested.setup(bundle).bundle):
        return (_other_sample(tested, group, bundle),)
    point = group.point_of(tested.setup(bundle).bundle)
    if point is None:
        return (no_such_point(tested, group.name, bundle),)
    return run_reasons(tested, bundle, point)


def run_reasons(tested: Tested, bundle: str, point: str) -> tuple[Reason, ...]:
    """Return what keeps a bundle's runs at one test point from being compared: not run, not settled, the room."""
    result = tested.point(bundle, point)
    if result is None:
        text = f"{tested.label(bundle)} was not run at {_point_name(tested, bundle, point)}."
        return (Reason(code="no-run", text=text),)
    found = (_unsettled(tested, bundle, result), _room(tested, bundle, result))
    return tuple(reason for reason in found if reason)


def _point_name(tested: Tested, bundle: str, point: str) -> str:
    setting = tested.setup(bundle).protocol.point(point)
    return setting.name if setting else point


def _unsettled(tested: Tested, bundle: str, result: PointResult) -> Reason | None:
    if result.verdict is Verdict.SETTLED:
        return None
    text = f"{tested.label(bundle)}: the run at {result.name} {_UNSETTLED[result.verdict]}."
    return Reason(code="not-settled", text=text)


def _room(tested: Tested, bundle: str, result: PointResult) -> Reason | None:
    """Say whether the room was right; runs that did not settle are no part of a figure where others did."""
    used = [r for r in result.runs if r.settlement.verdict is Verdict.SETTLED] or list(result.runs)
    states = [run.ambient_in_band for run in used]
    if False in states:
        return Reason(code="ambient-outside", text=_room_words(tested, bundle, result))
    if None in states or not states:
        text = f"{tested.label(bundle)}: the room's temperature at {result.name} is not known."
        return Reason(code="ambient-unknown", text=text)
    return None


def _room_words(tested: Tested, bundle: str, result: PointResult) -> str:
    band = tested.setup(bundle).protocol.ambient
    limits = f"{format_number(band.min_c, 0)} to {format_number(band.max_c, 0)} °C"
    ambient = result.figures.get("ambient_temperature")
    measured = f" ({format_number(ambient.estimate.value, 1)} °C)" if ambient else ""
    label = tested.label(bundle)
    return f"{label}: the room at {result.name}{measured} was outside the {limits} that the protocol allows."


def other_card(tested: Tested, a: str, b: str) -> Reason | None:
    """Return why two bundles on different cards, or samples of one card, do not compare; None on one sample."""
    first, second = tested.setup(a).bundle, tested.setup(b).bundle
    cards = tested.catalogue.cards
    if first.card != second.card:
        text = f"They were tested on different cards, {cards[first.card].name} and {cards[second.card].name}."
        return Reason(code="other-card", text=text)
    if first.card_sample != second.card_sample:
        samples = f"{first.card_sample} and {second.card_sample}"
        text = f"They were tested on different samples ({samples}) of the {cards[first.card].name}."
        return Reason(code="other-sample", text=text)
    return None


def _other_sample(tested: Tested, group: Group, bundle: str) -> Reason:
    mine = tested.setup(bundle).bundle
    name = tested.catalogue.cards[mine.card].name
    if mine.card == group.card:
        text = f"{tested.label(bundle)} was tested on another sample ({mine.card_sample}) of the {name}."
        return Reason(code="other-sample", text=text)
    return Reason(code="other-card", text=f"{tested.label(bundle)} was tested on another card, the {name}.")


def no_such_point(tested: Tested, name: str, bundle: str) -> Reason:
    """Return the reason for a bundle whose protocol has no test point equivalent to the one of this name."""
    protocol = tested.setup(bundle).protocol.name
    text = f"{tested.label(bundle)} was tested by {protocol}, which has no test point equivalent to {name}."
    return Reason(code="other-point", text=text)


def no_figure(tested: Tested, bundle: str, kind: str) -> Reason:
    """Return the reason for a bundle without a figure of this kind."""
    return Reason(code="no-figure", text=f"{tested.label(bundle)}: {FIGURES[kind].name} was not measured.")


def other_definition(tested: Tested, bundle: str, kind: str, definition: str) -> Reason:
    """Return the reason for a figure that is defined in another way than the others."""
    text = f"{tested.label(bundle)}: {FIGURES[kind].name} is defined otherwise ({definition or 'not stated'})."
    return Reason(code="other-definition", text=text)
