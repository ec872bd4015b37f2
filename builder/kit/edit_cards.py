"""Cards for the edit: a title card with headline figures, and two results side by side."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace

from builder.charts.labels import clean_text, shorten, text_width
from builder.charts.of_result import short_name, unsettled_mark
from builder.charts.style import FONT, Palette
from builder.comparison import ByPsi, HeadToHead, NotComparable, Standing, Subject, Tested, VersusRow, leads
from builder.comparison.head_to_head import direction_words
from builder.core.quantity import (
    NO_BREAK,
    PLUS_MINUS,
    SYMBOLS,
    Estimate,
    estimate_parts,
    format_estimate,
    format_number,
)
from builder.core.results import FIGURES, Use, figures_for
from builder.core.xml import element, xml_text
from builder.pages.parts import count, day

WIDTH, HEIGHT = 1920, 1080  # units in which a card is laid out
PAD = 96
_INSIDE = WIDTH - 2 * PAD


@dataclass(frozen=True, kw_only=True)
class CardText:
    """One piece of text: its place (baseline), size, alignment (`start`, `middle`, `end`) and weight."""

    x: float
    y: float
    size: float
    text: str
    align: str = "start"
    bold: bool = False
    soft: bool = False


@dataclass(frozen=True, kw_only=True)
class Card:
    """A card: id, title and description for assistive software, texts, and heights of thin lines across it."""

    id: str
    title: str
    description: str
    texts: tuple[CardText, ...]
    rules: tuple[float, ...] = ()


def _text(  # noqa: PLR0913 - the parts of one line of text
    x: float,
    y: float,
    size: float,
    text: str,
    *,
    align: str = "start",
    bold: bool = False,
    soft: bool = False,
    room: float = _INSIDE,
) -> CardText:
    """Return a piece of text that is cut to its room."""
    # Capitals in a row are wider than the estimate, and bold text is wider still.
    fitting = shorten(clean_text(text), room, size * (1.12 if bold else 1.06))
    return CardText(x=x, y=y, size=size, text=fitting, align=align, bold=bold, soft=soft)


# --- title card ------------------------------------------------------------------------------------------------

_COLUMNS, _MOST = 3, 6


def title_card(subject: Subject, channel: str) -> Card:
    """Return the card with the result's name, how it was tested and up to six headline figures at stock."""
    stock = subject.stock if subject.stock and leads(subject.stock) else None
    kinds = [k for k in figures_for(Use.HEADLINE) if stock and k in stock.figures][:_MOST]
    figures = [(FIGURES[k].name, stock.figures[k].estimate) for k in kinds] if stock else []
    mark = unsettled_mark(subject)
    texts = [
        _text(PAD, 170, 72, subject.title, bold=True),
        _text(PAD, 245, 38, _how(subject), soft=True),
        *(piece for place, figure in enumerate(figures) for piece in _headline(place, *figure)),
        *_footer(channel, [mark] if mark else []),
    ]
    said = "; ".join(f"{name} {format_estimate(estimate)}" for name, estimate in figures)
    return Card(
        id="title",
        title=clean_text(subject.title),
        description=clean_text(f"{said or 'No final figure at stock'}. {mark}"),
        texts=tuple(texts),
        rules=(300, 970),
    )


def _how(subject: Subject) -> str:
    mounts = count(subject.result.mounts, "mount")
    at = f" at {subject.stock.name}" if subject.stock else ""
    return f"Tested {day(subject.bundle.tested).text}{at}, protocol {subject.protocol.name}, {mounts}"


def _headline(place: int, name: str, estimate: Estimate) -> Iterator[CardText]:
    width = _INSIDE / _COLUMNS
    x, y = PAD + place % _COLUMNS * width, 470 + place // _COLUMNS * 310
    parts = estimate_parts(estimate)
    symbol = SYMBOLS[estimate.unit]
    spread = f"{PLUS_MINUS}{NO_BREAK}{parts.u}{NO_BREAK}{symbol}" if parts.u else symbol
    yield _text(x, y, 120, parts.value, bold=True, room=width - 24)
    yield _text(x, y + 62, 46, spread, room=width - 24)
    yield _text(x, y + 116, 36, name, soft=True, room=width - 24)


def _footer(channel: str, marks: Sequence[str]) -> Iterator[CardText]:
    left = _text(PAD, 1022, 32, f"{channel}: every ± is a 95 % interval", soft=True, room=_INSIDE / 2 - 24)
    yield left
    room = _INSIDE - text_width(left.text, left.size * 1.06) - 48
    for index, mark in enumerate(marks):
        yield _text(WIDTH - PAD, 1022 + 42 * index, 32, mark, align="end", bold=True, room=room)


# --- side by side ----------------------------------------------------------------------------------------------

_ROWS = 6
_FIRST_ROW, _ROW = 460, 84
_NAME, _NAME_ROOM = 30, 400
_A, _B, _VERDICT = 930, 1350, 1395  # right edges of the columns of values, left edge of the verdicts


def versus_card(found: HeadToHead, tested: Tested, channel: str, marks: Sequence[str] = ()) -> Card:
    """Return the card of two results at one test point: values and verdicts, or why they do not compare."""
    names = [short_name(x.bundle, tested) for x in (found.a, found.b)]
    shown = [row for kind in figures_for(Use.VERSUS) for row in found.rows if row.kind == kind and row.difference]
    rows = shown[:_ROWS]
    body = list(_rows(rows, names)) if rows else list(_reasons(found))
    title = f"{names[0]} against {names[1]}"
    texts = [
        _text(PAD, 170, 54, title, bold=True),
        _text(PAD, 240, 38, _where(found, tested), soft=True),
        *body,
        *_footer(channel, marks),
    ]
    said = "; ".join(f"{FIGURES[row.kind].name}: {verdict(row)}" for row in rows)
    description = clean_text(said or " ".join(text.text for text in body))
    return Card(id="against", title=clean_text(title), description=description, texts=tuple(texts), rules=(300, 970))


def _where(found: HeadToHead, tested: Tested) -> str:
    card = tested.catalogue.cards[tested.setup(found.a.bundle).bundle.card].name
    setting = tested.setup(found.a.bundle).protocol.point(found.a.point)
    by = f", by Ψ at {format_number(found.comparability.watts, 0)} W" if isinstance(found.comparability, ByPsi) else ""
    return f"On the {card} at {setting.name if setting else found.a.point}{by}"


def _rows(rows: Sequence[VersusRow], names: Sequence[str]) -> Iterator[CardText]:
    for edge, name in zip((_A, _B), names, strict=True):
        lines = wrapped(name, _NAME_ROOM, _NAME * 1.12)[:2]
        for index, line in enumerate(lines):
            y = _FIRST_ROW - _ROW + 10 - (len(lines) - 1 - index) * 38
            yield _text(edge, y, _NAME, line, align="end", bold=True, room=_NAME_ROOM)
    for index, row in enumerate(rows):
        y = _FIRST_ROW + index * _ROW
        yield _text(PAD, y, 36, FIGURES[row.kind].name, soft=True, room=410)
        for edge, estimate in ((_A, row.a), (_B, row.b)):
            yield _text(edge, y, 38, format_estimate(estimate) if estimate else "", align="end", room=405)
        yield _text(_VERDICT, y, 38, verdict(row), bold=True, room=WIDTH - PAD - _VERDICT)


def verdict(row: VersusRow) -> str:
    """Return what is said of the first result against the second: `8.0 K cooler`, or that it is too close to call."""
    if row.difference is None or row.standing is Standing.TOO_CLOSE:
        return "too close to call" if row.difference else "not judged"
    size = replace(row.difference, value=abs(row.difference.value))
    lower, higher = direction_words(row.kind)
    digits = f"{estimate_parts(size).value}{NO_BREAK}{SYMBOLS[size.unit]}"
    return f"{digits} {lower if row.difference.value < 0 else higher}"


def _reasons(found: HeadToHead) -> Iterator[CardText]:
    reasons = found.comparability.reasons if isinstance(found.comparability, NotComparable) else ()
    yield _text(PAD, 400, 48, "These results do not compare", bold=True)
    lines = [line for reason in reasons for line in wrapped(reason.text, _INSIDE, 38)]
    for index, line in enumerate(lines[:9]):
        yield _text(PAD, 480 + 56 * index, 38, line)


def wrapped(text: str, width: float, size: float) -> list[str]:
    """Return a text as lines that fit a width; a word that is wider stands alone.

    >>> wrapped("one two three", 60, 10)
    ['one two', 'three']
    """
    lines: list[str] = []
    for word in clean_text(text).split(" "):
        longer = f"{lines[-1]} {word}" if lines else word
        if lines and text_width(longer, size) <= width:
            lines[-1] = longer
        else:
            lines.append(word)
    return lines


# --- Cards as vectors: transparent SVG in the colours of a palette


SVG = "http://www.w3.org/2000/svg"


def card_svg(card: Card, palette: Palette) -> str:
    """Return a card as SVG of 1920 by 1080 with nothing behind its text; all text is escaped."""
    frame = {
        "xmlns": SVG,
        "viewBox": f"0 0 {WIDTH} {HEIGHT}",
        "width": str(WIDTH),
        "height": str(HEIGHT),
        "role": "img",
        "aria-labelledby": "card-title card-desc",
        "font-family": FONT,
    }
    ends, stroke = {"x1": str(PAD), "x2": str(WIDTH - PAD)}, {"stroke": palette.line, "stroke-width": "3"}
    return xml_text(
        element(
            "svg",
            element("title", card.title, id="card-title"),
            element("desc", card.description, id="card-desc"),
            *(element("line", **ends, y1=f"{y:g}", y2=f"{y:g}", **stroke) for y in card.rules),
            *(element("text", text.text, **_attributes(text, palette)) for text in card.texts),
            **frame,
        )
    )


def _attributes(text: CardText, palette: Palette) -> dict[str, str]:
    return {
        "x": f"{text.x:g}",
        "y": f"{text.y:g}",
        "font-size": f"{text.size:g}",
        "fill": palette.ink_soft if text.soft else palette.ink,
        **({"text-anchor": text.align} if text.align != "start" else {}),
        **({"font-weight": "bold"} if text.bold else {}),
    }
