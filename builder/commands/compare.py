"""`soakbook compare`: how results differ at a test point, with uncertainty, or why they do not compare."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from itertools import combinations
from pathlib import Path

from rich.console import Group, RenderableType
from rich.text import Text

from builder.commands.cache.cache import open_cache
from builder.commands.reduce_archive import Progress, silent, sound_figures
from builder.commands.terminal import heading, table
from builder.comparison import (
    ByPsi,
    HeadToHead,
    NotComparable,
    PointOf,
    Standing,
    Tested,
    against_own,
    group_of,
    hand_mark,
    head_to_head,
)
from builder.core.errors import Problem, SoakbookError, Span, nearest
from builder.core.quantity import SYMBOLS, Estimate, format_estimate, format_number
from builder.core.results import FIGURES, Bound, BundleResult, bounded_text
from builder.core.words import count, listing
from builder.site.records import Record, pair_record
from builder.site.tables import OWN_KINDS

STANDING_WORDS = {
    Standing.A_BETTER: "first",
    Standing.B_BETTER: "second",
    Standing.DIFFERENT: "differ",
    Standing.TOO_CLOSE: "tie",
    Standing.NOT_JUDGED: "-",
}


@dataclass(frozen=True, kw_only=True)
class Compared:
    """Every pair of the named results, side by side at one test point."""

    tested: Tested
    pairs: tuple[HeadToHead, ...]
    ends: tuple[PointOf, ...] = ()

    @property
    def record(self) -> list[Record]:
        """Return what `--json` prints."""
        return [pair_record(pair) for pair in self.pairs]

    @property
    def view(self) -> RenderableType:
        """Return a table for each pair, or why it does not compare."""
        return Group(*(pair_view(self.tested, pair) for pair in self.pairs), *own_cooler_view(self.tested, self.ends))


def compare_bundles(root: Path, bundles: Sequence[str], point: str, progress: Progress = silent) -> Compared:
    """Return every pair of the named bundles side by side at a test point, first named first.

    Everything is reduced, since ties and mounting spread come from all results of a card. Raises SoakbookError where
    the archive has errors, or a bundle or its test point does not exist.
    """
    figures = sound_figures(root, progress, open_cache(root), bundles=bundles)
    missing = [_no_point(figures.results[name], point) for name in bundles if not figures.results[name].point(point)]
    if missing:
        raise SoakbookError(missing)
    tested = figures.tested
    ends = [PointOf(bundle=name, point=point) for name in bundles]
    return Compared(
        tested=tested, ends=tuple(ends), pairs=tuple(head_to_head(tested, a, b) for a, b in combinations(ends, 2))
    )


def _no_point(result: BundleResult, point: str) -> Problem:
    points = [p.point for p in result.points]
    return Problem(
        code="no-such-point",
        where=Span(file=result.bundle),
        message=f'there is no run at the test point "{point}"',
        hint=nearest(point, points) or f"there are: {listing(points)}",
    )


def pair_view(tested: Tested, pair: HeadToHead) -> RenderableType:
    """Return two results side by side with what can be said of each figure, or why they do not compare."""
    first, second = (
        f"{tested.label(p.bundle)}, {p.point}{hand_mark(tested, p.bundle, p.point)}" for p in (pair.a, pair.b)
    )
    title = heading(f"{first}  against  {second}")
    how = pair.comparability
    if not pair.rows:
        reasons = how.reasons if isinstance(how, NotComparable) else ()
        return Group(title, Text("Not compared:", style="bold"), *(Text(f"- {reason.text}") for reason in reasons))
    conditions = []
    if isinstance(how, ByPsi):
        watts = f"Compared by rise per watt only, at {format_number(how.watts, 0)} W, because:"
        conditions = [Text(watts, style="bold"), *(Text(f"- {reason.text}") for reason in how.reasons)]
    rows = table(("figure", "first", "second", "difference", "said"))
    kinds_by_sentence: dict[str, list[str]] = {}
    for row in pair.rows:
        kind = FIGURES[row.kind]
        numbers = (_number(row.a, row.a_bound), _number(row.b, row.b_bound), _signed(row.difference))
        rows.add_row(Text(f"{kind.short}, {SYMBOLS[kind.unit]}"), *numbers, STANDING_WORDS[row.standing])
        if row.standing is not Standing.TOO_CLOSE or row.kind == "core_rise":
            kinds_by_sentence.setdefault(row.text, []).append(kind.short)
    sentences = [Text.assemble((f"{', '.join(kinds)}: ", "bold"), text) for text, kinds in kinds_by_sentence.items()]
    return Group(title, *conditions, rows, Text(), *sentences, *_more_mounts(pair))


def _more_mounts(pair: HeadToHead) -> Iterator[Text]:
    """Say how large a difference of the core more mounts would tell."""
    for row in pair.rows:
        if row.more and row.kind == "core_rise":
            told = format_number(row.more.told, 1)
            yield Text(f"{count(row.more.mounts, 'more mount')} of each would tell {told} K with 80 % power.")


def own_cooler_view(tested: Tested, ends: Sequence[PointOf]) -> Iterator[RenderableType]:
    """Give a table of the results against their cards' own coolers; nothing where no own cooler takes part."""
    found = [
        (end, kind, against)
        for end in ends
        for kind in OWN_KINDS
        if (against := against_own(tested, group_of(tested, end.bundle, end.point), end.bundle, kind))
        and not against.is_own
    ]
    if not found:
        return
    rows = table(("result", "figure", "difference", "%", "said"))
    for end, kind, against in found:
        numbers = (_signed(against.difference), _signed(against.share))
        rows.add_row(Text(tested.label(end.bundle)), FIGURES[kind].short, *numbers, against.said)
    yield heading("Against the card's own cooler")
    yield rows


def _number(estimate: Estimate | None, bound: Bound) -> str:
    return bounded_text(estimate, bound, unit=False) if estimate else "-"


def _signed(difference: Estimate | None) -> str:
    return format_estimate(difference, sign=True, unit=False) if difference else "-"
