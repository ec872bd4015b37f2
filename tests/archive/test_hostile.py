"""Archives written to do harm, or at random: problems, never exceptions, and nothing bad inside what is accepted."""

from __future__ import annotations

import json
import math
import string
from collections.abc import Iterator
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from builder.archive import parse_yaml
from builder.archive.catalogue import KINDS
from builder.archive.checks_within_a_file import check_alone, check_runs
from builder.archive.fields import Model
from builder.archive.messages import fields_of, model_at, to_model
from builder.core.errors import Problems
from tests.support.small_archive import Folder

CODES = frozenset(
    {
        *("alias", "bad-choice", "bad-date", "bad-id", "bad-key", "bad-value", "bad-yaml", "duplicate-id"),
        *("duplicate-key", "duplicate-run", "empty-file", "many-documents", "missing-field", "more-problems"),
        *("not-utf-8", "overlapping-runs", "tab", "tag", "too-deep", "too-large", "unknown-field", "wrong-type"),
    }
)


def model_of(data: bytes, kind: str) -> tuple[Model | None, Problems]:
    problems = Problems()
    doc = parse_yaml(data, file="x.yaml", problems=problems)
    model = to_model(doc, KINDS[kind], problems) if doc else None
    if doc and model:
        check_alone(model, doc, problems)
    if doc and kind == "bundle":
        check_runs(doc, problems)
    return model, problems


def numbers(value: object) -> Iterator[float]:
    if isinstance(value, dict):
        for child in value.values():
            yield from numbers(child)
    elif isinstance(value, list | tuple):
        for child in value:
            yield from numbers(child)
    elif isinstance(value, float):
        yield value


def check(data: bytes, kind: str) -> None:
    model, problems = model_of(data, kind)
    assert {p.code for p in problems} <= CODES
    assert all(p.message and p.where.line for p in problems)
    assert model is not None or problems.has_errors
    assert all(math.isfinite(number) for number in numbers(model.model_dump() if model else {}))


def all_names() -> list[str]:
    names: set[str] = set()
    waiting: list[type[Model]] = list(KINDS.values())
    while waiting:
        model = waiting.pop()
        names.update(fields_of(model))
        waiting += [below for name in fields_of(model) if (below := model_at(model, (name,))) is not None]
        waiting += [below for name in fields_of(model) if (below := model_at(model, (name, 0))) is not None]
    return sorted(names)


NAMES = st.sampled_from(all_names()) | st.text(max_size=5)
LEAVES = st.one_of(
    st.none(),
    st.booleans(),
    st.integers(),
    st.floats(),
    st.text(max_size=12),
    st.sampled_from(
        ["idle", "a.csv", "2026-04-18", "2026-02-30", "2026-04-18T10:00Z", "6:40", "air", "W", "../x", "%"]
    ),
)
TREES = st.recursive(
    LEAVES, lambda inner: st.lists(inner, max_size=4) | st.dictionaries(NAMES, inner, max_size=6), max_leaves=15
)


@settings(max_examples=100, deadline=None)
@given(st.sampled_from(sorted(KINDS)), st.dictionaries(NAMES, TREES, max_size=8))
def test_random_fields_raise_nothing(kind: str, tree: dict[str, Any]) -> None:
    check(json.dumps(tree).encode(), kind)


@settings(max_examples=100, deadline=None)
@given(st.sampled_from(sorted(KINDS)), st.text(alphabet=string.printable + "\x85\u202e\ufeffé", max_size=80))
def test_random_text_raises_nothing(kind: str, text: str) -> None:
    check(text.encode(), kind)


@settings(max_examples=100, deadline=None)
@given(st.sampled_from(sorted(KINDS)), st.binary(max_size=80))
def test_random_bytes_raise_nothing(kind: str, data: bytes) -> None:
    check(data, kind)


RUNS = st.lists(
    st.fixed_dictionaries(
        {"point": st.sampled_from(["idle", "stock"]), "log": st.sampled_from(["a.csv", "b.csv"])},
        optional={
            "from": st.one_of(st.integers(0, 9), st.sampled_from(["2026-04-18 10:00", "2026-04-18T09:00Z"])),
            "to": st.one_of(st.integers(0, 9), st.sampled_from(["2026-04-18 11:00", "2026-04-18T09:30+01:00"])),
        },
    ),
    max_size=6,
)


@settings(max_examples=100, deadline=None)
@given(st.lists(st.fixed_dictionaries({"runs": RUNS}), max_size=3))
def test_cuts_of_every_kind_in_every_order_raise_nothing(mounts: list[Any]) -> None:
    ids = dict.fromkeys(("card", "cooler", "bench", "protocol"), "a")
    check(json.dumps({**ids, "tested": "2026-04-18", "mounts": mounts}).encode(), "bundle")


# Text that has broken programs before, by kind; made for this test.
NASTY = {
    "script": "<script>alert(1)</script>",
    "closing script": "</script><img src=x onerror=alert(1)>",
    "comment": "<!-- ]]> -->",
    "template": "{{ 7 * 7 }} {% raw %} ${7*7} #{7}",
    "shell": "$(touch x); `touch x` | rm",
    "format": "%s %n {0} {self.__class__}",
    "query": "'; DROP TABLE runs; --",
    "formula": "=1+1",
    "formula by name": "@SUM(1)",
    "path": "../../etc/passwd",
    "quotes": "\"'`´“”„«»",
    "markdown": "[x](javascript:alert(1)) ![y](z) # *_`",
    "right to left": "برج الهدوء",
    "joined": "👩‍🔧👨‍👩‍👧",
    "stacked marks": "Z̷̡̛a̶͎͝l̴̰̾g̵̨̈o̸̙͝",
    "decomposed": "e\u0301",
    "wide": "𝐀𠜎𝕊",
    "zero width inside": "a\u200bb\u2060c",
    "soft hyphen": "wa\u00adter",
    "no-break space": "a\u00a0b",
    "words for nothing": "null",
    "words for truth": "true",
    "looks like a number": "1e309",
    "very dotless": "İıſK",
    "ampersand": "&amp; &#x202e; & <",
}


@pytest.mark.parametrize("text", NASTY.values(), ids=NASTY)
def test_nasty_text_is_kept_as_it_is(archive: Folder, text: str) -> None:
    card = {"name": text, "board_power_w": 285, "notes": text, "links": [{"label": text, "url": "https://a.example"}]}
    archive.write("cards/orrery-780.yaml", json.dumps(card, ensure_ascii=False))
    loaded = archive.sound().catalogue.cards["orrery-780"]
    assert (loaded.name, loaded.notes, loaded.links[0].label) == (text, text, text)


REFUSED = {
    "nul": "a\0b",
    "bell": "a\x07b",
    "escape": "a\x1b[31mb",
    "delete": "a\x7fb",
    "C1 control": "a\x9bb",
    "left-to-right override": "a\u202db",
    "right-to-left override": "a\u202eb",
    "embedding": "a\u202ab",
    "isolate": "a\u2066b",
    "lone surrogate": "a\ud800b",
    "noncharacter": "a\ufffeb",
}


@pytest.mark.parametrize("text", REFUSED.values(), ids=REFUSED)
@pytest.mark.parametrize("field", ["name", "notes"])
def test_characters_that_hide_or_control_are_refused(archive: Folder, text: str, field: str) -> None:
    fields = {"name": "x", "board_power_w": 285, field: text}
    archive.write("cards/orrery-780.yaml", json.dumps(fields))
    problems = archive.problems()
    assert len(problems) == 1
    assert f"expected text without control characters, found U+{ord(text[1]):04X}" in problems[0]
    problems[0].encode()


@pytest.mark.parametrize("text", ["a\nb", "a\tb", "a\u2028b"], ids=["line feed", "tab", "line separator"])
def test_a_name_stays_on_one_line_and_notes_need_not(archive: Folder, text: str) -> None:
    archive.write("cards/orrery-780.yaml", json.dumps({"name": "x", "board_power_w": 285, "notes": text}))
    assert archive.sound().catalogue.cards["orrery-780"].notes == text
    archive.write("cards/orrery-780.yaml", json.dumps({"name": text, "board_power_w": 285}))
    assert archive.problems() == [
        'error[bad-value] cards/orrery-780.yaml:1:10: "name": expected text on one line, found "a b"'
    ]


def test_a_thousand_unknown_fields_are_cut_after_one_hundred(archive: Folder) -> None:
    fields = "".join(f"f{i}: 1\n" for i in range(1000))
    archive.write("cards/orrery-780.yaml", "name: x\nboard_power_w: 285\n" + fields)
    problems = archive.problems()
    assert len(problems) == 101
    assert sum("more-problems" in problem for problem in problems) == 1


def test_problems_never_hold_long_text(archive: Folder) -> None:
    archive.write("cards/orrery-780.yaml", json.dumps({"name": ["x" * 5000], "y" * 5000: "z" * 5000}))
    assert max(len(problem) for problem in archive.problems()) < 400


def test_a_field_with_the_name_that_the_model_library_gives_to_names_is_a_field(archive: Folder) -> None:
    archive.write("archive.yaml", 'channel: x\n"[key]": 1\nmoved: {"[key]": 5}\n')
    assert [problem.split("\n")[0] for problem in archive.problems()] == [
        'error[unknown-field] archive.yaml:2:1: "[key]" is no field here',
        (
            'error[bad-value] archive.yaml:3:9: "moved": expected the address of a page below the site, '
            'as results/x.html, found "[key]"'
        ),
        'error[wrong-type] archive.yaml:3:18: "[key]": expected text, found 5',
    ]
