"""Checks over the runs of one bundle: cuts, repeated runs, and one stretch of a log used twice."""

from __future__ import annotations

import datetime as dt
import math
from collections.abc import Iterator
from dataclasses import dataclass
from itertools import combinations

from builder.errors import Problems, Span
from builder.model import Bundle, Run
from builder.sources import Trail, YamlDoc


@dataclass(frozen=True, kw_only=True)
class PlacedRun:
    """A run with its trail in the bundle file; `name` is how problems call it, as `m1/stock`."""

    run: Run
    trail: Trail
    name: str


def placed_runs(bundle: Bundle) -> Iterator[PlacedRun]:
    """Return every run of a bundle in file order."""
    for m, mount in enumerate(bundle.mounts):
        for r, run in enumerate(mount.runs):
            yield PlacedRun(run=run, trail=("mounts", m, "runs", r), name=f"m{m + 1}/{run.point}")


def check_runs(bundle: Bundle, doc: YamlDoc, problems: Problems) -> None:
    """Report cuts out of order, a test point run twice in one mount, and runs that share a stretch of a log."""
    placed = tuple(placed_runs(bundle))
    for one in placed:
        _check_cut(one, doc, problems)
    repeated = _check_repeats(placed, doc, problems)
    for first, second in combinations(placed, 2):
        if second.trail not in repeated and _overlap(first.run, second.run):
            _report_shared(first, second, doc, problems)


def _check_cut(placed: PlacedRun, doc: YamlDoc, problems: Problems) -> None:
    start, end = placed.run.from_, placed.run.to
    if start is None or end is None:
        return
    where = doc.value(*placed.trail, "to")
    if _clock(start) != _clock(end):
        message = '"to": expected the same kind of time as "from", found another'
        hint = "give both in seconds, or both as date and time, with a zone on both or on neither"
        problems.error("bad-value", where, message, hint)
    elif not _before(start, end):
        problems.error("bad-value", where, f'"to": expected a time after "from", {start}, found {end}')


def _check_repeats(placed: tuple[PlacedRun, ...], doc: YamlDoc, problems: Problems) -> set[Trail]:
    first: dict[tuple[str | int, str], PlacedRun] = {}
    repeated: set[Trail] = set()
    for one in placed:
        key = (one.trail[1], one.run.point)
        if key not in first:
            first[key] = one
            continue
        repeated.add(one.trail)
        line = _point(first[key], doc).line
        message = f"{one.name} is a run already, on line {line}"
        problems.error("duplicate-run", _point(one, doc), message, "a remount is a new entry below mounts")
    return repeated


def _point(placed: PlacedRun, doc: YamlDoc) -> Span:
    return doc.value(*placed.trail, "point")


def _report_shared(first: PlacedRun, second: PlacedRun, doc: YamlDoc, problems: Problems) -> None:
    for field in ("log", "frames"):
        file = getattr(second.run, field)
        if file is not None and file == getattr(first.run, field):
            line = doc.value(*first.trail, field).line
            message = f'"{file}" is used by {first.name} too, on line {line}, for the same stretch of time'
            hint = "name another file, or cut the runs apart with from and to"
            problems.error("overlapping-runs", doc.value(*second.trail, field), message, hint)


def _overlap(first: Run, second: Run) -> bool:
    """Whether two cuts of one log share time; cuts of different kinds cannot be told apart before the log is read."""
    return not (_apart(first, second) or _apart(second, first))


def _apart(earlier: Run, later: Run) -> bool:
    end, start = earlier.to, later.from_
    if end is None or start is None:
        return False
    return _clock(end) != _clock(start) or end == start or _before(end, start)


def _clock(cut: float | dt.datetime) -> str:
    if isinstance(cut, dt.datetime):
        return "local" if cut.tzinfo is None else "zoned"
    return "elapsed"


def _before(first: float | dt.datetime, second: float | dt.datetime) -> bool:
    if isinstance(first, dt.datetime) and isinstance(second, dt.datetime):
        return first < second
    return _number(first) < _number(second)


def _number(cut: float | dt.datetime) -> float:
    return math.nan if isinstance(cut, dt.datetime) else cut
