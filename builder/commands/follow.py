"""`soakbook reduce --follow`: watches the log of a run that is being made, until the run has settled."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator
from dataclasses import dataclass, field, replace
from enum import StrEnum
from pathlib import Path

import numpy as np
from rich.console import RenderableType

from builder.archive import load_sound_parts, why_not
from builder.archive.bundle import Run
from builder.archive.catalogue import Setup
from builder.archive.protocol import TestPoint
from builder.commands.reduce import run_view
from builder.commands.reduce_archive import find_run
from builder.core.errors import Problem, Problems, SoakbookError, Span
from builder.core.files import read_bytes
from builder.core.quantity import format_number
from builder.core.results import FIGURES, Quantity, RunResult, Settlement, Verdict
from builder.logs import LogTable, read_log
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
    """The run that is watched, with all it is judged by; `file` is its log, relative to the archive."""

    root: Path
    setup: Setup
    mount: int
    run: Run
    point: TestPoint
    file: str

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
    file = f"bundles/{bundle_id}/{named.run.log}"
    return Target(root=root, setup=setup, mount=named.mount, run=named.run, point=point, file=file)


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
class Watch:
    """What is known of a growing log; `look` reads it once more."""

    target: Target
    clock: Callable[[], float]  # s, from any beginning
    patience_s: float = PATIENCE_S
    content: bytes = b""  # whole lines, as they were read last
    judged_content: bytes = b""
    judge_at: float = -math.inf  # on the clock; judging waits until then
    grown_at: float | None = None  # on the clock
    samples: int = 0
    step_s: float = 0.0  # between two samples
    last: Report | None = None
    announced: set[str] = field(default_factory=set)

    def look(self) -> Report | None:
        """Return a report where there is something new to say. Raises SoakbookError for a log that may not be read."""
        data = self._read()
        if data is None:
            if self.content:
                return self._restarted("The log is gone. Waiting for a new one.")
            return self._waiting("no log", f"No log yet: waiting for {self.target.file}.")
        content = whole_lines(data)
        if not content.startswith(self.content):
            return self._restarted("The log was replaced or cut short. Watching starts again.")
        self.announced.discard("no log")
        self.content = content
        self.grown_at = self.clock() if self.grown_at is None else self.grown_at
        if content != self.judged_content:
            return self._judge(content) if self.clock() >= self.judge_at else None
        return self._stalled()

    def _read(self) -> bytes | None:
        problems = Problems()
        data = read_bytes(self.target.root, self.target.file, problems, Span(file=self.target.file))
        if data is None and any(p.code not in ("missing-file", "unreadable-file") for p in problems):
            raise SoakbookError(problems)
        return data

    def _waiting(self, why: str, message: str) -> Report | None:
        """Return a report that is given once for each reason to wait."""
        if why in self.announced:
            return None
        self.announced.add(why)
        return Report(state=State.WAITING, message=message)

    def _restarted(self, message: str) -> Report:
        self.content = self.judged_content = b""
        self.samples, self.step_s, self.grown_at, self.last = 0, 0.0, None, None
        self.judge_at = -math.inf
        self.announced.add("no log")
        return Report(state=State.RESTARTED, message=message)

    def _judge(self, content: bytes) -> Report | None:
        began = self.clock()
        self.judged_content = content
        problems = Problems()
        table = read_log(content, file=self.target.file, readers=self.target.setup.bench.readers, problems=problems)
        if table is None:
            self.last = Report(state=State.UNREADABLE, message="", problems=tuple(problems))
        report = self._judge_run(table) if table else self._stalled()
        ended = self.clock()
        self.judge_at = ended + max(SPEAK_S, COST_SHARE * (ended - began))
        return report

    def _judge_run(self, table: LogTable) -> Report | None:
        if table.time_s.size > self.samples:
            self.grown_at = self.clock()
        self.samples, self.step_s = int(table.time_s.size), median_step(table)
        start, end = self.target.run.from_, self.target.run.to
        part = table
        if start is not None or end is not None:
            try:
                part = table.cut(start, end)
            except ValueError:
                return self._waiting("cut", "The log has not reached the beginning of this run yet.")
        self.last = judge(self.target, part)
        if self.last.state is State.WATCHING and end is not None and table.seconds(end) <= float(table.time_s[-1]):
            return replace(self.last, state=State.ENDED, message="The run has ended, and it has not settled.")
        return self.last

    def _stalled(self) -> Report | None:
        still_s = 0.0 if self.grown_at is None else self.clock() - self.grown_at
        if still_s <= max(self.patience_s, PATIENCE_STEPS * self.step_s):
            return None
        if self.last and self.last.problems:
            return replace(self.last, state=State.UNREADABLE, message="The log cannot be read.")
        message = f"The log has not grown for {format_number(still_s, 0)} s. Is the logger still running?"
        last = self.last or Report(state=State.STALLED, message=message)
        return replace(last, state=State.STALLED, message=message)


# --- one look at a log ---------------------------------------------------------------------------------------------


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


def judge(target: Target, table: LogTable) -> Report:
    """Return the report on a run as far as its log goes."""
    given = RunInput(mount=target.mount, run=target.run.model_copy(update={"frames": None}), table=table)
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
