"""The ledger: every figure as it was published, and what changed since; `ledger.json` in the archive.

It stands under version control beside the logs, so that a figure that was quoted can be found again, and a figure
that changes without a word is noticed.
"""

from __future__ import annotations

import json
import os
from collections.abc import Iterator, Mapping
from pathlib import Path
from typing import Literal

from pydantic import BaseModel, ConfigDict, ValidationError

from builder.archive import Loaded
from builder.archive.bundle import Bundle
from builder.archive.catalogue import Catalogue
from builder.core.errors import Problem, Problems, Severity, SoakbookError, Span
from builder.core.files import read_bytes
from builder.core.quantity import NO_BREAK
from builder.core.results import BundleResult
from builder.core.writing import write_whole

LEDGER = "ledger.json"
HOW_TO_MEND = "restore the file from version control, or move it away to begin a new ledger"

Digits = dict[str, dict[str, str]]  # by test point and figure: "30.1 ± 0.8 K"


class _Part(BaseModel):
    model_config = ConfigDict(frozen=True, extra="forbid", strict=True)


class Entry(_Part):
    """One result as it was published last: its protocol's version, its figures, and how many corrections it had."""

    protocol: str
    version: int
    corrections: int
    figures: Digits


class Change(_Part):
    """A published figure that came out otherwise later; `corrected` says whether a correction was written for it."""

    bundle: str
    figure: str  # stock/core_rise
    was: str
    now: str
    corrected: bool


class Ledger(_Part):
    """Every result that was ever published, by bundle, and every change of its figures, oldest first."""

    format: Literal[1] = 1
    results: dict[str, Entry] = {}
    changes: tuple[Change, ...] = ()


def read_ledger(root: Path) -> Ledger:
    """Return the archive's ledger, an empty one before the first publication.

    Raises SoakbookError where the file cannot be read, so that no publication writes over what it recorded.
    """
    if not os.path.lexists(root / LEDGER):
        return Ledger()
    problems = Problems()
    data = read_bytes(root, LEDGER, problems, Span(file=LEDGER))
    if data is None:
        raise SoakbookError(problems)
    try:
        return Ledger.model_validate_json(data)
    except ValidationError as error:
        first = error.errors(include_url=False, include_input=False)[0]
        place = ".".join(str(part) for part in first["loc"])
        message = f"the ledger cannot be read{f' at {place}' if place else ''}: {first['msg']}"
        problem = Problem(code="bad-ledger", where=Span(file=LEDGER), message=message, hint=HOW_TO_MEND)
        raise SoakbookError([problem]) from None


def published_figures(catalogue: Catalogue, results: Mapping[str, BundleResult]) -> Mapping[str, Entry]:
    """Return what a publication of these results shows, by bundle."""
    return {bundle: _entry(catalogue, catalogue.bundles[bundle], results[bundle]) for bundle in sorted(results)}


def _entry(catalogue: Catalogue, bundle: Bundle, result: BundleResult) -> Entry:
    figures = {
        point.point: {kind: figure.text().replace(NO_BREAK, " ") for kind, figure in point.figures.items()}
        for point in result.points
    }
    return Entry(
        protocol=bundle.protocol,
        version=catalogue.protocols[bundle.protocol].version,
        corrections=len(bundle.corrections),
        figures=figures,
    )


def changed(ledger: Ledger, now: Mapping[str, Entry]) -> tuple[Change, ...]:
    """Return the figures that were published otherwise. A figure that is new or no longer there is no change."""
    both = [(bundle, ledger.results[bundle], entry) for bundle, entry in now.items() if bundle in ledger.results]
    return tuple(change for bundle, before, after in both for change in _changes(bundle, before, after))


def _changes(bundle: str, before: Entry, after: Entry) -> Iterator[Change]:
    corrected = after.corrections > before.corrections
    for point, figures in after.figures.items():
        for kind, digits in figures.items():
            was = before.figures.get(point, {}).get(kind, digits)
            if was != digits:
                yield Change(bundle=bundle, figure=f"{point}/{kind}", was=was, now=digits, corrected=corrected)


def ledger_notices(ledger: Ledger, now: Mapping[str, Entry], loaded: Loaded) -> tuple[Problem, ...]:
    """Return one notice for each result whose figures changed without a correction, and for each that is gone."""
    problems = Problems()
    silent: dict[str, list[Change]] = {}
    for change in changed(ledger, now):
        if not change.corrected:
            silent.setdefault(change.bundle, []).append(change)
    for bundle, changes in silent.items():
        where = loaded.where("bundle", bundle)
        problems.notice("figure-changed", where, _in_words(changes), "say why in a new entry below corrections")
    moved = loaded.catalogue.archive.moved
    for bundle in ledger.results:
        address = f"results/{bundle}.html"
        if bundle not in loaded.catalogue.bundles and address not in moved:
            message = f"{address} was published, and is not in the archive any more"
            problems.notice(
                "result-gone", Span(file=LEDGER), message, "give its new address below moved in archive.yaml"
            )
    return tuple(problems)


def _in_words(changes: list[Change]) -> str:
    first = changes[0]
    others = f", and {len(changes) - 1} more figures changed" if len(changes) > 1 else ""
    return f"{first.figure} was published as {first.was} and is now {first.now}{others}"


def after_publication(ledger: Ledger, now: Mapping[str, Entry]) -> Ledger:
    """Return the ledger with what was just published; results that are gone stay recorded."""
    return Ledger(results={**ledger.results, **now}, changes=(*ledger.changes, *changed(ledger, now)))


def write_ledger(root: Path, ledger: Ledger) -> Problem | None:
    """Write the ledger, whole or not at all; a file that would stay the same is left alone.

    Returns a warning where it cannot be written.
    """
    target = root / LEDGER
    data = (json.dumps(ledger.model_dump(mode="json"), ensure_ascii=False, indent=1) + "\n").encode()
    try:
        if not target.is_file() or target.read_bytes() != data:
            write_whole(target, data)
    except OSError as error:
        message = f"the ledger was not written: {error.strerror or error}"
        hint = "make the archive's folder writable and publish again"
        where = Span(file=LEDGER)
        return Problem(code="ledger-not-written", where=where, message=message, hint=hint, severity=Severity.WARNING)
    return None
