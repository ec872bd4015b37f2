"""What a result found, in one sentence made from typed figures: the same on every page, in the feed and in the kit."""

from __future__ import annotations

from dataclasses import dataclass
from enum import Enum, auto

from builder.comparison import AgainstOwn, RankRow, Subject, Tested, against_own, group_of, leads, own_cooler, ranking
from builder.core.quantity import Estimate, format_number, in_fahrenheit
from builder.core.results import Verdict
from builder.narration import spoken_decimals
from builder.pages.parts import Line, Name, Num, Unit, count, joined, num, plain_text
from builder.pages.sentences import verdict_sentence

_NAMED = 3  # coolers that a sentence names before it counts the others


class Outcome(Enum):
    """What a result can say first."""

    COOLER = auto()
    WARMER = auto()
    NO_DIFFERENCE = auto()
    OWN = auto()
    ABOVE_ROOM = auto()  # nothing to compare it with
    NONE = auto()  # no figure that may lead


@dataclass(frozen=True, kw_only=True)
class Finding:
    """What a result found at standard settings.

    `against` is its difference from the card's own cooler, None without one; `rise` is the core's rise over the room.
    """

    subject: Subject
    outcome: Outcome
    rise: Estimate | None = None
    against: AgainstOwn | None = None
    by_hand: bool = False

    @property
    def headline(self) -> Line:
        """Return it after the cooler's name, which a page about the card does not repeat."""
        return (Name(text=self.subject.cooler.name), *self._said)

    @property
    def sentence(self) -> Line:
        """Return it as a sentence that stands alone."""
        if self.outcome is Outcome.NONE:
            return verdict_sentence(self.subject)
        mark = ", read by hand" if self.by_hand else ""
        return (Name(text=self.subject.cooler.name), " on ", Name(text=self.subject.card.name), *self._said, f"{mark}.")

    @property
    def short(self) -> Line:
        """Return it without any name, for a list."""
        return self._said[1:] if self.outcome is not Outcome.NONE else ("no final figure",)

    @property
    def text(self) -> str:
        """Return the sentence as plain text."""
        return plain_text(self.sentence)

    @property
    def _said(self) -> Line:
        less = self.against.difference if self.against else None
        match self.outcome:
            case Outcome.COOLER | Outcome.WARMER if less:
                way = "cooler" if self.outcome is Outcome.COOLER else "warmer"
                return (": ", degrees(less), f" degrees {way} than the card's own cooler")
            case Outcome.NO_DIFFERENCE:
                return (": ", "no measurable difference from the card's own cooler")
            case Outcome.OWN if self.rise:
                return (": ", "the card's own cooler, ", degrees(self.rise), " degrees above the room")
            case Outcome.ABOVE_ROOM if self.rise:
                return (" ", "keeps the core ", degrees(self.rise), " degrees above the room")
        return (": ", "no final figure")


def finding(subject: Subject, tested: Tested) -> Finding:
    """Return what a result found; it never claims more than its pair with the own cooler can say."""
    stock = subject.stock
    figure = stock.figures.get("core_rise") if stock and leads(stock) else None
    if stock is None or figure is None:
        return Finding(subject=subject, outcome=Outcome.NONE)
    against = against_own(tested, group_of(tested, subject.id, stock.point), subject.id)
    return Finding(
        subject=subject,
        outcome=_outcome(against),
        rise=figure.estimate,
        against=against,
        by_hand=stock.verdict is Verdict.BY_HAND,
    )


def _outcome(against: AgainstOwn | None) -> Outcome:
    if against is not None and against.is_own:
        return Outcome.OWN
    if against is None or against.difference is None:
        return Outcome.ABOVE_ROOM
    if not against.apart:
        return Outcome.NO_DIFFERENCE
    return Outcome.COOLER if against.better else Outcome.WARMER


def degrees(estimate: Estimate) -> Num:
    """Return the size of a difference of temperatures, rounded as one speaks it, in both units."""
    there = in_fahrenheit(estimate)
    return Num(
        value=_spoken(estimate),
        u="",
        unit=Unit(text=""),
        exact=abs(estimate.value),
        fahrenheit_value=_spoken(there) if there else "",
    )


def _spoken(estimate: Estimate) -> str:
    size = abs(estimate.value)
    return format_number(size, spoken_decimals(size, estimate.unit))


# --- The sentences below the headline --------------------------------------------------------------------------


def lead_sentences(found: Finding, tested: Tested) -> Line:
    """Return power and rise with the own cooler's, then who does better and who is too close to call."""
    if found.outcome is Outcome.NONE or found.rise is None:
        return verdict_sentence(found.subject)
    return (*_measured(found, tested), *_others(found, tested))


def _measured(found: Finding, tested: Tested) -> Line:
    stock = found.subject.stock
    power = stock.figures.get("board_power") if stock else None
    drew: Line = ("it drew ", num(power.estimate), ", and ") if power else ()
    settled = "was read" if found.by_hand else "settled"
    rise: Line = (num(found.rise),) if found.rise else ()
    own = _own_rise(found, tested)
    with_own: Line = ("; with the cooler that the card is sold with, ", num(own)) if own else ()
    start = "At the card's standard settings "
    return (start, *drew, f"its core {settled} ", *rise, " above the room", *with_own, ".")


def _own_rise(found: Finding, tested: Tested) -> Estimate | None:
    stock = found.subject.stock
    if found.against is None or found.against.is_own or stock is None:
        return None
    own = own_cooler(tested, group_of(tested, found.subject.id, stock.point))
    return own.member.estimate if own else None


def _others(found: Finding, tested: Tested) -> Line:
    """Say who does better and who cannot be told apart, by the order of the card's coolers."""
    stock = found.subject.stock
    if stock is None:
        return ()
    rows = ranking(tested, group_of(tested, found.subject.id, stock.point), "core_rise").rows
    mine = next((row for row in rows if found.subject.id in row.tests), None)
    if mine is None or not mine.letters or len(rows) == 1:
        return ()
    tied = [row for row in rows if row is not mine and set(row.letters) & set(mine.letters)]
    better = [row for row in rows[: rows.index(mine)] if row not in tied]
    said: Line = (" No cooler tested on this card does better",)
    if better:
        do = "does" if len(better) == 1 else "do"
        said = (f" {count(len(better), 'cooler')} {do} better: ", *_names(tested, better))
    close: Line = ("; too close to call: ", *_names(tested, tied)) if tied else ()
    return (*said, *close, ".")


def _names(tested: Tested, rows: list[RankRow]) -> Line:
    linked = (Name(text=tested.setup(r.bundle).cooler.name, href=f"results/{r.bundle}.html") for r in rows)
    names: list[Line] = [(name,) for name in linked]
    if len(names) > _NAMED + 1:
        names = [*names[:_NAMED], (count(len(names) - _NAMED, "other"),)]
    return joined(names)
