"""The page of a protocol: its test points, settling rule and workloads, and the results made with it."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import partial

from builder.archive.catalogue import Catalogue
from builder.archive.protocol import Protocol, TestPoint
from builder.comparison import Subject
from builder.pages.facts import Fact, fact, known
from builder.pages.lists import results_table
from builder.pages.page import Makers, Page, short_description
from builder.pages.parts import (
    Column,
    Line,
    Name,
    Row,
    Table,
    capital,
    plain,
    point_name,
    setting,
    text,
    text_column,
    unbroken,
)
from builder.pages.site_input import SiteInput

_LOWS = {
    "percentile": "the frame rate at the 99th percentile of frame times",
    "slowest mean": unbroken("the mean frame rate of the slowest 1 % of frames"),
}


@dataclass(frozen=True, kw_only=True, eq=False)
class ProtocolView:
    """What the page of a protocol shows."""

    name: Name
    lead: Line
    facts: tuple[Fact, ...]
    points: Table
    settling: Table
    workloads: tuple[Fact, ...]
    results: Table


def pages(given: SiteInput) -> Makers:
    """Return the page of every protocol."""
    return {f"protocols/{key}.html": partial(_page, given, key) for key in given.catalogue.protocols}


def _page(given: SiteInput, key: str) -> Page:
    protocol = given.catalogue.protocols[key]
    said = protocol.summary or f"Test points and settling rule of {protocol.name}."
    return Page(
        path=f"protocols/{key}.html",
        template="pages/protocol.html",
        title=f"Protocol {protocol.name}",
        description=short_description(said),
        view=protocol_view(protocol, [s for s in given.subjects if s.bundle.protocol == key], given.catalogue),
        section="methodology.html",
        trail=(Name(text="Protocols", href="protocols/index.html"),),
        scripts=("nodes.js", "ticks.js"),
    )


def protocol_view(protocol: Protocol, subjects: Sequence[Subject], catalogue: Catalogue) -> ProtocolView:
    """Return the page of a protocol: test points, settling rule, workloads and results made with it."""
    band = protocol.ambient
    return ProtocolView(
        name=Name(text=protocol.name),
        lead=text(protocol.summary),
        facts=known(
            fact("Version", (plain(protocol.version),)),
            fact("Ambient band", (setting(band.min_c, "degC"), " to ", setting(band.max_c, "degC"))),
            fact("Mounts asked for", (plain(protocol.mounts),)),
            fact("1 % low", (_LOWS[protocol.frames.low_1pct],)),
        ),
        points=_points_table(protocol, catalogue),
        settling=_settling_table(protocol),
        workloads=tuple(Fact(label=capital(w.name), values=((Name(text=w.description),),)) for w in protocol.workloads),
        results=results_table(subjects, "Results made with this protocol", by="result"),
    )


def _points_table(protocol: Protocol, catalogue: Catalogue) -> Table:
    columns = (
        text_column("settings", "Settings"),
        text_column("workload", "Workload"),
        text_column("required", "Required"),
        text_column("equivalent", "Compares directly with"),
    )
    rows = tuple(Row(head=(point_name(p.name),), cells=_point_cells(p, catalogue)) for p in protocol.points)
    caption = "Test points in the order in which they are run"
    return Table(id="points", caption=caption, head="Test point", columns=columns, rows=rows, missing="none")


def _point_cells(point: TestPoint, catalogue: Catalogue) -> tuple[Line, ...]:
    loop: Line = (", one pass ", plain(point.loop_s, "s")) if point.loop_s else ()
    return (
        text(point.settings),
        (Name(text=point.workload), *loop),
        ("yes" if point.required else "no",),
        _equivalents(point, catalogue),
    )


def _equivalents(point: TestPoint, catalogue: Catalogue) -> Line:
    parts: list[str | Name] = []
    for ref in point.equivalent:
        other = catalogue.protocols.get(ref.protocol)
        there = other.point(ref.point) if other else None
        if other and there:
            parts += ["; " if parts else "", Name(text=unbroken(f"{there.name} in {other.name}"))]
    return tuple(p for p in parts if p)


def _settling_table(protocol: Protocol) -> Table:
    columns = (
        Column(key="tau", label="Slow time constant", numeric=True),
        Column(key="soak", label="Shortest soak", numeric=True),
        Column(key="window", label="Window", numeric=True),
        Column(key="limit", label="Remaining approach at most", numeric=True),
    )
    kinds = {"Air and stock coolers": protocol.air, "Water blocks and hybrids": protocol.liquid}
    rows = tuple(
        Row(
            head=(label,),
            cells=(
                *((plain(seconds / 60, "min"),) for seconds in (limits.tau_s, limits.soak_s, limits.window_s)),
                (setting(limits.limit_k, "K"),),
            ),
        )
        for label, limits in kinds.items()
    )
    return Table(id="settling", caption="When a run counts as settled", head="Cooler", columns=columns, rows=rows)
