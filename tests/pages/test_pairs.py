"""What the side by side page says of a pair is what the comparison says of it, for every pair of every archive here."""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import dataclass
from functools import cache
from itertools import permutations
from typing import Any

import pytest

from builder.comparison import ByPsi, Direct, HeadToHead, PointOf, Standing, Tested, VersusRow, head_to_head
from builder.comparison.reasons import other_card, run_reasons
from builder.core.quantity import format_number
from builder.pages.parts import figure_line, num, plain_text
from builder.pages.side_by_side_data import asked_points, own_point, pair_files, template
from tests.support.pair_archives import ARCHIVES
from tests.support.scripts import by_script, script

# Reads the files as a browser does and answers for each pair that is asked for.
ANSWER = f"""(() => {{
  const data = {script("compare-data.js")};
  for (const text of Object.values(given.files)) (0, eval)(text);
  return given.asked.map(([point, a, b]) => {{
    const read = (card) => data.readData(globalThis.SoakbookPairs.get(`${{card}}/${{point}}`), card);
    const cards = new Map([a, b].map(([card]) => [card, read(card)]));
    const [one, two] = [a, b].map(([card, id]) => cards.get(card).results.get(id));
    const pair = data.pairOf(cards, one, two);
    const rows = pair.rows.map((row) => ({{
      kind: row.kind.id,
      text: data.plainSentence(row, one.label, two.label),
      word: data.word(row),
      difference: row.difference && ["value", "u", "other", "otherU"].map((key) => row.difference[key] ?? ""),
      values: row.values.map((digits) => data.inWords(digits)),
    }}));
    const words = (r) => Object.fromEntries([...r.figures].map(([kind, digits]) => [kind, data.inWords(digits)]));
    const figures = [one, two].map(words);
    return {{ how: pair.how, reasons: pair.reasons, watts: pair.watts, rows, figures }};
  }});
}})()"""


@dataclass(frozen=True, kw_only=True)
class Asked:
    """Two results and the test point that they are asked for."""

    point: str
    a: str
    b: str


EVERY = pytest.mark.parametrize("name", ARCHIVES)


@cache
def archive(name: str) -> Tested:
    return ARCHIVES[name]()


def asked_of(tested: Tested) -> Iterator[Asked]:
    """Every pair both ways at every test point that the page offers, across cards where both cards offer it."""
    cards = sorted({tested.setup(b).bundle.card for b in tested.results})
    offered = {card: {p.id for p in asked_points(tested, card)} for card in cards}
    for a, b in permutations(sorted(tested.results), 2):
        for point in sorted(offered[tested.setup(a).bundle.card] & offered[tested.setup(b).bundle.card]):
            yield Asked(point=point, a=a, b=b)


@cache
def answers(name: str) -> tuple[tuple[Asked, Any], ...]:
    tested = archive(name)
    asked = tuple(asked_of(tested))
    place = {b: (tested.setup(b).bundle.card, b) for b in tested.results}
    given = {"files": dict(pair_files(tested)), "asked": [(x.point, place[x.a], place[x.b]) for x in asked]}
    return tuple(zip(asked, by_script(ANSWER, given), strict=True))


def expected(tested: Tested, asked: Asked) -> HeadToHead | None:
    """What the comparison says; None where a protocol has no such test point, of which it knows nothing."""
    points = [own_point(tested, bundle, asked.point) for bundle in (asked.a, asked.b)]
    if points[0] is None or points[1] is None:
        return None
    return head_to_head(tested, PointOf(bundle=asked.a, point=points[0]), PointOf(bundle=asked.b, point=points[1]))


def how(found: HeadToHead) -> str:
    kinds = {Direct: "direct", ByPsi: "psi"}
    return kinds.get(type(found.comparability), "none")


@EVERY
def test_the_page_compares_what_the_program_compares_and_gives_its_reasons(name: str) -> None:
    for asked, told in answers(name):
        found = expected(archive(name), asked)
        if found is None:
            continue
        assert told["how"] == how(found), asked
        reasons = () if isinstance(found.comparability, Direct) else found.comparability.reasons
        assert told["reasons"] == [reason.text for reason in reasons], asked
        if isinstance(found.comparability, ByPsi):
            assert told["watts"] == f"{format_number(found.comparability.watts, 0)}\xa0W", asked


@EVERY
def test_every_row_has_the_sentence_and_the_digits_of_the_program(name: str) -> None:
    for asked, told in answers(name):
        found = expected(archive(name), asked)
        if found:
            assert [(r["kind"], r["text"]) for r in told["rows"]] == [(r.kind, r.text) for r in found.rows], asked
            assert [r["difference"] for r in told["rows"]] == [digits(r) for r in found.rows], asked


def digits(row: VersusRow) -> list[str] | None:
    if row.difference is None:
        return None
    shown = num(row.difference, sign=True)
    return [shown.value, shown.u, shown.fahrenheit_value, shown.fahrenheit_u]


WORDS = {
    Standing.A_BETTER: {"cooler", "lower", "quieter", "faster", "higher", "smaller"},
    Standing.B_BETTER: {"warmer", "higher", "louder", "slower", "lower", "larger"},
    Standing.TOO_CLOSE: {"too close to call"},
    Standing.NOT_JUDGED: {"not judged"},
    Standing.DIFFERENT: {"lower", "higher", "slower", "faster", "cooler", "warmer"},
}


@EVERY
def test_the_short_word_in_a_cell_is_the_word_of_the_sentence_for_the_first(name: str) -> None:
    for asked, told in answers(name):
        found = expected(archive(name), asked)
        for shown, row in zip(told["rows"], found.rows if found else (), strict=True):
            assert shown["word"] in WORDS[row.standing], asked
            says_first = row.text.startswith(archive(name).label(asked.a))
            if row.standing not in (Standing.TOO_CLOSE, Standing.NOT_JUDGED):
                assert (shown["word"] in row.text) is says_first, (asked, row.text, shown["word"])


@EVERY
def test_figures_on_both_sides_are_those_of_the_results(name: str) -> None:
    tested = archive(name)
    for asked, told in answers(name):
        for bundle, shown in zip((asked.a, asked.b), told["figures"], strict=True):
            point = tested.point(bundle, own_point(tested, bundle, asked.point) or "")
            figures = point.figures if point else {}
            expect = {kind: plain_text(figure_line(figure)) for kind, figure in figures.items()}
            assert shown == expect, (asked, bundle)


@EVERY
def test_values_at_a_common_power_are_those_of_the_program(name: str) -> None:
    for asked, told in answers(name):
        found = expected(archive(name), asked)
        if found and how(found) == "psi":
            expect = [[num(e).text for e in (r.a, r.b) if e] for r in found.rows]
            assert [r["values"] for r in told["rows"]] == expect, asked


def test_the_archives_hold_every_kind_of_answer() -> None:
    """Otherwise the agreement above would prove little."""
    found = [expected(archive("every rule"), asked) for asked, _ in answers("every rule")]
    rows = [row for pair in found if pair for row in pair.rows]
    assert {how(pair) for pair in found if pair} == {"direct", "psi", "none"}
    assert {row.standing for row in rows} == set(Standing)
    codes = {r.code for p in found if p and not isinstance(p.comparability, Direct) for r in p.comparability.reasons}
    assert codes >= {"other-card", "other-sample", "other-point", "not-settled", "ambient-outside", "no-run"}


def test_the_archives_hold_bounds_and_the_page_says_them_as_bounds() -> None:
    shown = {text for _, told in answers("every rule") for side in told["figures"] for text in side.values()}
    assert {text.split()[1] for text in shown if text.startswith("at ")} == {"least", "most"}


def test_a_protocol_without_the_test_point_is_said_with_its_name() -> None:
    told = {(a.point, a.a, a.b): t for a, t in answers("short protocol on the same card")}
    found = told["power-80", "riffle-on-780", "slab-on-740"]
    assert found["how"] == "none"
    assert found["reasons"] == [
        "Fenwick Slab, tested 2025-06-02 was tested by Brief 5, which has no test point equivalent to Power limit 80 %."
    ]
    assert own_point(archive("short protocol on the same card"), "slab-on-740", "power-80") is None


def test_results_on_two_cards_are_ruled_out_in_the_programs_words() -> None:
    tested = archive("every rule")
    told = {(a.a, a.b): t for a, t in answers("every rule") if a.point == "stock"}
    reason = other_card(tested, "slow", "far")
    assert reason
    assert told["slow", "far"]["reasons"] == [reason.text, *(r.text for r in run_reasons(tested, "slow", "stock"))]


def test_a_template_is_no_row_that_is_not_judged() -> None:
    row = VersusRow(kind="core_rise", a=None, b=None, difference=None, standing=Standing.NOT_JUDGED, text="x")
    with pytest.raises(ValueError, match="core_rise is not judged"):
        template(row)


@EVERY
def test_files_are_ascii_scripts_that_only_store_data(name: str) -> None:
    for path, text in pair_files(archive(name)).items():
        assert re.fullmatch(r"compare/[a-z0-9-]+/[a-z0-9-]+\.js", path)
        assert text.isascii()
        assert "<" not in text
        assert text.startswith("(globalThis.SoakbookPairs??=new Map).set(")
        assert text.count("\n") == 1
