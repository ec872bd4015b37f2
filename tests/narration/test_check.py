"""Scripts and notes against an archive: addresses that lead nowhere, claims with their lines, unlinked numbers."""

from __future__ import annotations

import datetime as dt

import pytest
from hypothesis import given
from hypothesis import strategies as st

from builder.archive.bundle import Correction
from builder.archive.protocol import SpreadByKind
from builder.comparison import Tested
from builder.core.errors import Severity
from builder.core.results import Verdict
from builder.narration import CheckedWords, Moment, Words, check_words
from tests.support.invented import Given, Shot, archive_of

SPREAD = SpreadByKind(air=0.2, liquid=0.2)


def given_bundle(name: str, rise: float, *, card: str = "orrery-780", verdict: Verdict = Verdict.SETTLED) -> Given:
    shot = Shot(values={"core_rise": [rise], "board_power": [282.0], "core_temperature": [rise + 22]}, verdict=verdict)
    return Given(id=name, shots={"stock": shot}, card=card)


@pytest.fixture(scope="module")
def archive() -> Tested:
    """Return four results: slab 26 K, twin 30 K, riffle 26.1 K, and one on another card."""
    return archive_of(
        [
            given_bundle("slab", 26.0),
            given_bundle("twin", 30.0),
            given_bundle("riffle", 26.1),
            given_bundle("far", 20.0, card="orrery-740"),
            given_bundle("loop", 28.0, verdict=Verdict.DRIFTING),
        ],
        spread=SPREAD,
    )


def checked(text: str, archive: Tested) -> CheckedWords:
    return check_words(Words(file="script.md", bundle="slab", text=text), archive)


def said(text: str, archive: Tested) -> list[str]:
    return [str(p) for p in checked(text, archive).problems]


TRUE = {
    "figure": "[26 degrees](figure:stock/core_rise)",
    "of another bundle": "[30 degrees](figure:twin/stock/core_rise)",
    "difference": "[4 degrees cooler](figure:stock/core_rise~twin)",
    "turned round": "[4 degrees warmer](figure:twin/stock/core_rise~slab)",
    "percent": "[13 % less](figure:stock/core_rise~twin)",
    "tie": "[too close to call](figure:stock/core_rise~riffle)",
    "over two lines": "[26\ndegrees](figure:stock/core_rise)",
    "with emphasis": "[**26** degrees](figure:stock/core_rise)",
    "in a table": "| a |\n|---|\n| [26 K](figure:stock/core_rise) |",
    "in a list": "- one\n- [26 K](figure:stock/core_rise)",
    "by a reference": "[26 K][rise]\n\n[rise]: figure:stock/core_rise",
}


@pytest.mark.parametrize("text", TRUE.values(), ids=TRUE.keys())
def test_a_true_claim_is_silent(text: str, archive: Tested) -> None:
    found = checked(text, archive)
    assert found.problems == ()
    assert len(found.linked) == 1


WRONG = {
    "unknown point": (
        "[26 K](figure:stok/core_rise)",
        (
            'error[unknown-figure] script.md:1: there is no test point "stok" in this bundle\n'
            'hint: did you mean "stock"?'
        ),
    ),
    "unknown kind": (
        "[26 K](figure:stock/core_ris)",
        (
            'error[unknown-figure] script.md:1: there is no figure "core_ris" at Stock in this bundle\n'
            'hint: did you mean "figure:stock/core_rise"?'
        ),
    ),
    "not measured": (
        "[26 K](figure:stock/memory_rise)",
        (
            "error[unknown-figure] script.md:1: Memory over ambient has no figure at Stock in this bundle\n"
            'hint: did you mean "figure:stock/core_rise"?'
        ),
    ),
    "unknown bundle": (
        "[26 K](figure:twins/stock/core_rise)",
        'error[unknown-figure] script.md:1: there is no bundle "twins"\nhint: did you mean "twin"?',
    ),
    "unknown other": (
        "[4 K](figure:stock/core_rise~twim)",
        'error[unknown-figure] script.md:1: there is no bundle "twim"\nhint: did you mean "twin"?',
    ),
    "other like its partner": (
        "[4 K](figure:slab/stock/core_rise~slub)",
        'error[unknown-figure] script.md:1: there is no bundle "slub"\nhint: there are: far, loop, riffle, twin',
    ),
    "kind that is never judged": (
        "[4 K](figure:stock/core_temperatur~twin)",
        (
            'error[unknown-figure] script.md:1: there is no figure "core_temperatur" at Stock in this bundle\n'
            "hint: there are: core_rise"
        ),
    ),
    "kind that has no change": (
        "[4 K](figure:stock/core_ris#change)",
        (
            'error[unknown-figure] script.md:1: there is no figure "core_ris" at Stock in this bundle\n'
            "hint: link a figure by itself: board_power, core_rise, core_temperature"
        ),
    ),
    "no change": (
        "[4 K](figure:stock/core_rise#change)",
        (
            'error[unknown-figure] script.md:1: "figure:stock/core_rise#change": Core over ambient has no '
            "change from stock at Stock\nhint: link the figure itself"
        ),
    ),
    "no address": (
        "[26 K](figure:core_rise)",
        (
            'error[unknown-figure] script.md:1: "figure:core_rise" is not the address of a figure\n'
            "hint: write figure:POINT/KIND or figure:BUNDLE/POINT/KIND, then #change, #own or ~BUNDLE where a "
            "difference is meant"
        ),
    ),
    "no link": (
        "[that much](figure: stock/core_rise)",
        (
            'error[unknown-figure] script.md:1: "figure: stock/core_rise" is not a link: an address holds no '
            "spaces\nhint: write figure:POINT/KIND or figure:BUNDLE/POINT/KIND, then #change, #own or ~BUNDLE where a "
            "difference is meant"
        ),
    ),
    "wrong sign": (
        "one\n\ntwo [4 degrees warmer](figure:stock/core_rise~twin)",
        (
            'error[claim-sign] script.md:3: said "4 degrees warmer", computed −4.0 ± 0.7 K: "warmer" is the '
            'wrong way\nhint: as one speaks it: "4 degrees cooler"'
        ),
    ),
    "too close": (
        "[cooler](figure:stock/core_rise~riffle)",
        (
            'error[claim-not-separable] script.md:1: said "cooler", but −0.1 ± 0.7 K cannot be told from no '
            'difference\nhint: say "too close to call", or leave the comparison out'
        ),
    ),
    "another card": (
        "[6 degrees warmer](figure:stock/core_rise~far)",
        (
            'error[claim-not-separable] script.md:1: said "6 degrees warmer", but there is no difference to '
            "speak of: They were tested on different cards, Orrery-780 and Orrery-740.\nhint: leave it out"
        ),
    ),
    "drifting": (
        "[2 degrees cooler](figure:stock/core_rise~loop)",
        (
            'error[claim-not-separable] script.md:1: said "2 degrees cooler", but there is no difference to '
            "speak of: loop: the run at Stock was still drifting when it ended.\nhint: leave it out"
        ),
    ),
    "temperatures": (
        "[4 degrees cooler](figure:stock/core_temperature~twin)",
        (
            'error[claim-not-separable] script.md:1: said "4 degrees cooler", but there is no difference to '
            "speak of: Includes the room's temperature: differences are not judged.\nhint: leave it out"
        ),
    ),
    "not settled": (
        "[28 K](figure:loop/stock/core_rise)",
        (
            'warning[claim-not-settled] script.md:1: "28 K" rests on a run that had not settled\n'
            'hint: say so, as in "28 degrees so far", or run longer'
        ),
    ),
}


@pytest.mark.parametrize(("text", "problem"), WRONG.values(), ids=WRONG.keys())
def test_a_wrong_claim_is_one_problem(text: str, problem: str, archive: Tested) -> None:
    assert said(text, archive) == [problem]


def test_every_problem_comes_at_once_with_its_line(archive: Tested) -> None:
    text = "# A\n\n[27 K](figure:stock/core_rise) and\nthen [3 W](figure:stock/board_power)\n\n- [x](figure:stock/y)\n"
    found = checked(text, archive).problems
    assert [(p.code, p.where.line) for p in found] == [
        ("claim-differs", 3),
        ("claim-differs", 4),
        ("unknown-figure", 6),
    ]


# --- numbers without a link ------------------------------------------------------------------------------------


def test_unlinked_numbers_are_one_notice_that_names_the_first(archive: Tested) -> None:
    text = "At 282 W\nand 26\ndegrees,\n[26 K](figure:stock/core_rise).\n\n- 4 % less\n- 71 fps\n"
    (notice,) = checked(text, archive).problems
    assert notice.severity is Severity.NOTICE
    assert str(notice) == (
        "notice[unchecked-number] script.md:1: 4 numbers without a link to a figure: "
        'line 1 "282 W", line 2 "26 degrees", line 6 "4 %" and 1 more\n'
        "hint: a link such as [32.9 K](figure:stock/core_rise) has the number checked"
    )


def test_every_unlinked_number_is_listed_for_programs(archive: Tested) -> None:
    found = checked("282 W\n\n[see 30 K](https://x.example)\n", archive).unlinked
    assert [(n.where.line, n.text) for n in found] == [(1, "282 W"), (3, "30 K")]


SILENT = {
    "code": "`26 K`",
    "code block": "```\n26 K\n```",
    "no unit": "Orrery 780, 3 mounts, 20 minutes",
    "setting": "the 80 % limit",
    "time": "at 6:40",
    "picture": "![26 K](x.jpg)",
}


@pytest.mark.parametrize("text", SILENT.values(), ids=SILENT.keys())
def test_what_is_no_figure_needs_no_link(text: str, archive: Tested) -> None:
    assert checked(text, archive).problems == ()


# --- moments ---------------------------------------------------------------------------------------------------


def test_a_link_knows_the_headings_before_it(archive: Tested) -> None:
    parts = ["# Title", "## 6:40 Thermal results", "[26 K](figure:stock/core_rise)", "### Power"]
    text = "\n\n".join([*parts, "[282 W](figure:stock/board_power)"])
    first, second = (one.link for one in checked(text, archive).linked)
    assert first.headings == (Moment(at="", label="Title"), Moment(at="6:40", label="Thermal results"))
    assert second.headings[-1] == Moment(at="", label="Power")
    assert (first.line, second.line) == (5, 9)


@given(st.text(alphabet=st.sampled_from("[]()figure:stock/core_rise~#change 26 K\n|-*`!<>"), max_size=80))
def test_any_text_can_be_checked(text: str) -> None:
    found = check_words(Words(file="x.md", bundle="slab", text=text), archive_of([given_bundle("slab", 26.0)]))
    assert all(p.where.line >= 1 for p in found.problems)


# --- figures that were corrected ---------------------------------------------------------------------------------


def corrected(was: str) -> Tested:
    archive = archive_of([given_bundle("slab", 26.0)], spread=SPREAD)
    correction = Correction(
        date=dt.date(2026, 5, 3), figure="stock/core_rise", was=was, now="26.0 K", reason="A probe."
    )
    bundle = archive.catalogue.bundles["slab"].model_copy(update={"corrections": (correction,)})
    catalogue = archive.catalogue.model_copy(update={"bundles": {"slab": bundle}})
    return Tested(catalogue=catalogue, results=archive.results)


def test_what_was_right_when_it_was_spoken_is_a_notice() -> None:
    (notice,) = said("[27.3 K](figure:stock/core_rise)", corrected("27.3 K"))
    assert notice == (
        'notice[claim-corrected] script.md:1: said "27.3 K", computed 26.0 ± 0.5 K: it was 27.3 K until the '
        "correction of 2026-05-03\nhint: nothing to mend where the words are published already"
    )


def test_a_correction_excuses_no_other_number() -> None:
    (problem,) = checked("[28 K](figure:stock/core_rise)", corrected("27.3 K")).problems
    assert problem.code == "claim-differs"
