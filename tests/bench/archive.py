"""Changing the archive's filters over 6,000 rows, the processor slowed to a quarter: `python -m tests.bench.archive`.

Prints, for every kind of change, milliseconds of the browser's own processor time (script, style and layout): until the
first rows stand, and for the longest of the next pieces in which the other rows come. The ratio is to a pass that
filters nothing and changes nothing.
"""

from __future__ import annotations

import sys
import tempfile
from dataclasses import dataclass
from pathlib import Path

from playwright.sync_api import CDPSession
from playwright.sync_api import Page as Tab

from builder.comparison import subjects
from builder.pages.archive_table import archive_page
from tests.support.browser import chromium, opened
from tests.support.large_archive import FULL, many
from tests.support.small_site import plan_of, write_site

ROWS = 6000
POINTS = 7
SLOWER = 4
LIMIT_MS = 50.0
TRIES = 10
PIECES = 3  # later ones that are timed
PARTS = ("ScriptDuration", "RecalcStyleDuration", "LayoutDuration")

# Pieces of work that wait for the browser to be idle run when the measurement asks for them.
HOLD = "globalThis.held = []; globalThis.requestIdleCallback = (work) => held.push(work);"
THEN_LAY_OUT = "; document.querySelector('#archive').getBoundingClientRect();"
ONE_PIECE = "held.shift()?.()"
ALL_PIECES = "while (held.length) held.shift()()"

TURN = """document.querySelector('input[name="{}"][value="{}"]').click()"""
TYPE = (
    "const q = document.querySelector('#filter-q'); q.value = q.value ? '' : '{}';"
    " q.dispatchEvent(new Event('input', {{bubbles: true}}))"
)
CHANGES = {
    "nothing": TYPE.format(""),
    "a test point more or less": TURN.format("point", "idle"),
    "a cooler more or less": TURN.format("cooler", "slab"),
    "a card more or less": TURN.format("card", "card-03"),
    "a year more or less": TURN.format("year", "2020"),
    "settled only or not": TURN.format("settled", "yes"),
    "a word that many rows have": TYPE.format("slab"),
    "a word that no row has": TYPE.format("zork"),
    "order by another column": "document.querySelectorAll('#archive thead button')[2].click()",
}


@dataclass(frozen=True, kw_only=True)
class Spent:
    """Milliseconds until the first rows stand, and of the longest later piece."""

    first: float
    later: float


def large_archive(folder: Path, rows: int = ROWS) -> Path:
    """Write an archive page with so many rows and what it loads; return the page."""
    whole = many(-(-rows // (len(FULL) * POINTS)), cards=12)
    page = archive_page(subjects(whole.catalogue, whole.results))
    write_site(folder, plan_of(many(1)), (page,))
    return folder / page.path


def processor_ms(session: CDPSession) -> float:
    """Return the time that script, style and layout have taken so far."""
    metrics = {m["name"]: m["value"] for m in session.send("Performance.getMetrics")["metrics"]}
    return 1000 * sum(float(metrics[part]) for part in PARTS)


def spent_by(session: CDPSession, code: str) -> float:
    """Return the time that one piece of script takes, with the layout that follows it."""
    before = processor_ms(session)
    session.send("Runtime.evaluate", {"expression": f"{{ {code}{THEN_LAY_OUT} }}"})
    return processor_ms(session) - before


def spent_on(tab: Tab, session: CDPSession, code: str) -> Spent:
    """Return the least times of a change that is made and taken back again and again."""
    there = [once(tab, session, code) for _ in range(2 * TRIES)]
    # Doing and undoing are two changes; the dearer of both counts.
    ways = (there[0::2], there[1::2])
    return Spent(
        first=max(min(spent.first for spent in way) for way in ways),
        later=max(min(spent.later for spent in way) for way in ways),
    )


def once(tab: Tab, session: CDPSession, code: str) -> Spent:
    """Return the times of one change."""
    first = spent_by(session, code)
    pieces = [0.0, *(spent_by(session, ONE_PIECE) for _ in range(PIECES))]
    tab.evaluate(ALL_PIECES)
    return Spent(first=first, later=max(pieces))


def main() -> None:
    """Print a line for every kind of change."""
    with tempfile.TemporaryDirectory() as folder, chromium() as browser, opened(browser) as seen:
        seen.page.set_default_timeout(120_000)
        seen.page.add_init_script(HOLD)
        page = large_archive(Path(folder))
        rows = page.read_text(encoding="utf-8").count("<tr data-r")
        seen.page.goto(page.as_uri())
        session = seen.page.context.new_cdp_session(seen.page)
        session.send("Emulation.setCPUThrottlingRate", {"rate": SLOWER})
        session.send("Performance.enable", {"timeDomain": "threadTicks"})
        sys.stdout.write(f"{rows} rows, processor {SLOWER} times slower; the limit is {LIMIT_MS:.0f} ms\n")
        spent_on(seen.page, session, CHANGES["nothing"])  # the browser compiles what runs often
        empty = spent_on(seen.page, session, CHANGES["nothing"])
        for name, code in CHANGES.items():
            found = spent_on(seen.page, session, code)
            over = "  over the limit" if max(found.first, found.later) > LIMIT_MS else ""
            ratio = found.first / empty.first
            line = (
                f"{name:28} {found.first:6.1f} ms, longest later piece {found.later:6.1f} ms, ratio {ratio:4.1f}{over}"
            )
            sys.stdout.write(line + "\n")


if __name__ == "__main__":
    main()
