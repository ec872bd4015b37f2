"""Figures in long form: one row for each figure of each test point, over mounts and of each run."""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator, Mapping

from builder.exports.tables import Cell, Field
from builder.figures import Figure, Verdict
from builder.views.subject import Subject


def _text(name: str, description: str) -> Field:
    return Field(name=name, type="string", description=description)


def _number(name: str, description: str) -> Field:
    return Field(name=name, type="number", description=description)


FIELDS = (
    _text("bundle", "Id of the result: one cooler tested on one card."),
    _text("card", "Id of the card."),
    _text("card_name", "Name of the card."),
    _text("card_sample", "Which specimen of the card."),
    _text("cooler", "Id of the cooler."),
    _text("cooler_name", "Name of the cooler."),
    _text("protocol", "Id of the test procedure."),
    Field(name="protocol_version", type="integer", description="Version of the test procedure."),
    Field(name="tested", type="date", description="Day of the test."),
    _text("point", "Id of the test point, as stock or power-70."),
    Field(name="mount", type="integer", description="Number of the mount, from 1; empty for the mean over mounts."),
    _text("figure", "Id of the figure, as core_rise."),
    _number("value", "The figure, in the unit of its row."),
    _text("unit", "Unit of value, u and U95: degC, K (a difference), K/W, W, MHz, V, 1/s, 1/J, percent, ..."),
    _number("u", "Standard uncertainty (k = 1); 0 for a number that is exact."),
    _number("dof", "Effective degrees of freedom of u; empty where they are without limit."),
    _number("U95", "Half-width of the interval that covers 95 %."),
    _text("verdict", "Whether the run had settled: settled, drifting, undecided or too short."),
    Field(name="samples", type="integer", description="Number of readings behind the figure."),
    _text("definition", "How the figure is defined, where there is more than one way."),
    _text("note", "What a reader must know of this figure."),
)
HEADER = tuple(field.name for field in FIELDS)


def figure_rows(subject: Subject) -> Iterator[tuple[Cell, ...]]:
    """Give the rows of one result in the order of `FIELDS`; the mean over mounts stands before its runs."""
    head = _head(subject)
    for point in subject.result.points:
        yield from _rows(head, point.point, None, point.figures, point.verdict)
        for run in point.runs:
            yield from _rows(head, point.point, run.mount, run.figures, run.settlement.verdict)


def archive_rows(subjects: Iterable[Subject]) -> Iterator[tuple[Cell, ...]]:
    """Give the rows of every result."""
    for subject in subjects:
        yield from figure_rows(subject)


def _head(subject: Subject) -> tuple[Cell, ...]:
    bundle = subject.bundle
    return (
        subject.id,
        bundle.card,
        subject.card.name,
        bundle.card_sample,
        bundle.cooler,
        subject.cooler.name,
        bundle.protocol,
        subject.protocol.version,
        bundle.tested.isoformat(),
    )


def _rows(
    head: tuple[Cell, ...], point: str, mount: int | None, figures: Mapping[str, Figure], verdict: Verdict
) -> Iterator[tuple[Cell, ...]]:
    for kind, figure in figures.items():
        yield (*head, point, mount, kind, *_numbers(figure), str(verdict), *_remarks(figure))


def _numbers(figure: Figure) -> tuple[Cell, ...]:
    estimate = figure.estimate
    dof = estimate.dof if math.isfinite(estimate.dof) else None
    return (estimate.value, estimate.unit, estimate.u, dof, estimate.expanded())


def _remarks(figure: Figure) -> tuple[Cell, ...]:
    return (figure.samples, figure.definition, figure.note)
