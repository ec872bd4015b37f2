"""The claims audit: invented archives with known truth are published, and every claim is read back and counted.

`python -m tests.studies.claims_audit` writes content/studies/claims.{md,csv}, which the methodology page includes;
with --print it only prints, each false claim and each interval that misses in a line of its own.
"""

from __future__ import annotations

import argparse
import csv
import io
import multiprocessing
import sys
import tempfile
from collections import Counter
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import TypeVar

from builder.commands.reduce_archive import reduce_archive
from builder.comparison import Tested
from builder.core.errors import SoakbookError
from builder.site import SiteRenderer
from tests.studies.claims import Claim, claims
from tests.studies.claims_on_pages import KINDS, page_claims
from tests.studies.invented_archives import make_world
from tests.studies.invented_truth import World

CONTENT = Path(__file__).resolve().parents[2] / "content" / "studies"
ARCHIVES = 100
FIRST = 5000  # seeds that nothing was tried on
COLUMNS = ("about", "claims", "false", "unlike", "intervals", "held")
READ = ("cards/plain", "results/", "compare/", "index.html")  # pages that compare and claim
COMMAND = "python -m tests.studies.claims_audit"
T = TypeVar("T")


@dataclass(frozen=True, kw_only=True)
class Undrawn:
    """Keeps nothing, and makes everything but pictures: charts say in words what they show."""

    def bytes_of(self, kind: str, parts: object, make: Callable[[], bytes]) -> bytes:  # noqa: ARG002 - as it is asked
        """Return the bytes of one thing, or none for a picture."""
        return b"" if kind == "chart" else make()

    def object_of(self, kind: str, parts: object, make: Callable[[], T]) -> T:  # noqa: ARG002 - as it is asked
        """Return one thing."""
        return make()


@dataclass(frozen=True, kw_only=True, eq=False)
class Archive:
    """An invented archive: its truth, its figures, and its pages as HTML by address."""

    world: World
    tested: Tested
    pages: Mapping[str, str]

    def claims(self) -> tuple[Claim, ...]:
        """Return every claim of the archive."""
        return (*claims(self.world, self.tested), *page_claims(self.world, self.tested, self.pages))


def published(seed: int) -> Archive:
    """Return an invented archive as it is published. Raises SoakbookError where it has an error."""
    with tempfile.TemporaryDirectory() as folder:
        root = Path(folder) / "archive"
        world = make_world(root, seed)
        figures = reduce_archive(root)
        if not figures.sound:
            raise SoakbookError(figures.problems)
        site = SiteRenderer(root=root, loaded=figures.loaded, results=figures.results, keep=Undrawn())
        pages = {path: site.page(path).decode() for path in site.plan.pages if path.startswith(READ)}
        return Archive(world=world, tested=figures.tested, pages=pages)


def audit(seed: int) -> tuple[Claim, ...]:
    """Return every claim of one invented archive."""
    return published(seed).claims()


def counted(found: Iterable[Claim]) -> Counter[tuple[str, str]]:
    """Return how often each count applies, by what claims are about."""
    tally: Counter[tuple[str, str]] = Counter()
    for claim in found:
        tally[claim.about, "claims"] += claim.false is not None
        tally[claim.about, "false"] += bool(claim.false)
        tally[claim.about, "unlike"] += claim.unlike
        tally[claim.about, "intervals"] += claim.holds is not None
        tally[claim.about, "held"] += bool(claim.holds)
    return tally


def unread(tally: Counter[tuple[str, str]]) -> tuple[str, ...]:
    """Return the kinds of sentences and tables that were found nowhere: their words changed, so nothing was counted."""
    return tuple(kind for kind in KINDS if not any(tally[kind, column] for column in COLUMNS[1:]))


# --- the table


def rows_of(tally: Counter[tuple[str, str]]) -> list[tuple[str, ...]]:
    """Return a row for each kind of claim and one for all, in the order of `COLUMNS`."""
    kinds = sorted({about for about, _ in tally})
    rows = [(about, *(str(tally[about, column]) for column in COLUMNS[1:])) for about in kinds]
    whole = (str(sum(tally[about, column] for about in kinds)) for column in COLUMNS[1:])
    return [*rows, ("all", *whole)]


def csv_text(rows: Sequence[tuple[str, ...]]) -> str:
    """Return the table as CSV."""
    out = io.StringIO()
    csv.writer(out, lineterminator="\n").writerows([COLUMNS, *rows])
    return out.getvalue()


def markdown(rows: Sequence[tuple[str, ...]], archives: int, first: int = FIRST) -> str:
    """Return the table after one sentence that sums it up, as the methodology page shows it."""
    _, made, false, unlike, intervals, held = rows[-1]
    summary = (
        f"{archives} invented archives with known truth were published, and every claim was read back from figures and "
        f"pages: {_share(false, made)} of {_thousands(made)} claims were false, {unlike} compared unlike settings, and "
        f"{_share(held, intervals)} of {_thousands(intervals)} intervals held the truth. Aims: false claims at most "
        "2.5 %, none about unlike settings, and 93 to 99 % of intervals."
    )
    table = [
        "| About | Claims | False | Unlike settings | Intervals | Held the truth |",
        "| --- | --- | --- | --- | --- | --- |",
        *(f"| {r[0]} | {r[1]} | {r[2]} | {r[3]} | {r[4]} | {_share(r[5], r[4])} |" for r in rows),
    ]
    return "\n".join(
        [f"This table was written by `{COMMAND} --archives {archives} --first {first}`.", "", summary, "", *table, ""]
    )


def _share(part: str, whole: str) -> str:
    return f"{100 * int(part) / int(whole):.1f} %" if int(whole) else ""


def _thousands(number: str) -> str:
    return f"{int(number):,}"


# --- the command


def main(arguments: Sequence[str] | None = None) -> int:
    """Audit on two processes, then write the table, or print it with what was false."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--archives", type=int, default=ARCHIVES)
    parser.add_argument("--first", type=int, default=FIRST)
    parser.add_argument("--processes", type=int, default=2)
    parser.add_argument("--print", action="store_true", help="print what is false and the table, and write nothing")
    wanted = parser.parse_args(arguments)
    seeds = range(wanted.first, wanted.first + wanted.archives)
    tally: Counter[tuple[str, str]] = Counter()
    with multiprocessing.get_context("spawn").Pool(wanted.processes) as pool:
        for seed, found in zip(seeds, pool.imap(audit, seeds), strict=True):
            tally += counted(found)
            if wanted.print:
                sys.stdout.writelines(_complaints(seed, found))
    rows = rows_of(tally)
    if not wanted.print:
        (CONTENT / "claims.csv").write_text(csv_text(rows), encoding="utf-8")
        (CONTENT / "claims.md").write_text(markdown(rows, wanted.archives, wanted.first), encoding="utf-8")
    sys.stdout.write(csv_text(rows))
    sys.stdout.writelines(f"not read: {kind}\n" for kind in unread(tally))
    return 0


def _complaints(seed: int, found: Iterable[Claim]) -> list[str]:
    false = [f"{seed}: false: {c.about}: {c.where}\n" for c in found if c.false or c.unlike]
    return [*false, *(f"{seed}: misses: {c.about}: {c.where}\n" for c in found if c.holds is False)]


if __name__ == "__main__":
    sys.exit(main())
