"""Checks over several fields of one file, which need nothing else of the archive."""

from __future__ import annotations

import datetime as dt
import json
import math
import re
from collections import defaultdict
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from zoneinfo import ZoneInfo, available_timezones

from pydantic import ValidationError

from builder.archive.bench import Bench, Sensor, TimeColumn
from builder.archive.bundle import Bundle, Episode, Run, seconds_into
from builder.archive.catalogue import Card
from builder.archive.fields import Model
from builder.archive.protocol import Protocol
from builder.archive.yaml_text import Json, Trail, YamlDoc
from builder.core.errors import Problems, Span, nearest
from builder.core.quantity import POSSIBLE, SYMBOLS
from builder.core.results import Quantity
from builder.core.words import quoted


def check_alone(model: Model, doc: YamlDoc, problems: Problems) -> None:
    """Report what is wrong between the fields of one document."""
    if isinstance(model, Card):
        _check_card(model, doc, problems)
    elif isinstance(model, Bench):
        _check_bench(model, doc, problems)
    elif isinstance(model, Protocol):
        _check_protocol(model, doc, problems)
    elif isinstance(model, Bundle) and model.episode:
        _check_episode(model.episode, doc, problems)


def _check_card(card: Card, doc: YamlDoc, problems: Problems) -> None:
    limits = card.power_limit_pct
    if limits and limits.min > limits.max:
        message = f'"max": expected at least the smallest setting, {limits.min:g}, found {limits.max:g}'
        problems.error("bad-value", doc.value("power_limit_pct", "max"), message)
    _check_sensors(card.sensors, doc, problems)
    for i, sensor in enumerate(card.sensors):
        if sensor.quantity not in CARD_REPORTS:
            message = f"a card reports no {sensor.quantity}"
            where = doc.value("sensors", i, "quantity")
            problems.error("not-of-card", where, message, "write this sensor in the bench's file")


CARD_REPORTS = frozenset(
    {
        Quantity.CORE_TEMPERATURE,
        Quantity.HOTSPOT_TEMPERATURE,
        Quantity.MEMORY_TEMPERATURE,
        Quantity.BOARD_POWER,
        Quantity.CORE_CLOCK,
        Quantity.MEMORY_CLOCK,
        Quantity.CORE_VOLTAGE,
        Quantity.FAN_SPEED,
        Quantity.FAN_DUTY,
        Quantity.UTILIZATION,
    }
)


def _check_sensors(sensors: Sequence[Sensor], doc: YamlDoc, problems: Problems) -> None:
    """Report two sensors of one quantity that count from the same day."""
    first: dict[tuple[Quantity, dt.date | None], Span] = {}
    for i, sensor in enumerate(sensors):
        where, key = doc.value("sensors", i, "quantity"), (sensor.quantity, sensor.from_)
        if key in first:
            message = f'sensor for "{sensor.quantity}" is listed twice, first on line {first[key].line}'
            hint = "keep one of them, or say with from: the day on which the later one took its place"
            problems.error("duplicate-id", where, message, hint)
        first.setdefault(key, where)


def _check_protocol(protocol: Protocol, doc: YamlDoc, problems: Problems) -> None:
    band = protocol.ambient
    if band.min_c >= band.max_c:
        where = doc.value("ambient", "max_c" if "max_c" in band.model_fields_set else "min_c")
        message = f"expected an ambient band from low to high, found {band.min_c:g} to {band.max_c:g} °C"
        problems.error("bad-value", where, message)


def _check_bench(bench: Bench, doc: YamlDoc, problems: Problems) -> None:
    _check_sensors(bench.sensors, doc, problems)
    readers = [(r.id, doc.value("readers", i, "id")) for i, r in enumerate(bench.readers)]
    _check_distinct("reader", readers, problems)
    for i, reader in enumerate(bench.readers):
        if reader.time:
            _check_time(reader.time, doc, i, problems)


def _check_distinct(noun: str, names: Iterable[tuple[str, Span]], problems: Problems) -> None:
    first: dict[str, Span] = {}
    for name, where in names:
        if name in first:
            message = f"{noun} {quoted(name)} is listed twice, first on line {first[name].line}"
            problems.error("duplicate-id", where, message, "keep one of them, or give one another name")
        first.setdefault(name, where)


def _check_time(time: TimeColumn, doc: YamlDoc, index: int, problems: Problems) -> None:
    if time.zone is not None and not _is_zone(time.zone):
        message = f'"zone": expected a time zone as Europe/Vienna, found {quoted(time.zone)}'
        hint = nearest(time.zone, sorted(available_timezones()))
        problems.error("bad-value", doc.value("readers", index, "time", "zone"), message, hint)
    if time.date is not None and time.kind == "elapsed":
        message = f'"date": expected a time of day beside the dates of {quoted(time.date)}, found elapsed time'
        where = doc.value("readers", index, "time", "date")
        problems.error("bad-value", where, message, "set kind: timestamp")
    if time.format is not None and not _is_format(time.format):
        message = f'"format": expected a time format as %Y-%m-%d %H:%M:%S, found {quoted(time.format)}'
        problems.error("bad-value", doc.value("readers", index, "time", "format"), message)


def _is_zone(name: str) -> bool:
    try:
        ZoneInfo(name)
    except (ValueError, OSError, LookupError):
        return False
    return True


def _is_format(text: str) -> bool:
    """Whether a time written in this format can be read back."""
    sample = dt.datetime(2026, 4, 18, 14, 5, tzinfo=dt.UTC)
    try:
        # A repeated directive surfaces as an error of the expression that the library builds.
        dt.datetime.strptime(sample.strftime(text), text)  # noqa: DTZ007 - only asked whether it can be read
    except (ValueError, re.error):
        return False
    return "%" in text.replace("%%", "")


def _check_episode(episode: Episode, doc: YamlDoc, problems: Problems) -> None:
    if episode.length is None:
        return
    length = seconds_into(episode.length)
    for i, moment in enumerate(episode.moments):
        if seconds_into(moment.at) > length:
            message = f'"at": expected a moment within the video\'s length, {episode.length}, found {moment.at}'
            problems.error("bad-value", doc.value("episode", "moments", i, "at"), message)


# --- the runs of a bundle: cuts, repeated runs, and one stretch of a log used twice


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

    @property
    def logs(self) -> tuple[NamedFile, ...]:
        """The run's own logs, the short form first."""
        log = self.text("log")
        short = (NamedFile(file=log, where=self.where("log")),) if log else ()
        return (*short, *_sources(self.doc, self.trail, self.raw))

    def text(self, field: str) -> str | None:
        """Return a field's text, or None where it holds none or was already reported."""
        return _sound_text(self.doc, self.trail, self.raw, field)

    def where(self, field: str) -> Span:
        """Return where a field's value stands."""
        return self.doc.value(*self.trail, field)


@dataclass(frozen=True, kw_only=True)
class NamedFile:
    """A file that a bundle names, and where."""

    file: str
    where: Span


def named_files(doc: YamlDoc) -> Iterator[NamedFile]:
    """Return every log and frame file that a bundle names, in file order within each mount."""
    for m, mount in _items(doc.data.get("mounts")):
        yield from _sources(doc, ("mounts", m), mount)
    for draft in drafts(doc):
        yield from draft.logs
        if frames := draft.text("frames"):
            yield NamedFile(file=frames, where=draft.where("frames"))


def _sources(doc: YamlDoc, trail: Trail, raw: dict[str, Json]) -> Iterator[NamedFile]:
    for i, source in _items(raw.get("logs")):
        at = (*trail, "logs", i)
        if file := _sound_text(doc, at, source, "file"):
            yield NamedFile(file=file, where=doc.value(*at, "file"))


def _sound_text(doc: YamlDoc, trail: Trail, raw: dict[str, Json], field: str) -> str | None:
    value = raw.get(field)
    return value if isinstance(value, str) and value and not doc.is_broken((*trail, field)) else None


def drafts(doc: YamlDoc) -> Iterator[Draft]:
    """Return every run that a bundle file lists, in file order."""
    for m, mount in _items(doc.data.get("mounts")):
        for r, raw in _items(mount.get("runs")):
            name = f"m{m + 1}/{raw.get('point')}"
            try:
                run = Run.model_validate_json(json.dumps(raw), by_alias=True, by_name=False)
            except ValidationError:
                run = None
            yield Draft(doc=doc, trail=("mounts", m, "runs", r), name=name, raw=raw, run=run)


def _items(value: Json) -> Iterator[tuple[int, dict[str, Json]]]:
    if isinstance(value, list):
        yield from ((i, item) for i, item in enumerate(value) if isinstance(item, dict))


def check_runs(doc: YamlDoc, problems: Problems) -> None:
    """Report cuts out of order, a test point run twice in one mount, and runs that share a stretch of a log."""
    written = tuple(drafts(doc))
    for draft in written:
        _check_source(draft, problems)
        if draft.run:
            _check_cut(draft, draft.run, problems)
            _check_readings(draft, draft.run, problems)
    repeated = _check_repeats(written, problems)
    sound = [d for d in written if d.trail not in repeated]
    _check_shared([(d, named) for d in sound for named in d.logs[:1]], problems)
    frames = ((d, d.text("frames")) for d in sound)
    _check_shared([(d, NamedFile(file=f, where=d.where("frames"))) for d, f in frames if f], problems)


_OF_A_LOG = ("log", "logs", "frames", "from", "to", "skip_frames", "ambient_c")


def _check_source(draft: Draft, problems: Problems) -> None:
    """Report a run without any figures of its own, and one that has both a log and readings by hand."""
    if "readings" not in draft.raw:
        if draft.raw.get("logs") in (None, []) and "log" not in draft.raw:
            message = f'field "log" of {draft.name} is missing'
            hint = "log: file name of the log, in the bundle's folder; or readings: what was read by hand"
            problems.error("missing-field", draft.doc.where(*draft.trail), message, hint)
        return
    beside = next((field for field in _OF_A_LOG if field in draft.raw), None)
    if beside:
        message = f'"{beside}" stands beside readings: a run has a log, or what was read by hand'
        cure = "write ambient_temperature below readings" if beside == "ambient_c" else "remove one of them"
        problems.error("log-and-readings", draft.doc.where(*draft.trail, beside), message, cure)


def _check_readings(draft: Draft, run: Run, problems: Problems) -> None:
    """Report readings that cannot be, one that is no mean, and a run whose room nobody read."""
    readings = run.readings or {}
    for quantity, reading in readings.items():
        where, bounds = draft.doc.value(*draft.trail, "readings", str(quantity)), POSSIBLE[quantity.unit]
        if quantity is Quantity.FRAME_TIME:
            problems.error("bad-value", where, "a single frame time says nothing of a run", "write frame_rate")
        elif not bounds.low <= reading <= bounds.high:
            unit = SYMBOLS[quantity.unit]
            wide = f"{bounds.low:g} to {bounds.high:g} {unit}"
            message = f"{draft.name}: {reading} {unit} is no possible {quantity} ({wide})"
            problems.error("impossible-value", where, message, f"check the digits; readings are in {unit}")
    if readings and Quantity.AMBIENT_TEMPERATURE not in readings:
        message = f"{draft.name}: readings without the room's temperature give no rise over ambient"
        hint = "add ambient_temperature to the readings; without it the run compares with nothing"
        problems.warning("readings-without-ambient", draft.where("readings"), message, hint)


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
    named: NamedFile
    clock: str
    start: float
    end: float


def _check_shared(written: Iterable[tuple[Draft, NamedFile]], problems: Problems) -> None:
    """Report runs that take the same stretch of one file, each given with the file that it takes."""
    by_file: dict[str, list[_Stretch]] = defaultdict(list)
    for draft, named in written:
        if stretch := _stretch(draft, named):
            by_file[named.file.removeprefix("./")].append(stretch)
    for stretches in by_file.values():
        # Cuts of different kinds cannot be compared before the log is read.
        clocks = {s.clock for s in stretches if s.clock != "every"} or {"every"}
        for clock in sorted(clocks):
            _check_overlaps([s for s in stretches if s.clock in (clock, "every")], problems)


def _check_overlaps(stretches: list[_Stretch], problems: Problems) -> None:
    in_time = sorted(stretches, key=lambda s: s.start)
    reach = in_time[0]
    for stretch in in_time[1:]:
        if stretch.start < reach.end:
            first, second = sorted((reach, stretch), key=lambda s: (s.draft.mount, s.draft.trail[3]))
            used = f"is used by {first.draft.name} too, on line {first.named.where.line}"
            message = f'"{second.named.file}" {used}, for the same stretch of time'
            hint = "name another file, or cut the runs apart with from and to"
            problems.error("overlapping-runs", second.named.where, message, hint)
        reach = max(reach, stretch, key=lambda s: s.end)


def _stretch(draft: Draft, named: NamedFile) -> _Stretch | None:
    """Return the stretch of a sound run, or None where its cuts were reported."""
    if draft.run is None:
        return None
    start, end = draft.run.from_, draft.run.to
    clocks = {_clock(cut) for cut in (start, end) if cut is not None}
    first = -math.inf if start is None else _seconds(start)
    last = math.inf if end is None else _seconds(end)
    if len(clocks) > 1 or first >= last:
        return None
    return _Stretch(draft=draft, named=named, clock="".join(clocks) or "every", start=first, end=last)


def _clock(cut: float | dt.datetime) -> str:
    if isinstance(cut, dt.datetime):
        return "local" if cut.tzinfo is None else "zoned"
    return "elapsed"


def _seconds(cut: float | dt.datetime) -> float:
    """Return seconds that order cuts of one clock; a local time is taken as if it were UTC."""
    if isinstance(cut, dt.datetime):
        return (cut if cut.tzinfo else cut.replace(tzinfo=dt.UTC)).timestamp()
    return cut
