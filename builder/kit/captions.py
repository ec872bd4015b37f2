"""Figures that a script links, with the moment at which each is said."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

from builder.kit.description import short_time
from builder.model import Episode
from builder.quantity import NO_BREAK, format_estimate
from builder.speech import Linked, Moment, Truth, suggestion

COLUMNS = ("moment", "heading", "line", "said", "computed", "spoken", "figure", "problem")
_START = "0:00"


@dataclass(frozen=True, kw_only=True)
class Caption:
    """One linked figure: moment (empty where unknown), heading, line of the script, and what was said and computed."""

    moment: str
    heading: str
    line: int
    said: str
    computed: str
    spoken: str
    figure: str
    problem: str  # code of what is wrong with it, empty where nothing is

    @property
    def row(self) -> tuple[str | int, ...]:
        """Return the caption in the order of COLUMNS."""
        return tuple(getattr(self, column) for column in COLUMNS)


def captions(linked: Sequence[Linked], episode: Episode | None) -> tuple[Caption, ...]:
    """Return the figures of a script in order; a heading without a time takes that of the episode's moment it names."""
    times = {m.label.casefold(): m.at for m in episode.moments} if episode else {}
    found = [_caption(one, times) for one in linked]
    timed = any(caption.moment for caption in found)
    # Words before the first time are spoken from the beginning.
    return tuple(replace(caption, moment=caption.moment or _START) if timed else caption for caption in found)


def _caption(one: Linked, times: Mapping[str, str]) -> Caption:
    truth = one.answer if isinstance(one.answer, Truth) else None
    headings = one.link.headings
    return Caption(
        moment=next((at for heading in reversed(headings) if (at := _time(heading, times))), ""),
        heading=headings[-1].label if headings else "",
        line=one.link.line,
        said=" ".join(one.link.words.split()),
        computed=format_estimate(truth.value, sign=truth.address.relative).replace(NO_BREAK, " ") if truth else "",
        spoken=suggestion(truth) if truth else "",
        figure=one.link.target,
        problem=one.problem.code if one.problem else "",
    )


def _time(heading: Moment, times: Mapping[str, str]) -> str:
    at = heading.at or times.get(heading.label.casefold(), "")
    return short_time(at) if at else ""
