"""Checks over the runs of one bundle: cuts, repeated runs, and one stretch of a log used twice."""

from __future__ import annotations

import datetime as dt
import json
import math
from collections import defaultdict
from collections.abc import Iterator
from dataclasses import dataclass

from pydantic import ValidationError

from builder.errors import Problems, Span
from builder.model import Run
from builder.sources import Json, Trail, YamlDoc


@dataclass(frozen=True, kw_only=True)
class Draft:
    """A run as it is written, sound or not: problems elsewhere in its bundle must not hide its own.

    `name` is how problems call it, as `m1/stock`; `run` is None where the run itself is not sound.
    """

    doc: YamlDoc
    trail: Trail
    name: str
    raw: dict[str, Json]
    run: Run | None

    @property
    def mount(self) -> str | int:
        """The index of the mount that the run belongs to."""
        return self.trail[1]

    def text(self, field: str) -> str | None:
        """Return a field's text, or None where it holds none or was already reported."""
        value = self.raw.get(field)
        is_sound = isinstance(value, str) and value and not self.doc.is_broken((*self.trail, field))
        return value if isinstance(value, str) and is_sound else None

    def where(self, field: str) -> Span:
        """Return where a field's value stands."""
        return self.doc.value(*self.trail, field)


def drafts(doc: YamlDoc) -> Iterator[Draft]:
    """Return every run that a bundle file lists, in file order."""
    for m, mount in _items(doc.data.get("mounts")):
        for r, raw in _items(mount.get("runs")):
            name = f"m{m + 1}/{raw.get('point')}"
            yield Draft(doc=doc, trail=("mounts", m, "runs", r), name=name, raw=raw, run=_run(raw))


def _items(value: Json) -> Iterator[tuple[int, dict[str, Json]]]:
    if isinstance(value, list):
        yield from ((i, item) for i, item in enumerate(value) if isinstance(item, dict))


def _run(raw: dict[str, Json]) -> Run | None:
    try:
        return Run.model_validate_json(json.dumps(raw), by_alias=True, by_name=False)
    except ValidationError:
        return None


def check_runs(doc: YamlDoc, problems: Problems) -> None:
    """Report cuts out of order, a test point run twice in one mount, and runs that share a stretch of a log."""
    written = tuple(drafts(doc))
    for draft in written:
        if draft.run:
            _check_cut(draft, draft.run, problems)
    repeated = _check_repeats(written, problems)
    for field in ("log", "frames"):
        _check_shared([d for d in written if d.trail not in repeated], field, problems)


def _check_cut(draft: Draft, run: Run, problems: Problems) -> None:
    start, end = run.from_, run.to
    if start is None or end is None:
        return
    if _clock(start) != _clock(end):
        message = '"to": expected the same kind of time as "from", found another'
        hint = "give both in seconds, or both as date and time, with a zone on both or on neither"
        problems.error("bad-value", draft.where("to"), message, hint)
    elif _seconds(start) >= _seconds(end):
        message = f'"to": expected a time after "from", {_shown(start)}, found {_shown(end)}'
        problems.error("bad-value", draft.where("to"), message)


def _shown(cut: float | dt.datetime) -> str:
    return str(cut) if isinstance(cut, dt.datetime) else f"{cut:g} s"


def _check_repeats(written: tuple[Draft, ...], problems: Problems) -> set[Trail]:
    first: dict[tuple[str | int, str], Draft] = {}
    repeated: set[Trail] = set()
    for draft in written:
        point = draft.text("point")
        known = first.setdefault((draft.mount, point), draft) if point else draft
        if known is not draft:
            repeated.add(draft.trail)
            message = f"{draft.name} is a run already, on line {known.where('point').line}"
            problems.error("duplicate-run", draft.where("point"), message, "a remount is a new entry below mounts")
    return repeated


@dataclass(frozen=True, kw_only=True)
class _Stretch:
    """The part of a log that a run takes, in seconds on its own clock; without cuts it is on every clock."""

    draft: Draft
    clock: str
    start: float
    end: float


def _check_shared(written: list[Draft], field: str, problems: Problems) -> None:
    by_file: dict[str, list[_Stretch]] = defaultdict(list)
    for draft in written:
        file, stretch = draft.text(field), _stretch(draft)
        if file is not None and stretch:
            by_file[file.removeprefix("./")].append(stretch)
    for stretches in by_file.values():
        # Cuts of different kinds cannot be compared before the log is read.
        clocks = {s.clock for s in stretches if s.clock != "every"} or {"every"}
        for clock in sorted(clocks):
            _check_overlaps([s for s in stretches if s.clock in (clock, "every")], field, problems)


def _check_overlaps(stretches: list[_Stretch], field: str, problems: Problems) -> None:
    in_time = sorted(stretches, key=lambda s: s.start)
    reach = in_time[0]
    for stretch in in_time[1:]:
        if stretch.start < reach.end:
            first, second = sorted((reach.draft, stretch.draft), key=lambda d: (d.mount, d.trail[3]))
            line = first.where(field).line
            message = (
                f'"{second.text(field)}" is used by {first.name} too, on line {line}, for the same stretch of time'
            )
            hint = "name another file, or cut the runs apart with from and to"
            problems.error("overlapping-runs", second.where(field), message, hint)
        reach = max(reach, stretch, key=lambda s: s.end)


def _stretch(draft: Draft) -> _Stretch | None:
    """Return the stretch of a sound run, or None where its cuts were reported."""
    if draft.run is None:
        return None
    start, end = draft.run.from_, draft.run.to
    clocks = {_clock(cut) for cut in (start, end) if cut is not None}
    first = -math.inf if start is None else _seconds(start)
    last = math.inf if end is None else _seconds(end)
    if len(clocks) > 1 or first >= last:
        return None
    return _Stretch(draft=draft, clock="".join(clocks) or "every", start=first, end=last)


def _clock(cut: float | dt.datetime) -> str:
    if isinstance(cut, dt.datetime):
        return "local" if cut.tzinfo is None else "zoned"
    return "elapsed"


def _seconds(cut: float | dt.datetime) -> float:
    """Return seconds that order cuts of one clock; a local time is taken as if it were UTC."""
    if isinstance(cut, dt.datetime):
        return (cut if cut.tzinfo else cut.replace(tzinfo=dt.UTC)).timestamp()
    return cut
