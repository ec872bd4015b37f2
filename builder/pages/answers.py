"""The first screen of a result: the line above the headline, the large numbers, and how good the test was."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace

from builder.archive.bundle import Episode
from builder.archive.protocol import PointRole
from builder.comparison import Subject, Tested, against_own, group_of
from builder.core.quantity import NO_BREAK, Estimate
from builder.core.results import PointResult, Verdict
from builder.narration import spoken
from builder.pages.finding import Finding, Outcome, degrees
from builder.pages.parts import Line, Num, Outside, Unit, count, day, num, point_name, setting

LITTLE = 5.0  # percent of the frames that nobody misses; common practice, no source
_SUPPLIED = {
    "bought": "bought by the channel",
    "maker sample": "maker's sample",
    "loan": "on loan",
    "own work": "the channel's own work",
}


@dataclass(frozen=True, kw_only=True)
class OwnRoom:
    """What a script needs for the core's temperature in a reader's room: rise in K, reference room in °C."""

    rise: float
    room: float


@dataclass(frozen=True, kw_only=True)
class Answer:
    """One of the large numbers: its digits, what they are, whether it leads, and the room that a reader may change."""

    number: Num
    label: Line
    leads: bool = False
    room: OwnRoom | None = None


def byline(subject: Subject, moment_url: str) -> Line:
    """Return kind of cooler, where it came from, the day, the episode, and the link into the video."""
    bundle = subject.bundle
    origin: Line = (f" · {_SUPPLIED[str(bundle.supplied_by)]}",) if bundle.supplied_by else ()
    start: Line = (str(subject.cooler.kind), *origin, " · tested ", day(bundle.tested))
    return (*start, *_episode(bundle.episode, moment_url)) if bundle.episode else start


def _episode(episode: Episode, moment_url: str) -> Iterator[str | Num | Outside]:
    if episode.number is not None:
        yield f" · episode {episode.number}"
    if episode.url is None:
        return
    led = next((m for m in episode.moments if m.results), None)
    yield " · "
    if led:
        yield Outside(text=f"Watch the results, {led.at}", url=moment_address(episode.url, led.at, moment_url))
    else:
        yield Outside(text="Watch the episode", url=episode.url)


def moment_address(url: str, at: str, template: str) -> str:
    """Return the address of a moment of a video, by the archive's template.

    >>> moment_address("https://video.example/e31", "6:40", "{url}#t={seconds}")
    'https://video.example/e31#t=400'
    """
    seconds = 0
    for part in at.split(":"):
        seconds = 60 * seconds + int(part)
    return template.replace("{seconds}", str(seconds)).replace("{url}", url)


def answers(found: Finding, tested: Tested) -> tuple[Answer, ...]:
    """Return the large numbers; none where the result has no figure that may lead."""
    return tuple(_answers(found, tested)) if found.outcome is not Outcome.NONE else ()


def _answers(found: Finding, tested: Tested) -> Iterator[Answer]:
    stock = found.subject.stock
    if stock is None or found.rise is None:
        return
    less = found.against.difference if found.against else None
    if less:
        way = "cooler" if less.value < 0 else "warmer"
        size = _without_unit(num(replace(less, value=abs(less.value))))
        doubt = "" if found.outcome is not Outcome.NO_DIFFERENCE else ", too close to call"
        yield Answer(number=size, label=(f"degrees {way} than the card's own cooler{doubt}",), leads=True)
    power = stock.figures.get("board_power")
    at: Line = (" at ", setting(round(power.estimate.value), "W")) if power else ()
    yield Answer(number=_without_unit(num(found.rise)), label=("degrees above the room", *at), leads=less is None)
    room = tested.catalogue.archive.reference.ambient_c
    there = replace(found.rise, value=found.rise.value + room, unit="degC")
    yield Answer(
        number=num(there),
        label=("the core in a room of ",),
        room=OwnRoom(rise=round(found.rise.value, 3), room=room),
    )
    yield from _frames(found.subject, tested)
    if sound := stock.figures.get("sound_level"):
        yield Answer(number=num(sound.estimate), label=("sound, at the bench's distance",))


def _frames(subject: Subject, tested: Tested) -> Iterator[Answer]:
    stock = subject.stock
    rate = stock.figures.get("frame_rate") if stock else None
    if stock is None or rate is None:
        return
    against = against_own(tested, group_of(tested, subject.id, stock.point), subject.id, "frame_rate")
    said = ""
    if against and against.difference:
        said = _more_or_fewer(against.difference) if against.apart else ": no measurable change"
    yield Answer(number=_without_unit(num(rate.estimate)), label=(f"frames per second{said}",))


def _more_or_fewer(difference: Estimate) -> str:
    return f": {'more' if difference.value > 0 else 'fewer'} than with the card's own cooler"


def _without_unit(number: Num) -> Num:
    return replace(number, unit=Unit(text=""))


def quality(subject: Subject) -> Line:
    """Return in one line how good the test was: runs settled, stock repeated at the end, mounts."""
    points = [p for p in subject.result.points if subject.role(p.point) is not PointRole.IDLE]
    unsettled = [p for p in points if p.verdict not in (Verdict.SETTLED, Verdict.BY_HAND)]
    runs = "every run settled" if not unsettled else f"{count(len(unsettled), 'setting')} not settled"
    mounted = "mounted once" if subject.result.mounts == 1 else f"mounted {subject.result.mounts} times"
    return ("Checked: ", runs, *_repeated(subject), f"; {mounted}.")


def _repeated(subject: Subject) -> Line:
    closing = next((p for p in subject.result.points if subject.role(p.point) is PointRole.CLOSING), None)
    change = closing.changes.get("core_rise") if closing else None
    if closing is None or change is None or closing.verdict is not Verdict.SETTLED:
        return ()
    same = abs(change.absolute.value) <= change.absolute.expanded()
    said = "gave the same" if same else "differed"
    return (f"; the first run, repeated at the end, {said} (", num(change.absolute, sign=True), ")")


def less_power(subject: Subject) -> Line:
    """Return what a lowered limit saves and costs: the lowest that costs little, in degrees and in frames."""
    limits = [
        p
        for p in subject.result.points
        if subject.role(p.point) is PointRole.POWER_LIMIT and p.verdict is Verdict.SETTLED and "core_rise" in p.changes
    ]
    if not limits:
        return ()
    cheap = [p for p in limits if (lost := _frames_lost(p)) is not None and lost <= LITTLE]
    by_cooling = sorted(cheap or limits, key=lambda p: p.changes["core_rise"].absolute.value)
    shown = by_cooling[0 if cheap else -1]
    cooler = shown.changes["core_rise"].absolute
    if abs(cooler.value) <= cooler.expanded():
        return (point_name(shown.name), ": no measurable change of temperature.")
    way = "cooler" if cooler.value < 0 else "warmer"
    return (point_name(shown.name), ": ", degrees(cooler), f" degrees {way}", *_for_frames(shown), ".")


def _frames_lost(point: PointResult) -> float | None:
    """Return the loss of frames in percent, None where it was not measured."""
    change = point.changes.get("frame_rate")
    return -change.percent.value if change and change.percent else None


def _for_frames(point: PointResult) -> Line:
    change = point.changes.get("frame_rate")
    percent = change.percent if change else None
    if percent is None:
        return ()
    if abs(percent.value) <= percent.expanded():
        return (", and no measurable loss of frames",)
    return (" for ", spoken(abs(percent.value), "percent").replace(" percent", f"{NO_BREAK}%"), " of the frames")
