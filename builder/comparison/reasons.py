"""Why results do not compare, in words for viewers: one code and one sentence for each rule."""

from __future__ import annotations

from dataclasses import dataclass

from builder.archive.bench import Loop
from builder.comparison.tested import Group, Tested
from builder.core.quantity import format_number
from builder.core.results import FIGURES, PointResult, Verdict, counted

SPREAD_UNKNOWN = "mounting spread unknown: differences are not judged"

_UNSETTLED = {
    Verdict.DRIFTING: "was still drifting when it ended",
    Verdict.UNDECIDED: "cannot be shown to have settled",
    Verdict.TOO_SHORT: "was too short",
    Verdict.BY_HAND: "was read by hand, so that nobody can say whether it had settled",
}


@dataclass(frozen=True, kw_only=True, order=True)
class Reason:
    """Why a result or a pair is not compared: a stable code and a sentence.

    That of one result says in `short` the same without its name and full stop, for a list of results under it.
    """

    code: str
    text: str
    short: str = ""


def of_one(code: str, label: str, said: str, *, link: str = ": ") -> Reason:
    """Return why the result of a label is not compared.

    >>> of_one("other-card", "Slab", "tested on another card", link=" was ").text
    'Slab was tested on another card.'
    """
    return Reason(code=code, text=f"{label}{link}{said}.", short=said)


def bundle_reasons(tested: Tested, group: Group, bundle: str) -> tuple[Reason, ...]:
    """Return why a bundle does not take part in a group's direct comparisons; empty where it does."""
    mine = tested.setup(bundle)
    if mine.bundle.card != group.card:
        said = f"tested on another card, the {mine.card.name}"
        return (of_one("other-card", tested.label(bundle), said, link=" was "),)
    if mine.bundle.card_sample != group.sample:
        sample = mine.bundle.card_sample
        said = f"tested on another sample ({sample}) of the {mine.card.name}"
        return (of_one("other-sample", tested.label(bundle), said, link=" was "),)
    point = group.point_of(mine.bundle)
    if point is None:
        return (no_such_point(tested, group.name, bundle),)
    return run_reasons(tested, bundle, point)


def run_reasons(tested: Tested, bundle: str, point: str) -> tuple[Reason, ...]:
    """Return what keeps a bundle's runs at one test point from being compared: not run, not settled, limit, room."""
    label = tested.label(bundle)
    result = tested.point(bundle, point)
    if result is None:
        declared = tested.setup(bundle).protocol.point(point)
        return (of_one("no-run", label, f"not run at {declared.name if declared else point}", link=" was "),)
    found: list[Reason] = []
    if not result.compared:
        found.append(of_one("not-settled", label, f"the run at {result.name} {_UNSETTLED[result.verdict]}"))
    if over := result.over_limit:
        found.append(of_one("limit-not-applied", label, f"the run at {result.name} {over.text}"))
    states = [run.ambient_in_band for run in counted(result.runs)]
    if False in states:
        found.append(of_one("ambient-outside", label, _outside_band(tested, bundle, result)))
    elif None in states or not states:
        found.append(of_one("ambient-unknown", label, f"the room's temperature at {result.name} is not known"))
    return tuple(found)


def _outside_band(tested: Tested, bundle: str, result: PointResult) -> str:
    band = tested.setup(bundle).protocol.ambient
    limits = f"{format_number(band.min_c, 0)} to {format_number(band.max_c, 0)} °C"
    ambient = result.figures.get("ambient_temperature")
    measured = f" ({format_number(ambient.estimate.value, 1)} °C)" if ambient else ""
    return f"the room at {result.name}{measured} was outside the {limits} that the protocol allows"


def other_loop(label: str, loop: Loop | None) -> Reason:
    """Return the reason for a water block whose loop is another one, or not declared.

    Over the room a block's figures belong to block and loop together; core over coolant per watt is its own.
    """
    how = "tested in another loop of radiators, fans and coolant" if loop else "tested in a loop that is not declared"
    return of_one("other-loop", label, f"{how}; core over coolant per watt compares", link=" was ")


def other_card(tested: Tested, a: str, b: str) -> Reason | None:
    """Return why two bundles on different cards, or samples of one card, do not compare; None on one sample."""
    first, second = tested.setup(a), tested.setup(b)
    if first.bundle.card != second.bundle.card:
        text = f"They were tested on different cards, {first.card.name} and {second.card.name}."
        return Reason(code="other-card", text=text)
    if first.bundle.card_sample != second.bundle.card_sample:
        samples = f"{first.bundle.card_sample} and {second.bundle.card_sample}"
        text = f"They were tested on different samples ({samples}) of the {first.card.name}."
        return Reason(code="other-sample", text=text)
    return None


def no_such_point(tested: Tested, name: str, bundle: str) -> Reason:
    """Return the reason for a bundle whose protocol has no test point equivalent to the one of this name."""
    protocol = tested.setup(bundle).protocol.name
    said = f"tested by {protocol}, which has no test point equivalent to {name}"
    return of_one("other-point", tested.label(bundle), said, link=" was ")


def no_figure(tested: Tested, bundle: str, kind: str) -> Reason:
    """Return the reason for a bundle without a figure of this kind."""
    return of_one("no-figure", tested.label(bundle), f"{FIGURES[kind].name} was not measured")


def read_by_hand(tested: Tested, bundle: str, kind: str) -> Reason:
    """Return the reason for a figure read by hand whose error nobody has stated: the allowance is one of rises."""
    said = f"{FIGURES[kind].name} was read by hand, and how far such a reading may be off is not known"
    return of_one("by-hand", tested.label(bundle), said)


def other_definition(tested: Tested, bundle: str, kind: str, definition: str) -> Reason:
    """Return the reason for a figure that is defined in another way than the others."""
    said = f"{FIGURES[kind].name} is defined otherwise ({definition or 'not stated'})"
    return of_one("other-definition", tested.label(bundle), said)
