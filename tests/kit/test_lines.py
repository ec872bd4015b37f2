"""Spoken lines: sentences whose every number is true, and no difference that is not separable."""

from __future__ import annotations

import datetime as dt

import pytest

from builder.archive.protocol import SpreadByKind
from builder.comparison import Subject, Tested, subjects
from builder.core.errors import Severity
from builder.core.results import Verdict
from builder.kit.spoken_lines import escaped, lines_document
from builder.narration import CheckedWords, Words, check_words
from tests.support import site_data
from tests.support.invented import Given, Shot, air, archive_of

BUNDLES = sorted(site_data.bundles())


def checked(subject: Subject, archive: Tested) -> CheckedWords:
    return check_words(Words(file="lines.md", bundle=subject.id, text=lines_document(subject, archive)), archive)


def lines_of(archive: Tested, bundle: str) -> list[str]:
    (subject,) = [s for s in subjects(archive.catalogue, archive.results) if s.id == bundle]
    return [line for line in lines_document(subject, archive).splitlines() if line.startswith("- ")]


@pytest.mark.parametrize("bundle", BUNDLES)
def test_every_spoken_line_is_found_true_by_the_check(bundle: str, archive: Tested, found: dict[str, Subject]) -> None:
    result = checked(found[bundle], archive)
    assert [p for p in result.problems if p.severity is Severity.ERROR] == []
    assert result.unlinked == ()
    assert result.linked


def test_lines_of_one_result(archive: Tested, found: dict[str, Subject]) -> None:
    text = lines_document(found["slab-on-780"], archive)
    assert "- The core sits [31 degrees](figure:stock/core_rise) above the room." in text
    assert "- The card draws [285 watts](figure:stock/board_power)." in text
    assert (
        "- The card draws [57 watts less](figure:power-80/board_power#change) than at stock, "
        "[20 percent](figure:power-80/board_power#change): [228 watts](figure:power-80/board_power)." in text
    )


def two(first: float, second: float) -> Tested:
    shots = [
        Given(id=n, shots={"stock": Shot(values={"core_rise": [v]})}) for n, v in (("slab", first), ("twin", second))
    ]
    return archive_of(shots, spread=SpreadByKind(air=0.2, liquid=0.2))


def test_a_separable_difference_is_spoken_with_its_direction() -> None:
    assert lines_of(two(26.0, 30.0), "slab")[-1] == (
        "- The core is [4 degrees cooler](figure:stock/core_rise~twin) than with the twin."
    )
    assert lines_of(two(26.0, 30.0), "twin")[-1] == (
        "- The core is [4 degrees warmer](figure:stock/core_rise~slab) than with the slab."
    )


def test_a_difference_that_is_not_separable_is_never_claimed() -> None:
    for bundle in ("slab", "twin"):
        last = lines_of(two(30.0, 30.1), bundle)[-1]
        assert last.startswith("- [Too close to call](figure:stock/core_rise~")
        assert "cooler" not in last
        assert "warmer" not in last


def test_a_run_that_had_not_settled_says_so_first(archive: Tested, found: dict[str, Subject]) -> None:
    text = lines_document(found["lantern-on-780"], archive)
    stock = text.split("## Stock\n\n")[1]
    assert stock.startswith("- The run was still drifting when it ended: say so, or leave these numbers out.\n")


def test_names_are_text_and_no_markup() -> None:
    assert escaped("<b>[a](figure:x)*\n`") == r"\<b\>\[a\](figure:x)\* \`"


def test_of_a_cooler_that_was_tested_twice_the_day_is_spoken_in_words() -> None:
    given = [
        air("slab", 26.0),
        air("oldest", 30.1, cooler="twin", tested=dt.date(2025, 3, 1)),
        air("older", 30.0, cooler="twin", tested=dt.date(2025, 7, 12)),
    ]
    assert lines_of(archive_of(given, spread=SpreadByKind(air=0.2, liquid=0.2)), "slab")[-1] == (
        "- The core is [4 degrees cooler](figure:stock/core_rise~older) than with the twin that we tested on "
        "12 July 2025."
    )


def test_lines_of_readings_by_hand_say_so_at_every_number() -> None:
    shot = Shot(values={"core_rise": [26.0], "board_power": [285.0]}, verdict=Verdict.BY_HAND)
    archive = archive_of([Given(id="old", shots={"stock": shot})])
    nobody = "The figures were read by hand, so nobody can say whether the run had settled"
    assert lines_of(archive, "old") == [
        f"- {nobody}: say so, or leave these numbers out.",
        "- The core sits [26 degrees as read by hand](figure:stock/core_rise) above the room.",
        "- The card draws [285 watts as read by hand](figure:stock/board_power).",
    ]
    (subject,) = subjects(archive.catalogue, archive.results)
    assert checked(subject, archive).problems == ()
