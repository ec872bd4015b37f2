"""The check of scripts and notes: every linked figure against the computed one, and numbers without a link."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from builder.archive.bundle import seconds_into
from builder.comparison import Tested
from builder.core.errors import Problem, Severity, Span
from builder.narration.claim_judging import excused, judge
from builder.narration.link_values import Answer, NotFound, Truth, look_up
from builder.narration.links import GRAMMAR, FigureLink, Passage, read_markdown
from builder.narration.numbers import spoken_numbers

UNCHECKED = "unchecked-number"
_SHOWN = 3  # unlinked numbers that a notice names


@dataclass(frozen=True, kw_only=True)
class Linked:
    """A link to a figure with what it stands for, and what is wrong with it."""

    link: FigureLink
    answer: Answer
    problem: Problem | None


@dataclass(frozen=True, kw_only=True)
class Unlinked:
    """A number with a unit that carries no link."""

    where: Span
    text: str


@dataclass(frozen=True, kw_only=True)
class Words:
    """A text to be checked: file relative to the archive, bundle that it belongs to (empty for none), and text."""

    file: str
    bundle: str
    text: str


@dataclass(frozen=True, kw_only=True)
class CheckedWords:
    """What a script or notes hold: linked figures in order, problems, and numbers without a link."""

    linked: tuple[Linked, ...]
    problems: tuple[Problem, ...]
    unlinked: tuple[Unlinked, ...]


def check_words(words: Words, tested: Tested) -> CheckedWords:
    """Return what a script or notes hold, with every claim checked against the archive's figures."""
    document = read_markdown(words.text)
    linked = tuple(_linked(words, link, tested) for link in document.links)
    problems = (
        *(
            Problem(
                code="unknown-figure",
                where=Span(file=words.file, line=passage.line),
                message=f'"{passage.text}" is not a link: an address holds no spaces',
                hint=f"write {GRAMMAR}",
            )
            for passage in document.broken
        ),
        *(one.problem for one in linked if one.problem),
        *_past_the_end(words, document.times, tested),
    )
    unlinked = tuple(_unlinked(words.file, document.passages))
    notice = (_notice(words.file, unlinked),) if unlinked else ()
    return CheckedWords(linked=linked, problems=(*problems, *notice), unlinked=unlinked)


def _past_the_end(words: Words, times: Sequence[Passage], tested: Tested) -> Iterator[Problem]:
    episode = tested.setup(words.bundle).bundle.episode if words.bundle else None
    if episode is None or episode.length is None:
        return
    for time in (t for t in times if seconds_into(t.text) > seconds_into(episode.length)):
        message = f"{time.text} is past the end of the video, whose length is {episode.length}"
        hint = "mend the time in the heading, or episode.length in bundle.yaml"
        yield Problem(code="moment-past-end", where=Span(file=words.file, line=time.line), message=message, hint=hint)


def _linked(words: Words, link: FigureLink, tested: Tested) -> Linked:
    answer = look_up(link.target, words.bundle, tested)
    where = Span(file=words.file, line=link.line)
    if isinstance(answer, NotFound):
        problem = Problem(code="unknown-figure", where=where, message=answer.message, hint=answer.hint)
        return Linked(link=link, answer=answer, problem=problem)
    found = judge(link.words, answer)
    if found and isinstance(answer, Truth):
        found = excused(found, link.words, answer, tested)
    return Linked(link=link, answer=answer, problem=Problem(where=where, **vars(found)) if found else None)


def _unlinked(file: str, passages: Sequence[Passage]) -> Iterator[Unlinked]:
    for passage in passages:
        for number in spoken_numbers(passage.text):
            if number.unit:
                line = passage.line + passage.text.count("\n", 0, number.start)
                yield Unlinked(where=Span(file=file, line=line), text=" ".join(number.text.split()))


def _notice(file: str, unlinked: Sequence[Unlinked]) -> Problem:
    count = "1 number" if len(unlinked) == 1 else f"{len(unlinked)} numbers"
    first = ", ".join(f'line {found.where.line} "{found.text}"' for found in unlinked[:_SHOWN])
    more = f" and {len(unlinked) - _SHOWN} more" if len(unlinked) > _SHOWN else ""
    return Problem(
        code=UNCHECKED,
        where=Span(file=file, line=unlinked[0].where.line),
        message=f"{count} without a link to a figure: {first}{more}",
        hint="a link such as [32.9 K](figure:stock/core_rise) has the number checked",
        severity=Severity.NOTICE,
    )
