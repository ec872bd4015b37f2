"""Pages of cards, coolers and protocols, their lists, the home page and the list of corrections."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import TypeVar

from builder.model import Archive, Card, Catalogue, Cooler, Protocol, SettleLimits, TestPoint
from builder.views.facts import Fact, card_facts, cooler_facts, fact, known, text
from builder.views.ranking import OrderView, PointOrder, order_view
from builder.views.result import CORRECTION_COLUMNS, correction_cells
from builder.views.sentences import verdict_sentence, verdict_tag
from builder.views.subject import Subject
from builder.views.tables import Column, Row, Table, figure_cell, figure_column, filled_columns, text_column
from builder.views.text import Day, Line, Name, Num, capital, count, day, num, plain, setting

Named = TypeVar("Named", Card, Cooler, Protocol)

SUMMARY_KINDS = ("core_rise", "memory_rise", "core_psi", "board_power", "frame_rate", "sound_level")


@dataclass(frozen=True, kw_only=True, eq=False)
class CardView:
    """The page of a card."""

    name: Name
    lead: Line
    facts: tuple[Fact, ...]
    orders: tuple[OrderView, ...]
    results: Table


@dataclass(frozen=True, kw_only=True, eq=False)
class CoolerView:
    """The page of a cooler."""

    name: Name
    lead: Line
    facts: tuple[Fact, ...]
    results: Table


@dataclass(frozen=True, kw_only=True, eq=False)
class ProtocolView:
    """The page of a protocol."""

    name: Name
    lead: Line
    facts: tuple[Fact, ...]
    points: Table
    settling: Table
    workloads: tuple[Fact, ...]
    results: Table


@dataclass(frozen=True, kw_only=True, eq=False)
class Latest:
    """One of the newest results on the home page."""

    heading: Line
    href: str
    day: Day
    verdict: Line
    number: Num | None


@dataclass(frozen=True, kw_only=True, eq=False)
class HomeView:
    """The home page."""

    title: Name
    summary: Line
    latest: tuple[Latest, ...]
    counts: tuple[Fact, ...]


@dataclass(frozen=True, kw_only=True, eq=False)
class ListView:
    """A list of cards, coolers or protocols."""

    lead: Line
    table: Table


def card_view(card: Card, subjects: Sequence[Subject], orders: Sequence[PointOrder]) -> CardView:
    """Return the page of a card: coolers in order at each test point, then every result on it."""
    lead: Line = (f"{count(len(subjects), 'result')} on this card.",) if subjects else ("No result on this card yet.",)
    return CardView(
        name=Name(text=card.name),
        lead=lead,
        facts=card_facts(card),
        orders=tuple(order_view(o) for o in orders),
        results=_results_table(subjects, "Results at stock on this card", by="cooler"),
    )


def cooler_view(cooler: Cooler, subjects: Sequence[Subject]) -> CoolerView:
    """Return the page of a cooler: what is known of it and its result on every card."""
    lead: Line = (
        (
            f"{count(len(subjects), 'result')} with this cooler. Results on different cards do not rank against each other.",
        )
        if subjects
        else ("No result with this cooler yet.",)
    )
    return CoolerView(
        name=Name(text=cooler.name),
        lead=lead,
        facts=cooler_facts(cooler),
        results=_results_table(subjects, "Results at stock with this cooler", by="card"),
    )


def _results_table(subjects: Sequence[Subject], caption: str, *, by: str) -> Table:
    columns = (
        text_column("tested", "Tested"),
        text_column("protocol", "Protocol"),
        text_column("verdict", "Verdict"),
        *(figure_column(k) for k in SUMMARY_KINDS),
    )
    rows = [_result_row(s, by) for s in subjects]
    kept, thin = filled_columns(columns, rows)
    return Table(id="results", caption=caption, head=capital(by), columns=kept, rows=thin)


def _result_row(subject: Subject, by: str) -> Row:
    named = {"cooler": subject.cooler.name, "card": subject.card.name}
    label = named.get(by, subject.title)
    stock = subject.stock
    figures = stock.figures if stock else {}
    return Row(
        head=(Name(text=label, href=subject.href),),
        cells=(
            (day(subject.bundle.tested),),
            (Name(text=subject.protocol.name),),
            (verdict_tag(stock.verdict),) if stock else (),
            *(figure_cell(figures, k) for k in SUMMARY_KINDS),
        ),
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
        results=_results_table(subjects, "Results made with this protocol", by="result"),
    )


_LOWS = {
    "percentile": "the frame rate at the 99th percentile of frame times",
    "slowest mean": "the mean frame rate of the slowest 1 % of frames",
}


def _points_table(protocol: Protocol, catalogue: Catalogue) -> Table:
    columns = (
        text_column("settings", "Settings"),
        text_column("workload", "Workload"),
        text_column("required", "Required"),
        text_column("equivalent", "Compares directly with"),
    )
    rows = tuple(Row(head=(Name(text=p.name),), cells=_point_cells(p, catalogue)) for p in protocol.points)
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
            parts += ["; " if parts else "", Name(text=f"{there.name} in {other.name}")]
    return tuple(p for p in parts if p)


def _settling_table(protocol: Protocol) -> Table:
    columns = (
        Column(key="tau", label="Slow time constant", numeric=True),
        Column(key="soak", label="Shortest soak", numeric=True),
        Column(key="window", label="Window", numeric=True),
        Column(key="limit", label="Remaining approach at most", numeric=True),
    )
    kinds = {"Air and stock coolers": protocol.air, "Water blocks and hybrids": protocol.liquid}
    rows = tuple(Row(head=(label,), cells=_limits(limits)) for label, limits in kinds.items())
    return Table(id="settling", caption="When a run counts as settled", head="Cooler", columns=columns, rows=rows)


def _limits(limits: SettleLimits) -> tuple[Line, ...]:
    return (
        (setting(limits.tau_s, "s"),),
        (setting(limits.soak_s, "s"),),
        (setting(limits.window_s, "s"),),
        (setting(limits.limit_k, "K"),),
    )


def cards_list(catalogue: Catalogue, subjects: Sequence[Subject]) -> ListView:
    """Return the list of cards."""
    columns = (Column(key="power", label="Reference board power", numeric=True), text_column("memory", "Memory"),
               Column(key="results", label="Results", numeric=True), text_column("newest", "Newest"))  # fmt: skip
    rows = tuple(
        Row(
            head=(Name(text=card.name, href=f"cards/{key}.html"),),
            cells=((setting(card.board_power_w, "W"),), text(card.memory_type), *_tally(key, subjects, "card")),
        )
        for key, card in _by_name(catalogue.cards.items())
    )
    table = Table(id="cards", caption="Cards in the archive", head="Card", columns=columns, rows=rows, missing="none")
    return ListView(lead=("Each card's page puts the coolers tested on it in order.",), table=table)


def coolers_list(catalogue: Catalogue, subjects: Sequence[Subject]) -> ListView:
    """Return the list of coolers."""
    columns = (text_column("kind", "Kind"), text_column("maker", "Maker"),
               Column(key="results", label="Results", numeric=True), text_column("newest", "Newest"))  # fmt: skip
    rows = tuple(
        Row(
            head=(Name(text=cooler.name, href=f"coolers/{key}.html"),),
            cells=((str(cooler.kind),), text(cooler.maker), *_tally(key, subjects, "cooler")),
        )
        for key, cooler in _by_name(catalogue.coolers.items())
    )
    table = Table(
        id="coolers", caption="Coolers in the archive", head="Cooler", columns=columns, rows=rows, missing="none"
    )
    return ListView(lead=("Each cooler's page shows it on every card on which it was tested.",), table=table)


def protocols_list(catalogue: Catalogue, subjects: Sequence[Subject]) -> ListView:
    """Return the list of protocols."""
    columns = (Column(key="version", label="Version", numeric=True),
               Column(key="points", label="Test points", numeric=True),
               Column(key="results", label="Results", numeric=True), text_column("newest", "Newest"))  # fmt: skip
    rows = tuple(
        Row(
            head=(Name(text=p.name, href=f"protocols/{key}.html"),),
            cells=((plain(p.version),), (plain(len(p.points)),), *_tally(key, subjects, "protocol")),
        )
        for key, p in _by_name(catalogue.protocols.items())
    )
    table = Table(id="protocols", caption="Protocols", head="Protocol", columns=columns, rows=rows, missing="none")
    return ListView(lead=("A protocol is the procedure that a session follows, with a version.",), table=table)


def _by_name(items: Iterable[tuple[str, Named]]) -> list[tuple[str, Named]]:
    return sorted(items, key=lambda pair: pair[1].name.casefold())


def _tally(key: str, subjects: Sequence[Subject], field: str) -> tuple[Line, Line]:
    mine = [s for s in subjects if getattr(s.bundle, field) == key]
    newest: Line = (day(max(s.bundle.tested for s in mine)),) if mine else ()
    return (plain(len(mine)),), newest


def home_view(archive: Archive, subjects: Sequence[Subject], *, shown: int = 5) -> HomeView:
    """Return the home page: the newest results and how much the archive holds."""
    years = sorted({s.bundle.tested.year for s in subjects})
    since: Line = (str(years[0]),) if years else ()
    return HomeView(
        title=Name(text=site_title(archive)),
        summary=text(archive.summary),
        latest=tuple(_latest(s) for s in subjects[:shown]),
        counts=known(
            fact("Results", (plain(len(subjects)),)),
            fact("Cards", (plain(len({s.bundle.card for s in subjects})),)),
            fact("Coolers", (plain(len({s.bundle.cooler for s in subjects})),)),
            fact("Runs", (plain(sum(len(p.runs) for s in subjects for p in s.result.points)),)),
            fact("Since", since),
        ),
    )


def _latest(subject: Subject) -> Latest:
    stock = subject.stock
    rise = stock.figures.get("core_rise") if stock else None
    return Latest(
        heading=subject.heading,
        href=subject.href,
        day=day(subject.shown_on),
        verdict=verdict_sentence(subject),
        number=num(rise.estimate) if rise else None,
    )


def site_title(archive: Archive) -> str:
    """Return the site's name: the tester's own, or one made from the channel's."""
    return archive.title or f"{archive.channel}: cooler tests"


def corrections_list(subjects: Sequence[Subject]) -> ListView:
    """Return every correction in the archive, newest first."""
    made = [(c, s) for s in subjects for c in s.bundle.corrections]
    rows = tuple(
        Row(head=(day(c.date),), cells=((Name(text=s.title, href=f"{s.href}#corrections"),), *correction_cells(s, c)))
        for c, s in sorted(made, key=lambda pair: pair[0].date, reverse=True)
    )
    columns = (text_column("result", "Result"), *CORRECTION_COLUMNS)
    table = Table(id="corrections", caption="Corrections, newest first", head="Date", columns=columns, rows=rows)
    return ListView(lead=_corrections_lead(len(rows)), table=table)


def _corrections_lead(number: int) -> Line:
    start = "A published figure that was wrong is corrected here in the open, with the old figure and the reason. "
    return (start, f"{capital(count(number, 'correction'))} so far." if number else "There is no correction so far.")
