"""`soakbook reduce --follow`: watches the logs of a run that is being made, until the run has settled."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, field, replace
from enum import StrEnum
from pathlib import Path

import numpy as np
from rich.console import RenderableType

from builder.archive import load_sound_parts, why_not
from builder.archive.catalogue import Setup
from builder.archive.protocol import TestPoint
from builder.commands.reduce import run_view
from builder.commands.reduce_archive import NamedRun, find_run, run_logs
from builder.core.errors import Problem, Problems, SoakbookError, Span, errors_among
from builder.core.files import read_bytes
from builder.core.quantity import format_number
from builder.core.results import FIGURES, Quantity, RunResult, Settlement, Verdict
from builder.core.words import listed
from builder.logs import LogTable, read_log, unpacked
from builder.reduction import RunInput, reduce_run
from builder.reduction.inputs import channel, settle_rule
from builder.settling import SettleRule
from builder.settling.cleaning import load_start
from builder.site.records import Record, run_record

LOOK_S = 0.5  # between looks at the file
SPEAK_S = 2.0  # between reports
PATIENCE_S = 30.0
PATIENCE_STEPS = 10
COST_SHARE = 5.0  # judging takes at most about a sixth of the time
_MINUTE_S = 60.0
_CLOSE = 0.2  # share of the limit that noise always leaves for the approach


class State(StrEnum):
    """What is said of a log that is being watched; the last four end the watch."""

    WAITING = "waiting"
    WATCHING = "watching"
    RESTARTED = "restarted"
    SETTLED = "settled"
    STALLED = "stalled"
    ENDED = "ended"  # the run's own end, `to`, has passed
    UNREADABLE = "unreadable"

    @property
    def final(self) -> bool:
        """Whether nothing more is to be expected."""
        return self in (State.SETTLED, State.STALLED, State.ENDED, State.UNREADABLE)


@dataclass(frozen=True, kw_only=True)
class Report:
    """One report: a state with a sentence; the run so far, its length in s and what it probably still needs in s.

    `left_s` is None where nothing can be said; `problems` say why a log cannot be read.
    """

    state: State
    message: str
    run: RunResult | None = None
    length_s: float = 0.0
    left_s: float | None = None
    problems: tuple[Problem, ...] = ()

    def record(self, *, budget: bool) -> Record | None:
        """Return the run so far as `--json` prints it; None before anything could be judged."""
        return run_record(self.run, budget=budget) if self.run else None

    def view(self, title: str, *, budget: bool) -> RenderableType | None:
        """Return the run so far with all its figures; None before anything could be judged."""
        return run_view(self.run, title, budget=budget) if self.run else None

    @property
    def restarted(self) -> bool:
        """Whether what was known of the log is no longer true."""
        return self.state is State.RESTARTED

    def problem(self, file: str) -> Problem:
        """Return why the watch ended without a settled run."""
        hint = "start the logger, or the run once more; the log as it is can be read with reduce --run"
        return Problem(code=f"log-{self.state}", where=Span(file=file), message=self.message, hint=hint)


@dataclass(frozen=True, kw_only=True)
class Target:
    """The run that is watched, with all it is judged by."""

    root: Path
    setup: Setup
    named: NamedRun
    point: TestPoint

    @property
    def files(self) -> tuple[str, ...]:
        """Return its logs, relative to the archive."""
        return tuple(f"bundles/{self.setup.id}/{log.source.file}" for log in self.named.logs)

    @property
    def rule(self) -> SettleRule:
        """Return the rule by which it settles."""
        protocol = self.setup.protocol
        limits = protocol.liquid if self.setup.cooler.kind.liquid else protocol.air
        return settle_rule(limits, self.point, coolant_tau_s=protocol.liquid.tau_s)


def find_target(root: Path, bundle_id: str, name: str) -> Target:
    """Return the run `m1/stock` of a bundle; its log may not exist yet. Raises SoakbookError."""
    problems = Problems()
    loaded = load_sound_parts(root, problems, growing=bundle_id)
    if loaded is None:
        raise SoakbookError(problems)
    if bundle_id not in loaded.catalogue.bundles:
        raise SoakbookError(why_not(loaded, bundle_id, problems))
    named = find_run(loaded, bundle_id, name, place=" in bundle.yaml")
    setup = loaded.catalogue.setup(bundle_id)
    point = next(p for p in setup.protocol.points if p.id == named.run.point)
    if named.run.by_hand:
        message, hint = "this run has readings by hand, and no log to follow", "write log: with the log's file name"
        raise SoakbookError([Problem(code="no-log", where=named.where, message=message, hint=hint)])
    return Target(root=root, setup=setup, named=named, point=point)


def follow(
    target: Target, *, clock: Callable[[], float], pause: Callable[[float], None], patience_s: float = PATIENCE_S
) -> Iterator[Report]:
    """Give reports until one is final. `clock` is any steady count of seconds, `pause` waits for some."""
    watch = Watch(target=target, clock=clock, patience_s=patience_s)
    while True:
        report = watch.look()
        if report:
            yield report
            if report.state.final:
                return
        pause(LOOK_S)


@dataclass(kw_only=True)
class GrowingLog:
    """One of the logs as it was read last: its whole lines and its samples."""

    file: str
    content: bytes = b""
    samples: int = 0
    step_s: float = 0.0  # between two samples
    grown_at: float | None = None  # on the clock

    def take(self, content: bytes, now: float) -> None:
        """Keep what was read."""
        self.content = content
        self.grown_at = now if self.grown_at is None else self.grown_at

    def count(self, table: LogTable, now: float) -> None:
        """Keep how many samples there are."""
        if table.time_s.size > self.samples:
            self.grown_at = now
        self.samples, self.step_s = int(table.time_s.size), median_step(table)


@dataclass(kw_only=True)
class Watch:
    """What is known of a run's growing logs; `look` reads them once more."""

    target: Target
    clock: Callable[[], float]  # s, from any beginning
    patience_s: float = PATIENCE_S
    logs: tuple[GrowingLog, ...] = ()
    judged: tuple[bytes, ...] = ()  # the contents that were judged last
    judge_at: float = -math.inf  # on the clock; judging waits until then
    last: Report | None = None
    announced: set[str] = field(default_factory=set)

    def __post_init__(self) -> None:
        """Begin with nothing read."""
        self.logs = tuple(GrowingLog(file=file) for file in self.target.files)

    def look(self) -> Report | None:
        """Return a report where there is something new to say. Raises SoakbookError for a log that may not be read."""
        read = [self._read(log.file) for log in self.logs]
        for log, data in zip(self.logs, read, strict=True):
            if data is None and log.content:
                return self._restarted(f"{self._called(log)} is gone. Waiting for a new one.")
        missing = [log.file for log, data in zip(self.logs, read, strict=True) if data is None]
        if missing:
            return self._waiting("no log", f"No log yet: waiting for {listed(missing)}.")
        contents = tuple(whole_lines(_plain(data)) for data in read if data is not None)
        for log, content in zip(self.logs, contents, strict=True):
            if not content.startswith(log.content):
                return self._restarted(f"{self._called(log)} was replaced or cut short. Watching starts again.")
        self.announced.discard("no log")
        for log, content in zip(self.logs, contents, strict=True):
            log.take(content, self.clock())
        if contents != self.judged:
            return self._judge(contents) if self.clock() >= self.judge_at else None
        return self._stalled()

    def _read(self, file: str) -> bytes | None:
        problems = Problems()
        data = read_bytes(self.target.root, file, problems, Span(file=file))
        if data is None and any(p.code not in ("missing-file", "unreadable-file") for p in problems):
            raise SoakbookError(problems)
        return data

    def _called(self, log: GrowingLog) -> str:
        return "The log" if len(self.logs) == 1 else log.file.rpartition("/")[2]

    def _waiting(self, why: str, message: str) -> Report | None:
        """Return a report that is given once for each reason to wait."""
        if why in self.announced:
            return None
        self.announced.add(why)
        return Report(state=State.WAITING, message=message)

    def _restarted(self, message: str) -> Report:
        self.logs = tuple(GrowingLog(file=file) for file in self.target.files)
        self.judged, self.judge_at, self.last = (), -math.inf, None
        self.announced.add("no log")
        return Report(state=State.RESTARTED, message=message)

    def _judge(self, contents: tuple[bytes, ...]) -> Report | None:
        began = self.clock()
        self.judged = contents
        problems, readers = Problems(), self.target.setup.bench.readers
        tables = [
            read_log(content, file=log.file, readers=readers, problems=problems)
            for log, content in zip(self.logs, contents, strict=True)
        ]
        whole = [table for table in tables if table]
        if len(whole) == len(tables):
            report = self._judge_run(whole)
        else:
            self.last = Report(state=State.UNREADABLE, message="", problems=tuple(problems))
            report = self._stalled()
        ended = self.clock()
        self.judge_at = ended + max(SPEAK_S, COST_SHARE * (ended - began))
        return report

    def _judge_run(self, tables: Sequence[LogTable]) -> Report | None:
        for log, table in zip(self.logs, tables, strict=True):
            log.count(table, self.clock())
        problems, run = Problems(), self.target.named.run
        logs = run_logs(self.target.named, tables, problems)
        if logs is None:
            self.last = Report(state=State.UNREADABLE, message="", problems=tuple(problems))
            return self._stalled()
        table = part = logs.card.table
        if run.from_ is not None or run.to is not None:
            try:
                part = table.cut(run.from_, run.to)
            except ValueError:
                return self._waiting("cut", "The log has not reached the beginning of this run yet.")
        joined = logs.joined(part, problems)
        if joined is None:
            self.last = Report(state=State.UNREADABLE, message="", problems=tuple(problems))
            apart = all(p.code == "logs-apart" for p in errors_among(problems))
            return (apart and self._waiting("apart", "The logs have no time in common yet.")) or self._stalled()
        self.last = judge(self.target, as_far_as_all(joined))
        if self.last.state is not State.WATCHING:
            return self.last
        if run.to is not None and table.seconds(run.to) <= float(table.time_s[-1]):
            return replace(self.last, state=State.ENDED, message="The run has ended, and it has not settled.")
        return self._stalled() or self.last

    def _stalled(self) -> Report | None:
        still = [(self._still_s(log), log) for log in self.logs]
        still_s, log = max(still, key=lambda found: found[0] - self._patience_s(found[1]))
        if still_s <= self._patience_s(log):
            return None
        if self.last and self.last.problems:
            return replace(self.last, state=State.UNREADABLE, message="The log cannot be read.")
        message = f"{self._called(log)} has not grown for {format_number(still_s, 0)} s. Is the logger still running?"
        last = self.last or Report(state=State.STALLED, message=message)
        return replace(last, state=State.STALLED, message=message)

    def _still_s(self, log: GrowingLog) -> float:
        return 0.0 if log.grown_at is None else self.clock() - log.grown_at

    def _patience_s(self, log: GrowingLog) -> float:
        return max(self.patience_s, PATIENCE_STEPS * log.step_s)


# --- one look at a log ---------------------------------------------------------------------------------------------


def _plain(data: bytes) -> bytes:
    """Return a log's bytes, unpacked where it is compressed: a growing file ends before its last block is whole."""
    found = unpacked(data, Span(file=""), Problems())
    return data if found is None else found


def whole_lines(data: bytes) -> bytes:
    r"""Return a text less a last line that is still being written, in UTF-8, UTF-16 or a one-byte encoding.

    >>> whole_lines(b"a,b\n1,2\n3,")
    b'a,b\n1,2\n'
    """
    end = {b"\xff\xfe": b"\n\x00", b"\xfe\xff": b"\x00\n"}.get(data[:2], b"\n")
    place = data.rfind(end)
    while place > 0 and place % len(end):  # in UTF-16, across two characters
        place = data.rfind(end, 0, place + len(end) - 1)
    return data[: place + len(end)] if place >= 0 else b""


def as_far_as_all(table: LogTable) -> LogTable:
    """Return a run as far as all of its logs have come: one that is written in batches would seem to miss its end."""
    ends = [float(column.read_at_s[-1]) for column in table.columns.values() if column.read_at_s is not None]
    last = int(np.searchsorted(table.time_s, min(ends, default=math.inf), side="right"))
    return table if last in (0, table.time_s.size) else table.cut(None, float(table.time_s[last]) + table.origin_s)


def judge(target: Target, table: LogTable) -> Report:
    """Return the report on a run as far as its log goes."""
    run = target.named.run.model_copy(update={"frames": None})
    given = RunInput(mount=target.named.mount, run=run, table=table)
    result = reduce_run(target.setup, given, target.point)
    length = run_length(target, given)
    left = time_left(result.settlement, target.rule, length)
    settled = result.settlement.verdict is Verdict.SETTLED
    return Report(
        state=State.SETTLED if settled else State.WATCHING,
        message=result.settlement.message if settled else _sentence(result, left),
        run=result,
        length_s=length,
        left_s=0.0 if settled else left,
    )


def run_length(target: Target, given: RunInput) -> float:
    """Return the length of a run in s, from the time at which its load begins."""
    time = given.table.time_s
    begins = load_start(time, channel(target.setup, given, Quantity.BOARD_POWER))
    return float(time[-1]) + median_step(given.table) - begins


def median_step(table: LogTable) -> float:
    """Return the median time between two samples of a log in s, 0 for a single one."""
    return float(np.median(np.diff(table.time_s))) if table.time_s.size > 1 else 0.0


def time_left(settlement: Settlement, rule: SettleRule, length_s: float) -> float | None:
    """Return how long a run probably still needs, in s; None where the data do not say.

    Soak and window first. Then, on an exponential approach, what remains falls by a factor e in each time constant, so
    it is under what the limit leaves beside the uncertainty after τ ln(remaining / that).
    """
    if settlement.verdict is Verdict.SETTLED:
        return 0.0
    if settlement.verdict is Verdict.TOO_SHORT:
        return max(rule.soak_s + rule.window_length() - length_s, 0.0)
    if settlement.remaining is None or settlement.half_width is None:
        return None
    room = max(settlement.limit_k - settlement.half_width, _CLOSE * settlement.limit_k)
    size = abs(settlement.remaining.value)
    return settlement.tau_s * math.log(size / room) if size > room else None


def _sentence(run: RunResult, left_s: float | None) -> str:
    rise = run.figures.get("core_rise") or run.figures.get("core_temperature")
    parts = [run.settlement.message]
    if rise:
        parts.append(f"{FIGURES[rise.kind].name} now {rise.text()}.")
    if left_s is not None:
        parts.append(f"Probably {minutes(left_s)} more.")
    return " ".join(parts)


def minutes(seconds: float) -> str:
    """Return a length of time in whole minutes, rounded up.

    >>> minutes(61.0), minutes(0.0)
    ('2 min', '1 min')
    """
    return f"{max(math.ceil(seconds / _MINUTE_S), 1)} min"
