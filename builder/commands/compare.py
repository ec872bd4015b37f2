"""Composes the stages: an archive folder in, problems, figures or a published site out."""

from __future__ import annotations

from collections.abc import Sequence
from itertools import combinations
from pathlib import Path

from builder.commands.cache.cache import kept_beside
from builder.commands.figures import Progress, _require_bundles, reduce_archive, silent
from builder.comparison import HeadToHead, PointOf, Tested, head_to_head
from builder.core.errors import Problem, SoakbookError, Span, listing, nearest
from builder.core.results import BundleResult


def compare_bundles(
    root: Path, bundles: Sequence[str], point: str, progress: Progress = silent
) -> tuple[Tested, tuple[HeadToHead, ...]]:
    """Return every pair of the named bundles side by side at a test point, first named first.

    Everything is reduced, since ties and mounting spread come from all results of a card. Raises SoakbookError where
    the archive has errors, or a bundle or its test point does not exist.
    """
    reduced = reduce_archive(root, progress, kept_beside(root))
    if reduced.loaded is None or not reduced.sound:
        raise SoakbookError(reduced.problems)
    _require_bundles(reduced.loaded, bundles)
    missing = [_no_point(reduced.results[name], point) for name in bundles if not reduced.results[name].point(point)]
    if missing:
        raise SoakbookError(missing)
    tested = Tested(catalogue=reduced.loaded.catalogue, results=reduced.results)
    ends = [PointOf(bundle=name, point=point) for name in bundles]
    return tested, tuple(head_to_head(tested, a, b) for a, b in combinations(ends, 2))


def _no_point(result: BundleResult, point: str) -> Problem:
    points = [p.point for p in result.points]
    return Problem(
        code="no-such-point",
        where=Span(file=result.bundle),
        message=f'there is no run at the test point "{point}"',
        hint=nearest(point, points) or f"there are: {listing(points)}",
    )
