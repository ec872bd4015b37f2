"""The charts of a bundle as stills, marked where a run had not settled."""

from __future__ import annotations

from builder.archive.protocol import PointRole
from builder.charts import Chart
from builder.charts.of_result import _charts
from builder.charts.still_notes import marked
from builder.comparison import Tested
from builder.comparison.subject import Subject, settled
from builder.pages.parts import count


def unsettled_mark(subject: Subject) -> str:
    """Return what every still of a result says where a run under load had not settled; empty where all had."""
    points = [p for p in subject.result.points if not settled(p) and subject.role(p.point) is not PointRole.IDLE]
    if not points:
        return ""
    more = f" and {count(len(points) - 1, 'more', 'more')}" if len(points) > 1 else ""
    return f"run not settled: {points[0].name}{more}"


def still_charts(subject: Subject, tested: Tested) -> tuple[Chart, ...]:
    """Return the charts that a result's figures suffice for; ids name the files."""
    mark = unsettled_mark(subject)
    charts = [chart for chart in _charts(subject, tested) if chart]
    return tuple(marked(chart, mark) if mark else chart for chart in charts)
