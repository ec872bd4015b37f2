"""The page of one result: every figure with its uncertainty, charts, conditions, and the tester's own words."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from functools import partial

from builder.archive.bundle import Episode
from builder.archive.safety_cautions import Caution, cautions_for
from builder.charts.of_result import result_charts
from builder.comparison import Subject, Tested, by_hand, leads, room_models
from builder.core.results import FIGURES, Use, Verdict, figures_for
from builder.pages.answers import Answer, answers, byline, less_power, moment_address, quality
from builder.pages.at_rest import at_rest_table, figure_label
from builder.pages.chart_view import ChartView, chart_view
from builder.pages.facts import Fact, assembly_facts, condition_facts
from builder.pages.finding import finding, lead_sentences
from builder.pages.markdown import Fragment, photo_html, render_markdown
from builder.pages.page import Download, Makers, Page, short_description
from builder.pages.parts import (
    Day,
    Line,
    Name,
    Num,
    Outside,
    Table,
    Tag,
    card_name,
    cooler_name,
    day,
    num,
    protocol_name,
    text,
)
from builder.pages.photo_sizes import Photo
from builder.pages.result_tables import (
    Budget,
    all_figures_table,
    budgets,
    changes_table,
    corrections_table,
    figure_place,
    points_table,
    runs_table,
)
from builder.pages.sentences import (
    line_sentences,
    method_sentence,
    remarks,
    sweep_sentences,
    verdict_tag,
)
from builder.pages.site_input import SiteInput


@dataclass(frozen=True, kw_only=True)
class Headline:
    """One of the large figures at the top of a result."""

    label: str
    number: Num


@dataclass(frozen=True, kw_only=True)
class EpisodeView:
    """The video that goes with a result."""

    title: Line
    number: str
    published: Day | None
    length: str
    moments: tuple[tuple[Outside | Name, Name], ...]


@dataclass(frozen=True, kw_only=True)
class Definition:
    """How a figure is defined, where there is more than one way."""

    term: str
    text: str


@dataclass(frozen=True, kw_only=True, eq=False)
class ResultView:
    """Everything that a result page says."""

    id: str
    byline: Line
    headline: Line
    lead: Line
    answers: tuple[Answer, ...]
    quality: Line
    card: Name
    cooler: Name
    protocol: Name
    summary: Line
    stock_verdict: Tag | None
    remarks: tuple[Line, ...]
    points: Table
    changes: Table
    all_figures: Table
    at_rest: Table
    runs: Table
    lines: tuple[Line, ...]
    less_power: Line
    sweep: tuple[Line, ...]
    conditions: tuple[Fact, ...]
    budgets: tuple[Budget, ...]
    assembly: tuple[Fact, ...]
    method: str
    definitions: tuple[Definition, ...]
    warnings: tuple[Name, ...]
    corrections: Table
    episode: EpisodeView | None
    further: tuple[Name, ...]


@dataclass(frozen=True, kw_only=True)
class PhotoView:
    """A photo as HTML, safe to place on a page, and the words below it."""

    html: str
    caption: str


@dataclass(frozen=True, kw_only=True, eq=False)
class ResultPage:
    """A result page: its figures, charts by name, the tester's notes, photos, cautions and downloads."""

    result: ResultView
    charts: Mapping[str, ChartView | None]
    notes: Fragment
    cautions: tuple[Caution, ...]
    safety: Name | None
    photos: tuple[PhotoView, ...]
    downloads: tuple[Download, ...]


def pages(given: SiteInput) -> Makers:
    """Return the page of every result."""
    return {subject.href: partial(_page, given, subject) for subject in given.subjects}


def _page(given: SiteInput, subject: Subject) -> Page:
    photos = given.photos.get(subject.id, {})
    charts = {**vars(result_charts(subject, given.tested))}
    if charts["against"]:  # the rises themselves stand on the card's page
        charts["coolers"] = None
    view = ResultPage(
        result=result_view(subject, given.tested),
        charts={name: chart_view(chart, given.draw) if chart else None for name, chart in charts.items()},
        notes=render_markdown(
            given.notes.get(subject.id, ""),
            root="../",
            shift=2,
            prefix="notes-",
            photos=photos,
            figures=partial(figure_place, subject.id, given.tested),
        ),
        photos=_photos(subject, photos),
        cautions=cautions_for(given.cautions, "result page", subject.cooler.kind),
        safety=Name(text="safety notes", href="safety.html") if "safety" in given.pages else None,
        downloads=given.downloads.get(subject.id, ()),
    )
    # The day of the test tells results of the same name apart.
    alike = sum(s.title == subject.title for s in given.subjects) > 1
    return Page(
        path=subject.href,
        template="pages/result.html",
        title=f"{subject.title}, tested {subject.bundle.tested.isoformat()}" if alike else subject.title,
        description=short_description(finding(subject, given.tested).text),
        view=view,
        section="archive.html",
        trail=(Name(text="Archive", href="archive.html"), card_name(subject)),
        scripts=("nodes.js", "charts.js", "own-room.js", *(("timeline.js",) if charts["run"] else ())),
    )


def _photos(subject: Subject, photos: Mapping[str, Photo]) -> tuple[PhotoView, ...]:
    """Return the photos that a bundle names, in its order; those of its notes stand in the notes."""
    named = ((photo, photos.get(photo.file)) for photo in subject.bundle.photos)
    return tuple(
        PhotoView(html=photo_html(found, photo.alt, "../"), caption=photo.caption) for photo, found in named if found
    )


def result_view(subject: Subject, tested: Tested) -> ResultView:
    """Return what the page of one result says."""
    bundle, stock = subject.bundle, subject.stock
    archive, found = tested.catalogue.archive, finding(subject, tested)
    return ResultView(
        id=subject.id,
        byline=byline(subject, archive.moment_url),
        headline=found.headline,
        lead=lead_sentences(found, tested),
        answers=answers(found, tested),
        quality=quality(subject),
        card=card_name(subject),
        cooler=cooler_name(subject),
        protocol=protocol_name(subject),
        summary=text(bundle.summary),
        stock_verdict=verdict_tag(stock.verdict) if stock and stock.verdict is not Verdict.SETTLED else None,
        remarks=remarks(subject),
        points=points_table(subject),
        changes=changes_table(subject),
        all_figures=all_figures_table(subject),
        at_rest=at_rest_table(subject),
        runs=runs_table(subject),
        lines=line_sentences(subject),
        less_power=less_power(subject),
        sweep=sweep_sentences(subject),
        conditions=condition_facts(subject),
        budgets=budgets(subject),
        assembly=assembly_facts(bundle.assembly),
        method=method_sentence(subject),
        definitions=_definitions(subject),
        warnings=tuple(Name(text=w) for w in subject.result.warnings),
        corrections=corrections_table(subject),
        episode=_episode(bundle.episode, archive.moment_url) if bundle.episode else None,
        further=_further(subject, tested),
    )


def _further(subject: Subject, tested: Tested) -> tuple[Name, ...]:
    """Return where the result can be asked more: in a reader's own room where it has a line, beside other results."""
    card = Name(text="All coolers on this card", href=f"cards/{subject.bundle.card}.html")
    room = Name(text="What would it reach in your room?", href=f"room.html?result={subject.id}")
    beside = Name(text="Put it beside another result", href=f"compare.html?r={subject.id}")
    return (card, room, beside) if room_models(tested, subject.id) else (card, beside)


def headline(subject: Subject) -> tuple[Headline, ...]:
    """Return the large figures: those of the stock run that viewers ask for first; none where these lead nothing."""
    stock = subject.stock
    if stock is None or not leads(stock):
        return ()
    kinds = (k for k in figures_for(Use.HEADLINE) if k in stock.figures)
    labels = {k: f"{FIGURES[k].name}, read by hand" if by_hand(stock) else figure_label(k) for k in FIGURES}
    return tuple(Headline(label=labels[k], number=num(stock.figures[k].estimate)) for k in kinds)


def _definitions(subject: Subject) -> tuple[Definition, ...]:
    """Return the definitions that the figures carry: each term once, with all that its figures were defined by."""
    found: dict[str, dict[str, None]] = {}
    for point in subject.result.points:
        for kind, figure in point.figures.items():
            if figure.definition:
                found.setdefault(FIGURES[kind].name, {})[figure.definition] = None
    return tuple(Definition(term=term, text="; elsewhere ".join(texts)) for term, texts in found.items())


def _episode(episode: Episode, moment_url: str) -> EpisodeView:
    title: Line = (Outside(text=episode.title, url=episode.url),) if episode.url else (Name(text=episode.title),)
    return EpisodeView(
        title=title,
        number=f"Episode {episode.number}" if episode.number is not None else "",
        published=day(episode.published) if episode.published else None,
        length=episode.length or "",
        moments=tuple((_at(episode.url, m.at, moment_url), Name(text=m.label)) for m in episode.moments),
    )


def _at(url: str | None, at: str, moment_url: str) -> Outside | Name:
    return Outside(text=at, url=moment_address(url, at, moment_url)) if url else Name(text=at)
