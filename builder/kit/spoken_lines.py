"""Spoken lines: each result as sentences, with numbers rounded as one speaks them and linked to their figures."""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import dataclass

from builder.archive.protocol import PointRole
from builder.comparison import Subject, Tested, group_of, ranking
from builder.core.quantity import Estimate
from builder.core.results import PointResult, Verdict
from builder.core.words import listed
from builder.narration import Address, Apart, Truth, difference_decimals, look_up, said_of, spoken, suggestion
from builder.pages.parts import day

_UNSETTLED = {
    Verdict.DRIFTING: "The run was still drifting when it ended",
    Verdict.UNDECIDED: "The log does not show whether the run had settled",
    Verdict.TOO_SHORT: "The run was too short to judge",
    Verdict.BY_HAND: "The figures were read by hand, so nobody can say whether the run had settled",
}
_ABOUT = (
    "Numbers are rounded as one speaks them, and each is linked to its figure, so that lines can go into the script "
    "as they are."
)
_MARKUP = re.compile(r"([\\`*_\[\]<>&|~#])")


def escaped(text: str) -> str:
    """Return a text that Markdown takes for nothing but text, on one line."""
    return _MARKUP.sub(r"\\\1", " ".join(text.split()))


def lines_document(subject: Subject, tested: Tested) -> str:
    """Return the spoken lines of a result as Markdown; `soakbook check` finds every number in them true."""
    parts = [
        f"# Spoken lines: {escaped(subject.title)}",
        _ABOUT,
    ]
    for point in subject.result.points:
        sentences = list(_Speaker(subject=subject, tested=tested, point=point).sentences())
        if sentences:
            parts += [f"## {escaped(point.name)}", "\n".join(f"- {s}" for s in sentences)]
    own = list(_against_own(subject, tested))
    if own:
        parts += ["## Against the card's own cooler", "\n".join(f"- {s}" for s in own)]
    others = list(_others(subject, tested))
    if others:
        parts += [f"## Against other results on the {escaped(subject.card.name)}", "\n".join(f"- {s}" for s in others)]
    return "\n\n".join(parts) + "\n"


@dataclass(frozen=True, kw_only=True)
class _Speaker:
    """Speaks of one test point."""

    subject: Subject
    tested: Tested
    point: PointResult

    def sentences(self) -> Iterator[str]:
        if not self.point.figures:
            return
        if self.point.verdict is not Verdict.SETTLED:
            yield f"{_UNSETTLED[self.point.verdict]}: say so, or leave these numbers out."
        if self.point.over_limit:
            yield "The power limit was not applied: say so, or leave these numbers out."
        if self.point.changes:
            yield from self._changes()
        else:
            yield from self._values()

    def _estimate(self, kind: str) -> Estimate | None:
        figure = self.point.figures.get(kind)
        return figure.estimate if figure else None

    def _link(self, words: str, kind: str, *, change: bool = False) -> str:
        address = Address(bundle=self.subject.id, point=self.point.point, kind=kind, change=change)
        return f"[{words}]({address.text(here=self.subject.id)})"

    def _said(self, kind: str) -> str:
        """Return a figure in words with its link, or an empty text where there is none."""
        address = Address(bundle=self.subject.id, point=self.point.point, kind=kind).text()
        truth = look_up(address, self.subject.id, self.tested) if kind in self.point.figures else None
        return self._link(suggestion(truth), kind) if isinstance(truth, Truth) else ""

    # --- values ------------------------------------------------------------------------------------------------

    def _values(self) -> Iterator[str]:
        if rise := self._said("core_rise"):
            yield f"The core sits {rise} above the room."
        parts = [(self._said(f"{part}_temperature"), part) for part in ("core", "hotspot", "memory")]
        if named := [f"{said} on the {part}" for said, part in parts if said]:
            yield f"In the room of the test that is {listed(named)}."
        if power := self._said("board_power"):
            yield f"The card draws {power}."
        if psi := self._said("core_psi") if self.subject.role(self.point.point) is PointRole.STOCK else "":
            yield f"That makes {psi}."
        yield from self._frames()
        if sound := self._said("sound_level"):
            yield f"The microphone reads {sound}."

    def _frames(self) -> Iterator[str]:
        rate, low = self._said("frame_rate"), self._said("low_1pct")
        if rate:
            yield f"It runs at {rate}{f', with a 1 % low of {low}' if low else ''}."
        if efficiency := self._said("frames_per_joule"):
            yield f"That is {efficiency}."

    # --- changes from stock ------------------------------------------------------------------------------------

    def _changes(self) -> Iterator[str]:
        yield from self._change("board_power", "The card draws", ("less", "more"), "")
        yield from self._change("core_rise", "The core is", ("cooler", "warmer"), " above the room")
        yield from self._change("frame_rate", "It runs", ("slower", "faster"), "")
        yield from self._change("sound_level", "It is", ("quieter", "louder"), "")

    def _change(self, kind: str, start: str, ways: tuple[str, str], place: str) -> Iterator[str]:
        truth = look_up(f"figure:{self.point.point}/{kind}#change", self.subject.id, self.tested)
        value = self._estimate(kind)
        if not isinstance(truth, Truth) or value is None:
            return
        if truth.apart is Apart.TOO_CLOSE:
            close = self._link(f"Too close to call{said_of(truth)}", kind, change=True)
            yield f"{close} against stock: {self._said(kind)}{place}."
            return
        way = ways[0] if truth.value.value < 0 else ways[1]
        decimals = self._decimals(kind, value, truth.value)
        far = said_of(truth)
        changed = f"{spoken(abs(truth.value.value), truth.value.unit, decimals)} {way}{far}"
        size = self._link(changed, kind, change=True)
        whole = self._link(f"{spoken(value.value, value.unit, decimals)}{far}", kind)
        yield f"{start} {size} than at stock{self._percent(kind, truth)}: {whole}{place}."

    def _decimals(self, kind: str, value: Estimate, change: Estimate) -> int:
        stock = self.subject.stock
        before = stock.figures[kind].estimate.value if stock and kind in stock.figures else value.value - change.value
        return difference_decimals(value.value, before, value.unit, change.value)

    def _percent(self, kind: str, truth: Truth) -> str:
        percent = truth.percent
        if percent is None or abs(percent.value) <= percent.expanded():
            return ""
        return f", {self._link(spoken(abs(percent.value), 'percent') + said_of(truth), kind, change=True)}"


# --- the card's own cooler, and other results ------------------------------------------------------------------


def _against_own(subject: Subject, tested: Tested) -> Iterator[str]:
    """Say at every test point how core and memory differ from the card's own cooler."""
    for point in subject.result.points:
        role = subject.role(point.point)
        if role in (PointRole.IDLE, PointRole.CLOSING):
            continue
        where = "" if role is PointRole.STOCK else f" at {escaped(point.name)}"
        for kind, part in (("core_rise", "core"), ("memory_rise", "memory")):
            address = Address(bundle=subject.id, point=point.point, kind=kind, own=True).text(here=subject.id)
            truth = look_up(address, subject.id, tested)
            if isinstance(truth, Truth):
                yield f"The {part} is {_own_words(truth, address)} the card's own cooler{where}."
                if role is PointRole.STOCK and part == "core":
                    yield from _own_share(truth, address)


def _own_words(truth: Truth, address: str) -> str:
    if truth.apart is Apart.TOO_CLOSE:
        return f"[too close to call]({address}) against"
    size = spoken(abs(truth.value.value), truth.value.unit)
    return f"[{size} {'cooler' if truth.value.value < 0 else 'warmer'}]({address}) than with"


def _own_share(truth: Truth, address: str) -> Iterator[str]:
    """Say the difference as a share of the own cooler's rise, where it can be told from none."""
    percent = truth.percent
    if percent is None or truth.apart is Apart.TOO_CLOSE or abs(percent.value) <= percent.expanded():
        return
    share = f"[{spoken(abs(percent.value), 'percent')}]({address})"
    start, end = ("That takes", "off") if percent.value < 0 else ("That adds", "to")
    yield f"{start} {share} {end} what the card's own cooler leaves above the room."


def _others(subject: Subject, tested: Tested) -> Iterator[str]:
    stock = subject.stock
    if stock is None:
        return
    for row in ranking(tested, group_of(tested, subject.id, stock.point), "core_rise").rows:
        if subject.id not in row.tests:
            yield from _against(subject, tested, stock.point, row.bundle)


def _spoken_name(tested: Tested, bundle: str) -> str:
    """Return the cooler's name, with the day in words where the archive has it more than once on this card."""
    name = tested.setup(bundle).cooler.name
    when = "" if tested.label(bundle) == name else f" that we tested on {day(tested.setup(bundle).bundle.tested).text}"
    return escaped(name) + when


def _against(subject: Subject, tested: Tested, point: str, other: str) -> Iterator[str]:
    address = Address(bundle=subject.id, point=point, kind="core_rise", other=other).text(here=subject.id)
    truth = look_up(address, subject.id, tested)
    if not isinstance(truth, Truth):
        return
    name = _spoken_name(tested, other)
    if truth.apart is Apart.TOO_CLOSE:
        yield f"[Too close to call{said_of(truth)}]({address}) against the {name}."
        return
    size = spoken(abs(truth.value.value), truth.value.unit)
    way = "cooler" if truth.value.value < 0 else "warmer"
    yield f"The core is [{size} {way}{said_of(truth)}]({address}) than with the {name}."
