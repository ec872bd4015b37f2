"""The text below a video: what it shows, when, how it was measured, who supplied it, cautions and links."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from builder.archive.safety_cautions import Caution
from builder.charts.labels import clean_text
from builder.charts.of_result import unsettled_mark
from builder.comparison import Subject, Tested
from builder.core.quantity import NO_BREAK
from builder.pages.finding import finding
from builder.pages.parts import count, day, num, plain_text
from builder.pages.sentences import disclosure, verdict_sentence

LIMIT = 5000  # characters that a description may have


@dataclass(frozen=True, kw_only=True)
class Section:
    """A part of the text: heading, lines, and when it gives way (the highest first; 0 never before the rest)."""

    heading: str
    lines: tuple[str, ...]
    yields: int


def description_text(subject: Subject, tested: Tested, cautions: Sequence[Caution], base: str) -> str:
    """Return the description, at most LIMIT characters; `base` is the site's address with a slash, or empty.

    Too long a text loses whole lines from the end of its sections: links first, then cautions, conditions, moments.
    """
    sections = [
        Section(heading="", lines=tuple(_summary(subject, tested)), yields=1),
        Section(heading="Moments", lines=tuple(_moments(subject)), yields=2),
        Section(heading="Conditions", lines=tuple(_conditions(subject)), yields=3),
        Section(heading="Method", lines=tuple(_method(subject, base)), yields=0),
        Section(heading="Disclosure", lines=tuple(x for x in [plain_text(disclosure(subject))] if x), yields=0),
        Section(heading="Cautions", lines=tuple(c.short for c in cautions), yields=4),
        Section(heading="Links", lines=tuple(_links(subject, tested, base)), yields=5),
    ]
    return fitted([_cleaned(section) for section in sections])


def _cleaned(section: Section) -> Section:
    lines = tuple(line for raw in section.lines if (line := clean_text(raw).replace(NO_BREAK, " ")))
    return Section(heading=section.heading, lines=lines, yields=section.yields)


def fitted(sections: Sequence[Section], limit: int = LIMIT) -> str:
    """Return sections as text of at most `limit` characters, without whole lines where they are too long."""
    kept = [list(section.lines) for section in sections]
    while len(text := _joined(sections, kept)) > limit:
        giving = max((s.yields, i) for i, s in enumerate(sections) if kept[i])[1]
        kept[giving].pop()
    return text


def _joined(sections: Sequence[Section], kept: Sequence[Sequence[str]]) -> str:
    blocks = (
        "\n".join([*([section.heading] if section.heading else []), *lines])
        for section, lines in zip(sections, kept, strict=True)
        if lines
    )
    text = "\n\n".join(blocks)
    return f"{text}\n" if text else ""


def _summary(subject: Subject, tested: Tested) -> Iterator[str]:
    yield subject.title
    yield from subject.bundle.summary.splitlines()
    yield finding(subject, tested).text
    verdict = plain_text(verdict_sentence(subject))
    if verdict != finding(subject, tested).text:
        yield verdict
    if mark := unsettled_mark(subject):
        yield f"Careful, {mark}."


def _moments(subject: Subject) -> Iterator[str]:
    episode = subject.bundle.episode
    for moment in episode.moments if episode else ():
        yield f"{short_time(moment.at)} {moment.label}"


def short_time(at: str) -> str:
    """Return a time as `m:ss`, or `h:mm:ss` past the hour.

    >>> short_time("06:40"), short_time("0:01:05"), short_time("1:02:03")
    ('6:40', '1:05', '1:02:03')
    """
    *front, seconds = [int(part) for part in at.split(":")]
    minutes = front[-1] + 60 * (front[0] if len(front) > 1 else 0)
    hours, minutes = divmod(minutes, 60)
    return f"{hours}:{minutes:02}:{seconds:02}" if hours else f"{minutes}:{seconds:02}"


def _conditions(subject: Subject) -> Iterator[str]:
    yield f"Card: {subject.card.name}, sample {subject.bundle.card_sample.upper()}"
    yield f"Cooler: {subject.cooler.name}, {subject.cooler.kind}"
    yield f"Tested {day(subject.bundle.tested).text}, {count(subject.result.mounts, 'mount')}"
    yield f"Bench: {subject.bench.name}"
    stock = subject.stock
    if stock and (ambient := stock.figures.get("ambient_temperature")):
        yield f"Room at {stock.name}: {num(ambient.estimate).text}"


def _method(subject: Subject, base: str) -> Iterator[str]:
    protocol = subject.protocol
    link = f" {base}methodology.html" if base else ""
    yield f"Protocol {protocol.name}, version {protocol.version}. Every ± is a 95 % interval.{link}"


def _links(subject: Subject, tested: Tested, base: str) -> Iterator[str]:
    if base:
        yield f"Every figure of this test: {base}{subject.href}"
        yield f"All coolers on the {subject.card.name}: {base}cards/{subject.bundle.card}.html"
        yield f"Corrections: {base}corrections.html"
    for link in (*subject.cooler.links, *subject.card.links):
        yield f"{link.label}: {link.url}"
    if contact := tested.catalogue.archive.contact:
        yield f"Contact: {contact}"
