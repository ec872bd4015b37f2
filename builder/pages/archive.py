"""The archive page, and a plain page for each year."""

from __future__ import annotations

from collections.abc import Iterable, Sequence

from builder.pages.kinds import Page
from builder.views.archive import archive_view, year_table, years
from builder.views.lists import ListView
from builder.views.subject import Subject
from builder.views.text import Name, count

ADDRESS = "archive.html"


def archive_pages(found: Sequence[Subject]) -> Iterable[Page]:
    """Return the archive page, then the pages of its years."""
    yield Page(
        path=ADDRESS,
        template="pages/archive.html",
        title="Archive",
        description="Every result in one table, filtered by card, cooler, kind, test point, protocol and year.",
        view=archive_view(found),
        section=ADDRESS,
        scripts=(
            "values.js",
            "nodes.js",
            "archive-state.js",
            "archive-rows.js",
            "archive-csv.js",
            "archive-chart.js",
            "archive.js",
            "ticks.js",
        ),
        depends_on=_bundles(found),
    )
    yield from (_year(year, found) for year in years(found))


def _year(year: str, found: Sequence[Subject]) -> Page:
    mine = [s for s in found if str(s.bundle.tested.year) == year]
    lead = (f"{count(len(mine), 'result')} tested in {year}, newest first.",)
    return Page(
        path=f"years/{year}.html",
        template="pages/list.html",
        title=f"Results of {year}",
        description=f"Every result that was tested in {year}, with its main figures at stock.",
        view=ListView(lead=lead, table=year_table(year, mine)),
        section=ADDRESS,
        trail=(Name(text="Archive", href=ADDRESS),),
        scripts=("nodes.js", "ticks.js"),
        depends_on=_bundles(mine),
    )


def _bundles(found: Iterable[Subject]) -> tuple[str, ...]:
    return tuple(f"bundle:{s.id}" for s in found)
