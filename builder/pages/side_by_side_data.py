"""What the side by side page works with: every pair of one card at one test point, judged, as compact data."""

from __future__ import annotations

import json
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from functools import partial
from itertools import combinations
from typing import TypeAlias

from builder.comparison import (
    ByPsi,
    Comparability,
    Direct,
    HeadToHead,
    PointOf,
    Reason,
    Standing,
    Tested,
    VersusRow,
    comparability,
    groups,
    head_to_head,
)
from builder.comparison.head_to_head import direction_words, told_apart, too_close
from builder.comparison.reasons import no_such_point, run_reasons
from builder.core.results import BOUND_WORDS, FIGURES, Bound
from builder.pages.page import LazyMapping
from builder.pages.parts import Num, bounded_num, difference_unit, num, plain, short_day, unit

Json: TypeAlias = "str | int | float | list[Json] | dict[str, Json] | None"

FORMAT = 2  # the script declines any other
_BOUND_SIGNS = {"": "", BOUND_WORDS[Bound.LOWER]: ">", BOUND_WORDS[Bound.UPPER]: "<"}
_STANDINGS = {Standing.A_BETTER: "a", Standing.B_BETTER: "b", Standing.TOO_CLOSE: "="}


@dataclass(frozen=True, kw_only=True)
class AskedPoint:
    """A test point that the page can be asked for: its id in the address, and its name."""

    id: str
    name: str


def asked_points(tested: Tested, card: str) -> tuple[AskedPoint, ...]:
    """Return the test points at which results of a card can be asked for, in the order of their protocol."""
    mine = {tested.setup(b).bundle.protocol for b in tested.results if tested.setup(b).bundle.card == card}
    found: dict[str, AskedPoint] = {}
    for group in groups(tested):
        if group.card == card:
            for protocol, point in group.points:
                if protocol in mine:
                    found.setdefault(point, AskedPoint(id=point, name=group.name))
    return tuple(found.values())


def own_point(tested: Tested, bundle: str, asked: str) -> str | None:
    """Return the id by which a bundle's protocol calls the test point that is asked for, or one declared equivalent."""
    if tested.setup(bundle).protocol.point(asked):
        return asked
    mine = tested.setup(bundle).bundle.protocol
    knowing = sorted(name for name, protocol in tested.catalogue.protocols.items() if protocol.point(asked))
    same = (pair for name in knowing for pair in tested.equivalents[name, asked])
    return next((point for protocol, point in same if protocol == mine), None)


def pair_script(card: str, asked: str, data: Json) -> str:
    """Return the data as a classic script in ASCII, since a page that was opened from a disk cannot fetch."""
    text = json.dumps(data, allow_nan=False, separators=(",", ":")).replace("<", "\\u003c")
    return f'(globalThis.SoakbookPairs??=new Map).set("{card}/{asked}",{text});\n'


def pair_data(tested: Tested, card: str, asked: AskedPoint) -> Json:
    """Return the figures of every result of a card at a test point, and the verdict on every pair that has one.

    Pairs that one of the two rules out by itself (its card sample; a run that is missing, did not settle, or was made
    with the room outside the band) are left to the script, which says the reasons that stand with each result.
    """
    made = _Made()
    order = {kind: i for i, kind in enumerate(FIGURES)}
    bundles = sorted(b for b in tested.results if tested.setup(b).bundle.card == card)
    results: list[Json] = [_result(tested, bundle, asked, made) for bundle in bundles]
    pairs: list[Json] = list(_pairs(tested, bundles, asked, made))
    return {
        "format": FORMAT,
        "card": tested.catalogue.cards[card].name,
        "point": asked.name,
        "results": results,
        "pairs": pairs,
        "kinds": [[*_kind(kind), order[kind]] for kind in made.kinds],
        "texts": list(made.texts),
        "templates": list(made.templates),
    }


@dataclass(frozen=True, kw_only=True)
class _Made:
    """Texts and kinds that rows refer to by their place."""

    kinds: dict[str, int] = field(default_factory=dict)
    texts: dict[str, int] = field(default_factory=dict)
    templates: dict[str, int] = field(default_factory=dict)


def _place(table: dict[str, int], key: str) -> int:
    return table.setdefault(key, len(table))


def _kind(kind: str) -> list[Json]:
    """Id, name, unit (and where °F is chosen), the same for a difference, and the words for lower and higher."""
    shown, lower_higher = FIGURES[kind], direction_words(kind)
    own, apart = unit(shown.unit), difference_unit(kind)
    return [kind, shown.name, own.text, own.fahrenheit, apart.text, apart.fahrenheit, *lower_higher, shown.better]


def _digits(shown: Num) -> str:
    """Value and uncertainty, and where it is a temperature the same in °F, with a space between; a bound has a sign."""
    return _BOUND_SIGNS[shown.bound] + " ".join(
        d for d in (shown.value, shown.u, shown.fahrenheit_value, shown.fahrenheit_u) if d
    )


def _result(tested: Tested, bundle: str, asked: AskedPoint, made: _Made) -> Json:
    own = own_point(tested, bundle, asked.id)
    found = tested.point(bundle, own) if own else None
    figures = found.figures if found else {}
    reasons = run_reasons(tested, bundle, own) if own else (no_such_point(tested, asked.name, bundle),)
    return {
        "id": bundle,
        "label": tested.label(bundle),
        "cooler": tested.setup(bundle).cooler.name,
        "sample": tested.setup(bundle).bundle.card_sample,
        "tested": short_day(tested.setup(bundle).bundle.tested).text,
        "verdict": str(found.verdict) if found else "not run",
        "reasons": _texts(reasons, made),
        "figures": [
            [_place(made.kinds, k), _digits(bounded_num(figures[k].estimate, figures[k].bound))]
            for k in FIGURES
            if k in figures
        ],
    }


def _texts(reasons: Sequence[Reason], made: _Made) -> list[Json]:
    return [_place(made.texts, reason.text) for reason in reasons]


def _pairs(tested: Tested, bundles: Sequence[str], asked: AskedPoint, made: _Made) -> Iterator[Json]:
    at = {b: PointOf(bundle=b, point=own) for b in bundles if (own := own_point(tested, b, asked.id))}
    free = [b for b in at if not run_reasons(tested, b, at[b].point)]
    index = {b: i for i, b in enumerate(bundles)}
    for a, b in combinations(free, 2):
        if tested.setup(a).bundle.card_sample == tested.setup(b).bundle.card_sample:
            found = head_to_head(tested, at[a], at[b])
            yield [index[a], index[b], *_how(found, comparability(tested, at[b], at[a]), made)]


def _how(found: HeadToHead, turned: Comparability, made: _Made) -> Iterator[Json]:
    """Rows, and where two results do not compare directly the reasons in either order and the common power."""
    how = found.comparability
    yield [_row(row, made, psi=isinstance(how, ByPsi)) for row in found.rows]
    if not isinstance(how, Direct) and not isinstance(turned, Direct):
        yield _texts(how.reasons, made)
        yield _texts(turned.reasons, made)
        yield plain(how.watts, "W", decimals=0).text if isinstance(how, ByPsi) else ""


def _row(row: VersusRow, made: _Made, *, psi: bool) -> Json:
    """Kind, then the judged difference with its standing and sentence, or why it is not judged."""
    kind = _place(made.kinds, row.kind)
    values: list[Json] = [_digits(num(e)) for e in (row.a, row.b) if e] if psi else []
    if row.difference is None:
        return [kind, _place(made.texts, row.text), *values]
    return [kind, _digits(num(row.difference, sign=True)), _code(row), _place(made.templates, template(row)), *values]


def _code(row: VersusRow) -> str:
    higher = row.difference is not None and row.difference.value > 0
    return _STANDINGS.get(row.standing, "+" if higher else "-")


def template(row: VersusRow) -> str:
    """Return the sentence of a judged row with `{a}` and `{b}` for names and `{d}` for the size of the difference."""
    if row.difference is None:
        raise ValueError(f"{row.kind} is not judged")
    if row.standing is Standing.TOO_CLOSE:
        return too_close(row.difference, "{d}", more=row.more)
    return told_apart(row.kind, row.difference, "{a}", "{b}", "{d}")


def pair_files(tested: Tested) -> Mapping[str, str]:
    """Return the scripts of data by address from the site's root, one for each card and test point.

    A script is made when it is asked for: together they cost more than any page.
    """
    cards = sorted({tested.setup(b).bundle.card for b in tested.results})
    return LazyMapping(
        {
            f"compare/{card}/{asked.id}.js": partial(_pair_file, tested, card, asked)
            for card in cards
            for asked in asked_points(tested, card)
        }
    )


def _pair_file(tested: Tested, card: str, asked: AskedPoint) -> str:
    return pair_script(card, asked.id, pair_data(tested, card, asked))
