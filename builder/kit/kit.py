"""The episode kit: the figures a script says, the plan of the kit's parts, and its files one after the other."""

from __future__ import annotations

import dataclasses
import hashlib
import json
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from itertools import chain

from builder import __version__
from builder.archive.bundle import Episode
from builder.archive.safety_cautions import Caution, cautions_for
from builder.charts import DARK, LIGHT, Chart
from builder.charts.of_result import short_name, still_charts, unsettled_mark
from builder.charts.svg import png_of, still_svg
from builder.comparison import PointOf, Subject, Tested, group_of, head_to_head, subjects
from builder.core.errors import Problem, SoakbookError, Span
from builder.core.quantity import NO_BREAK, format_estimate
from builder.kit.description import description_text, short_time
from builder.kit.edit_cards import Card, card_svg, title_card, versus_card
from builder.kit.spoken_lines import lines_document
from builder.narration import Linked, Moment, Truth, suggestion
from builder.site.tables import csv_bytes

# --- captions: figures that a script links, with the moment at which each is said -------------------------------

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


# --- the plan --------------------------------------------------------------------------------------------------


@dataclass(frozen=True, kw_only=True, eq=False)
class KitInput:
    """What a kit is made from: a bundle inside its archive, figures that its script links, cautions, the other result.

    `base` is the address of the site with a slash at its end, or empty.
    """

    tested: Tested
    bundle: str
    script: tuple[Linked, ...] = ()
    cautions: tuple[Caution, ...] = ()
    base: str = ""
    against: str = ""


@dataclass(frozen=True, kw_only=True, eq=False)
class KitPlan:
    """The parts of a kit; `mark` is what stills say of runs that had not settled, empty where all had."""

    bundle: str
    mark: str
    charts: tuple[Chart, ...]
    cards: tuple[Card, ...]
    lines: str
    description: str
    captions: tuple[Caption, ...]


def kit_plan(data: KitInput) -> KitPlan:
    """Return the plan of one bundle's kit. Raises SoakbookError where the other result cannot stand beside it."""
    found = {s.id: s for s in subjects(data.tested.catalogue, data.tested.results)}
    subject = found[data.bundle]
    channel = data.tested.catalogue.archive.channel
    cards = [title_card(subject, channel)]
    if data.against:
        cards.append(_against(data, subject, found[data.against], channel))
    shown = cautions_for(data.cautions, "result page", subject.cooler.kind)
    return KitPlan(
        bundle=data.bundle,
        mark=unsettled_mark(subject),
        charts=still_charts(subject, data.tested),
        cards=tuple(cards),
        lines=lines_document(subject, data.tested),
        description=description_text(subject, data.tested, shown, data.base),
        captions=captions(data.script, subject.bundle.episode),
    )


def _against(data: KitInput, subject: Subject, other: Subject, channel: str) -> Card:
    """Return the card of both results at stock, or at the point that the other's protocol calls equivalent."""
    if subject.stock is None or other.stock is None:
        raise SoakbookError([_no_stock(s) for s in (subject, other) if s.stock is None])
    group = group_of(data.tested, subject.id, subject.stock.point)
    there = group.point_of(other.bundle)
    point = there if there and other.result.point(there) else other.stock.point
    found = head_to_head(
        data.tested, PointOf(bundle=subject.id, point=subject.stock.point), PointOf(bundle=other.id, point=point)
    )
    marks = [f"{short_name(s.id, data.tested)}, {mark}" for s in (subject, other) if (mark := unsettled_mark(s))]
    return versus_card(found, data.tested, channel, marks=marks)


def _no_stock(subject: Subject) -> Problem:
    return Problem(
        code="no-stock-run",
        where=Span(file=subject.id),
        message="there is no run at stock settings to set side by side",
        hint="name another result with --against",
    )


# --- the files -------------------------------------------------------------------------------------------------

SIZES = ((1920, 1080), (3840, 2160))  # px; the first is that in which pictures are laid out
MANIFEST = "manifest.json"
KIND = "episode kit"
_PALETTES = (LIGHT, DARK)


@dataclass(frozen=True, kw_only=True)
class KitFile:
    """One file of a kit: path inside it, and its bytes."""

    path: str
    data: bytes


def file_count(plan: KitPlan) -> int:
    """Return how many files a kit has: pictures in both modes, four texts and the manifest."""
    pictures = len(plan.charts) + len(plan.cards)
    return pictures * len(_PALETTES) * (1 + len(SIZES)) + 4 + 1


def kit_files(plan: KitPlan) -> Iterator[KitFile]:
    """Give the files of a kit, the same bytes each time: texts first, as they are ready at once; the manifest last."""
    entries: list[dict[str, object]] = []
    pictures: tuple[Card | Chart, ...] = (*plan.cards, *plan.charts)
    for file in chain(_texts(plan), *map(_pictures, pictures)):
        digest = hashlib.sha256(file.data).hexdigest()
        entries.append({"path": file.path, "bytes": len(file.data), "sha256": digest})
        yield file
    record = {
        "kind": KIND,
        "generator": f"soakbook {__version__}",
        "bundle": plan.bundle,
        "mark": plan.mark,
        "files": sorted(entries, key=lambda entry: str(entry["path"])),
    }
    yield KitFile(path=MANIFEST, data=_json(record))


def _texts(plan: KitPlan) -> Iterator[KitFile]:
    yield KitFile(path="lines.md", data=plan.lines.encode())
    yield KitFile(path="description.txt", data=plan.description.encode())
    yield KitFile(path="captions.csv", data=csv_bytes(COLUMNS, [caption.row for caption in plan.captions]))
    yield KitFile(path="captions.json", data=_json([dataclasses.asdict(caption) for caption in plan.captions]))


def _pictures(picture: Chart | Card) -> Iterator[KitFile]:
    """Give a picture in both modes: vectors once, since they fit any size, and pixels in each size."""
    for palette in _PALETTES:
        if isinstance(picture, Card):
            svg, stem = card_svg(picture, palette), f"cards/{picture.id}-{palette.name}"
        else:
            svg, stem = still_svg(picture, SIZES[0], palette), f"stills/{picture.id}-{palette.name}"
        yield KitFile(path=f"{stem}.svg", data=f"{svg}\n".encode())
        for width, height in SIZES:
            yield KitFile(path=f"{stem}-{width}x{height}.png", data=png_of(svg, scale=width / SIZES[0][0]))


def _json(record: object) -> bytes:
    return (json.dumps(record, ensure_ascii=False, allow_nan=False, indent=2) + "\n").encode()
