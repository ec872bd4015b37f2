"""The room calculator: what to expect at an ambient temperature and a board power of one's own."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from functools import partial
from itertools import groupby
from typing import TypeAlias

from builder.comparison import RoomModel, Subject, Tested, no_models, room_estimate, room_models
from builder.comparison.own_room import NO_MOUNT_NOTE, SAMPLE_NOTE
from builder.core.quantity import Estimate, coverage_factor
from builder.core.results import FIGURES, SENSORS
from builder.pages.page import Makers, Page
from builder.pages.parts import (
    Absent,
    Column,
    Line,
    Name,
    Num,
    Row,
    Table,
    figure_column,
    filled_columns,
    heading,
    num,
    plain,
    plain_text,
    setting,
    short_day,
    text_column,
)
from builder.pages.site_input import SiteInput

ModelData: TypeAlias = dict[str, float | str]
ResultData: TypeAlias = "dict[str, str | float | bool | list[ModelData] | list[list[str]]]"


@dataclass(frozen=True, kw_only=True)
class RoomChoices:
    """The results on one card that can be asked, each an id and a label."""

    card: str
    results: tuple[tuple[str, str], ...]


@dataclass(frozen=True, kw_only=True, eq=False)
class RoomView:
    """The room calculator: a table at reference conditions, and the models that its script works with.

    The first of `data` is the newest result, with which the page opens.
    """

    ambient: Num
    choices: tuple[RoomChoices, ...]
    table: Table
    data: tuple[ResultData, ...]
    notes: tuple[str, ...]


def pages(given: SiteInput) -> Makers:
    """Return the page of the room calculator."""
    return {"room.html": partial(_page, given)}


def _page(given: SiteInput) -> Page:
    return Page(
        path="room.html",
        template="pages/room.html",
        title="In your room",
        description="What a tested cooler would reach at your ambient temperature and board power, with its range.",
        view=room_view(given.tested, given.subjects),
        section="room.html",
        scripts=("nodes.js", "values.js", "figures.js", "compare-state.js", "room.js"),
    )


def room_view(tested: Tested, subjects: Sequence[Subject]) -> RoomView:
    """Return the room calculator for every result with a line or curve of rise on board power."""
    ambient = tested.catalogue.archive.reference.ambient_c
    found = [(s, models) for s in subjects if (models := room_models(tested, s.id))]
    known = all(m.mounts_known for _, models in found for m in models)
    ordered = sorted(
        (s for s, _ in found),
        key=lambda s: (s.card.name.casefold(), s.bundle.card, s.cooler.name.casefold(), s.bundle.tested, s.id),
    )
    return RoomView(
        ambient=setting(ambient, "degC"),
        choices=tuple(
            RoomChoices(card=card, results=tuple((s.id, label(s)) for s in on_it))
            for card, on_it in groupby(ordered, key=lambda s: s.card.name)
        ),
        table=_table(tested, ordered, ambient),
        data=tuple(_data(tested, s, models) for s, models in found),
        notes=(SAMPLE_NOTE,) if known else (SAMPLE_NOTE, NO_MOUNT_NOTE),
    )


def label(subject: Subject) -> str:
    """Return a result's name for a list of choices on its card."""
    return f"{subject.cooler.name}, {short_day(subject.bundle.tested).text}"


def _table(tested: Tested, subjects: Sequence[Subject], ambient: float) -> Table:
    columns = (
        Column(key="power", label="Board power", numeric=True),
        *(figure_column(sensor.temperature) for sensor in SENSORS),
        Column(key="range", label="Power tested", numeric=True),
        text_column("tested", "Tested"),
    )
    kept, rows = filled_columns(columns, [_row(tested, s, ambient) for s in subjects])
    room = setting(ambient, "degC").text
    return Table(
        id="room",
        caption=(
            f"Expected temperatures at {room} ambient, at the card's reference power or the tested power nearest to it"
        ),
        head="Result",
        columns=kept,
        rows=rows,
    )


def _row(tested: Tested, subject: Subject, ambient: float) -> Row:
    models = room_models(tested, subject.id)
    power = _nearest_power(subject, models)
    low, high = _limits(models)
    found = room_estimate(tested, subject.id, ambient, power)
    expected: dict[str, Line] = {
        t.kind: (num(Estimate(value=t.value, u=t.half_width / coverage_factor(math.inf), unit="degC")),)
        for t in found.temperatures
    }
    whys: dict[str, Line] = {unsaid.kind: (Absent(text=str(unsaid.why)),) for unsaid in found.unsaid}
    return Row(
        head=(Name(text=plain_text(heading(subject)), href=subject.href),),
        cells=(
            (setting(power, "W"),),
            *((expected | whys)[s.temperature] for s in SENSORS),
            (f"{plain(math.ceil(low)).value} to {plain(math.floor(high)).text} W",),
            (short_day(subject.bundle.tested),),
        ),
    )


def _nearest_power(subject: Subject, models: Sequence[RoomModel]) -> float:
    """Return the card's reference board power, or the tested whole number of watts nearest to it."""
    low, high = _limits(models)
    return min(max(subject.card.board_power_w, float(math.ceil(low))), float(math.floor(high)))


def _limits(models: Sequence[RoomModel]) -> tuple[float, float]:
    return min(m.low_w for m in models), max(m.high_w for m in models)


def _data(tested: Tested, subject: Subject, models: Sequence[RoomModel]) -> ResultData:
    low, high = _limits(models)
    return {
        "id": subject.id,
        "label": f"{label(subject)}, on {subject.card.name}",
        "coolest": subject.protocol.ambient.min_c,
        "warmest": subject.protocol.ambient.max_c,
        "power": _nearest_power(subject, models),
        "low": low,
        "high": high,
        "known": all(m.mounts_known for m in models),
        "models": [_model(m) for m in models],
        "without": [[FIGURES[kind].name, str(why)] for kind, why in no_models(tested, subject.id).items()],
    }


def _model(model: RoomModel) -> ModelData:
    names = ("intercept", "slope", "bend", "q1", "q0", "v0", "v1", "v2", "vq", "k")
    numbers: ModelData = {name: float(getattr(model, name)) for name in names}
    return numbers | {"name": FIGURES[model.kind].name, "low": model.low_w, "high": model.high_w}
