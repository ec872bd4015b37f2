"""YAML as raw values with places. Scalars after YAML 1.2.2, 10.3.2 (core schema); value from memory where listed."""

from __future__ import annotations

import math

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from builder.archive import YamlDoc, parse_yaml
from builder.core.errors import Problems, Span


def parsed(text: str | bytes) -> tuple[YamlDoc | None, list[str]]:
    problems = Problems()
    data = text if isinstance(text, bytes) else text.encode()
    doc = parse_yaml(data, file="x.yaml", problems=problems)
    return doc, [str(p) for p in problems]


def sound(text: str | bytes) -> YamlDoc:
    doc, problems = parsed(text)
    assert problems == []
    assert doc is not None
    return doc


@pytest.mark.parametrize(
    ("written", "value"),
    [
        ("", None),
        ("~", None),
        ("null", None),
        ("true", True),
        ("FALSE", False),
        ("yes", "yes"),
        ("no", "no"),
        ("on", "on"),
        ("y", "y"),
        ("12", 12),
        ("-7", -7),
        ("+7", 7),
        ("007", 7),
        ("0o17", 15),
        ("0x1F", 31),
        ("0b1", "0b1"),
        ("1_000", "1_000"),
        ("2.5", 2.5),
        (".5", 0.5),
        ("3.", 3.0),
        ("1e3", 1000.0),
        ("-2.5E-3", -0.0025),
        ("2,5", "2,5"),
        ("6:40", "6:40"),
        ("1:06:40", "1:06:40"),
        ("190:20:30.15", "190:20:30.15"),
        ("2026-04-18", "2026-04-18"),
        ("2026-04-18 14:05:00", "2026-04-18 14:05:00"),
        ("=", "="),
        ("<<", "<<"),
        ("'12'", "12"),
        ('"true"', "true"),
        ('""', ""),
        ("''", ""),
        ("inf", "inf"),
        ("nan", "nan"),
        ("9007199254740992", 2**53),
    ],
)
def test_scalars_follow_the_core_schema(written: str, value: object) -> None:
    result = sound(f"a: {written}\n").data["a"]
    assert (type(result), result) == (type(value), value)


@pytest.mark.parametrize("written", [".inf", "-.INF", "+.Inf", "1e999", "-1e400"])
def test_infinite_numbers_are_refused(written: str) -> None:
    _, problems = parsed(f"a: {written}\n")
    assert problems == [f"error[bad-value] x.yaml:1:4: expected a finite number, found {written}"]


@pytest.mark.parametrize("written", [".nan", ".NaN", ".NAN"])
def test_nan_is_refused(written: str) -> None:
    _, problems = parsed(f"a: {written}\n")
    assert problems == [f"error[bad-value] x.yaml:1:4: expected a finite number, found {written}"]


@pytest.mark.parametrize("written", ["9007199254740993", "-9007199254740993", "0x" + "F" * 20])
def test_whole_numbers_that_lose_digits_are_refused(written: str) -> None:
    _, problems = parsed(f"a: {written}\n")
    assert problems == [f"error[bad-value] x.yaml:1:4: expected a number of at most 15 digits, found {written}"]


def test_a_number_of_thousands_of_digits_is_refused_and_cut_short() -> None:
    _, problems = parsed("a: " + "9" * 5000)
    expected = "error[bad-value] x.yaml:1:4: expected a number of at most 15 digits, found " + "9" * 40 + "…"
    assert problems == [expected]


def test_names_are_kept_as_they_are_spelled() -> None:
    assert sound("404: a\ntrue: b\n~: c\n2.50: d\n").data == {"404": "a", "true": "b", "~": "c", "2.50": "d"}


def test_a_merge_key_is_a_name_like_any_other() -> None:
    assert sound("<<: {a: 1}\n").data == {"<<": {"a": 1}}


def test_a_byte_order_mark_is_skipped() -> None:
    assert sound(b"\xef\xbb\xbfa: 1\n").data == {"a": 1}


def test_windows_line_ends_are_read() -> None:
    doc = sound(b"a: 1\r\nb:\r\n  - x\r\n")
    assert doc.data == {"a": 1, "b": ["x"]}
    assert doc.where("b", 0) == Span(file="x.yaml", line=3, column=5)


DOC = """\
# comment
name: x
mounts:
  - runs:
      - {point: idle, log: a.csv}
      - point: stock
        log: b.csv
"""


@pytest.mark.parametrize(
    ("trail", "key", "value"),
    [
        ((), (1, 1), (1, 1)),
        (("name",), (2, 1), (2, 7)),
        (("mounts",), (3, 1), (4, 3)),
        (("mounts", 0), (4, 5), (4, 5)),
        (("mounts", 0, "runs", 0), (5, 9), (5, 9)),
        (("mounts", 0, "runs", 0, "log"), (5, 23), (5, 28)),
        (("mounts", 0, "runs", 1), (6, 9), (6, 9)),
        (("mounts", 0, "runs", 1, "log"), (7, 9), (7, 14)),
    ],
)
def test_every_field_and_item_has_its_place(
    trail: tuple[str | int, ...], key: tuple[int, int], value: tuple[int, int]
) -> None:
    doc = sound(DOC)
    assert doc.where(*trail) == Span(file="x.yaml", line=key[0], column=key[1])
    assert doc.value(*trail) == Span(file="x.yaml", line=value[0], column=value[1])


def test_what_is_not_written_has_the_nearest_place_above_it() -> None:
    doc = sound(DOC)
    assert doc.value("mounts", 0, "runs", 1, "frames") == doc.value("mounts", 0, "runs", 1)
    assert doc.where("absent", 3) == Span(file="x.yaml", line=1, column=1)


@pytest.mark.parametrize(
    ("text", "problem"),
    [
        pytest.param(
            "a: 1\nb: 2\na: 3\n",
            'error[duplicate-key] x.yaml:3:1: "a" stands twice: first on line 1, again on line 3\n'
            "hint: keep one of them",
            id="repeated field",
        ),
        pytest.param(
            "a: {b: 1, 'b': 2}\n",
            'error[duplicate-key] x.yaml:1:11: "b" stands twice: first on line 1, again on line 1\n'
            "hint: keep one of them",
            id="repeated field in braces, quoted",
        ),
        pytest.param(
            "? [a]\n: b\n",
            "error[bad-key] x.yaml:1:3: expected a field name, found a list or fields\n"
            "hint: put quotes around a name that starts with [ or {",
            id="list as name",
        ),
        pytest.param(
            'a: "x\\u202Ey"\n',
            "error[bad-value] x.yaml:1:4: expected text without control characters, found U+202E",
            id="override of direction",
        ),
        pytest.param(
            "a: x\u2067y\n",
            "error[bad-value] x.yaml:1:4: expected text without control characters, found U+2067",
            id="isolate of direction",
        ),
        pytest.param(
            'a: "\\uD800"\n',
            "error[bad-value] x.yaml:1:4: expected text without control characters, found U+D800",
            id="lone surrogate",
        ),
        pytest.param(
            'a: "\\e[31m"\n',
            "error[bad-value] x.yaml:1:4: expected text without control characters, found U+001B",
            id="escape character",
        ),
        pytest.param(
            'a: "\\0"\n',
            "error[bad-value] x.yaml:1:4: expected text without control characters, found U+0000",
            id="nul",
        ),
        pytest.param(
            'a: "\\uFFFF"\n',
            "error[bad-value] x.yaml:1:4: expected text without control characters, found U+FFFF",
            id="noncharacter",
        ),
        pytest.param(
            'a: "\\u200B\\u2060"\n',
            "error[bad-value] x.yaml:1:4: expected text that can be seen, found invisible characters only",
            id="invisible text",
        ),
        pytest.param(
            '"a\\x07": 1\n',
            "error[bad-value] x.yaml:1:1: expected text without control characters, found U+0007",
            id="control character in a name",
        ),
    ],
)
def test_a_bad_part_is_reported_and_the_rest_is_kept(text: str, problem: str) -> None:
    doc, problems = parsed(text + "rest: kept\n")
    assert problems == [problem]
    assert doc is not None
    assert doc.data["rest"] == "kept"


def test_a_reported_value_is_marked_and_stands_in() -> None:
    doc, _ = parsed('a: .inf\nb: ["\\u202Ex", y]\n')
    assert doc is not None
    assert doc.broken == {("a",), ("b", 0)}
    assert doc.data == {"a": None, "b": ["\ufffdx", "y"]}
    assert doc.is_broken(("b", 0))
    assert doc.is_broken(("a", "below"))
    assert not doc.is_broken(("b", 1))


@pytest.mark.parametrize(
    ("text", "problem"),
    [
        pytest.param(
            "a: 1\nb:\n\tc: 2\n",
            "error[tab] x.yaml:3:1: expected spaces, found a tab\n"
            "hint: indent with spaces; a tab counts for nothing in YAML",
            id="tab",
        ),
        pytest.param(
            "a: b\n \tc: 2\n",
            "error[tab] x.yaml:2:2: expected spaces, found a tab\n"
            "hint: indent with spaces; a tab counts for nothing in YAML",
            id="tab after a space",
        ),
        pytest.param(
            "a: &x [1]\nb: [*x, *x]\n",
            "error[alias] x.yaml:1:4: &x is an anchor, and anchors are not read\nhint: write the value out",
            id="anchor",
        ),
        pytest.param(
            "a: *x\n",
            "error[alias] x.yaml:1:4: *x is an alias, and aliases are not read\nhint: write the value out",
            id="alias",
        ),
        pytest.param(
            "a: !thing {}\n",
            'error[tag] x.yaml:1:4: "!thing" is a tag, and tags are not read\n'
            "hint: put quotes around a text that starts with !",
            id="own tag",
        ),
        pytest.param(
            "a: !!python/object/apply:os.getcwd []\n",
            'error[tag] x.yaml:1:4: "tag:yaml.org,2002:python/object/apply:os…" is a tag, and tags are not read\n'
            "hint: put quotes around a text that starts with !",
            id="object tag",
        ),
        pytest.param(
            "a: 1\n---\nb: 2\n",
            "error[many-documents] x.yaml:2:1: expected one document, found a second\n"
            'hint: remove the line "---" or "..."',
            id="two documents",
        ),
        pytest.param(
            "- a\n",
            "error[wrong-type] x.yaml:1:1: expected fields, found a list\nhint: write fields as name: value",
            id="list at the top",
        ),
        pytest.param(
            "just words\n",
            "error[wrong-type] x.yaml:1:1: expected fields, found a single value\nhint: write fields as name: value",
            id="text at the top",
        ),
        pytest.param(
            "# nothing\n",
            "error[empty-file] x.yaml:1:1: expected fields, found an empty file\nhint: write fields as name: value",
            id="empty",
        ),
        pytest.param(
            b"a: 1\nb: caf\xe9\n",
            "error[not-utf-8] x.yaml:2:7: expected UTF-8 text, found the byte 0xE9\nhint: save it as UTF-8",
            id="other encoding",
        ),
        pytest.param(
            "a: 1\n".encode("utf-16"),
            "error[not-utf-8] x.yaml:1:1: expected UTF-8 text, found the byte 0xFF\nhint: save it as UTF-8",
            id="UTF-16",
        ),
        pytest.param(
            b"a: 1\nb: x\x00y\n",
            "error[bad-value] x.yaml:2:5: expected text without control characters, found U+0000",
            id="raw nul",
        ),
        pytest.param(
            "a: b: c\n",
            'error[bad-yaml] x.yaml:1:5: a ":" stands where no field can start\n'
            'hint: check the indentation, and put quotes around a text that holds ": "',
            id="two colons",
        ),
        pytest.param(
            "a: 1\nb\n",
            'error[bad-yaml] x.yaml:3:1: a line has no ":" after its field name\nhint: write it as name: value',
            id="no colon",
        ),
        pytest.param(
            "a: 'x\n",
            "error[bad-yaml] x.yaml:2:1: a quoted text is not closed\nhint: add the closing quote",
            id="open quote",
        ),
        pytest.param(
            "a: @x\n",
            "error[bad-yaml] x.yaml:1:4: a text starts with a character that YAML keeps for itself\n"
            "hint: put quotes around the text",
            id="reserved character",
        ),
        pytest.param(
            'a: "C:\\logs"\n',
            "error[bad-yaml] x.yaml:1:8: a double-quoted text holds an unknown escape\n"
            "hint: use single quotes, or write \\\\",
            id="unknown escape",
        ),
        pytest.param(
            'a: "\\U00110000"\n',
            "error[bad-yaml] x.yaml:1:7: a number in an escape or directive is too large",
            id="past the last code point",
        ),
        pytest.param(
            'a: "\\UFFFFFFFF"\n',
            "error[bad-yaml] x.yaml:1:7: a number in an escape or directive is too large",
            id="far past the last code point",
        ),
        pytest.param(
            "a: [1, 2\n",
            "error[bad-yaml] x.yaml:2:1: cannot be read as YAML: expected ',' or ']', but got '<stream end>'\n"
            "hint: check indentation, quotes and brackets",
            id="open bracket",
        ),
        pytest.param(
            "a: " + "[" * 40 + "]" * 40,
            "error[too-deep] x.yaml:1:35: expected at most 32 levels of nesting, found more",
            id="deep brackets",
        ),
        pytest.param(
            "- " * 100_000,
            "error[too-deep] x.yaml:1:65: expected at most 32 levels of nesting, found more",
            id="very deep lists",
        ),
        pytest.param(
            "a: [" + "1," * 50_000 + "]",
            "error[too-large] x.yaml:1:99999: expected at most 50000 names and values, found more",
            id="very many values",
        ),
    ],
)
def test_a_file_that_cannot_be_read_gives_one_clear_error(text: str | bytes, problem: str) -> None:
    doc, problems = parsed(text)
    assert doc is None
    assert problems == [problem]


def test_a_nest_of_aliases_gives_one_error_at_once() -> None:
    layers = "".join(f"b{i}: &b{i} [{', '.join([f'*b{i - 1}'] * 10)}]\n" for i in range(1, 30))
    doc, problems = parsed("b0: &b0 [x]\n" + layers)
    assert doc is None
    assert problems == [
        "error[alias] x.yaml:1:5: &b0 is an anchor, and anchors are not read\nhint: write the value out"
    ]


def test_hundreds_of_problems_in_one_file_are_cut_after_one_hundred() -> None:
    _, problems = parsed("a: 1\n" * 300)
    assert len(problems) == 101
    assert problems[-1] == (
        "error[more-problems] x.yaml:102:1: further problems in this file are not shown\nhint: mend these first"
    )


@pytest.mark.parametrize(
    "name", ["برج الهدوء", "סוף", "Ночь", "夜光", "ก่อน", "Z̷a̷l̷g̷o̷", "👩‍🔧 bench", "a\u200db", "\u200fעברית"]
)
def test_text_of_any_script_is_kept(name: str) -> None:
    assert sound(f"a: '{name}'\n").data == {"a": name}


def test_tabs_and_line_breaks_inside_text_are_kept() -> None:
    assert sound('a: "x\\ty\\nz"\n').data == {"a": "x\ty\nz"}


def leaves(value: object) -> list[object]:
    if isinstance(value, dict):
        return [leaf for child in value.values() for leaf in leaves(child)]
    if isinstance(value, list):
        return [leaf for child in value for leaf in leaves(child)]
    return [value]


YAML_LIKE = st.text(alphabet="ab:-?#&*!|>'\"%@`{}[],\\ \t\n\r\0.0179xeE+~<=nulltrf\x85\u2028\ufeff\u202eU", max_size=60)


@settings(max_examples=300, deadline=None)
@given(st.one_of(st.binary(max_size=60), YAML_LIKE.map(str.encode)))
def test_no_bytes_raise_and_what_is_read_is_finite(data: bytes) -> None:
    doc, problems = parsed(data)
    assert (doc is None) <= (len(problems) == 1)
    for leaf in leaves(doc.data if doc else {}):
        assert leaf is None or isinstance(leaf, bool | int | float | str)
        assert not isinstance(leaf, float) or math.isfinite(leaf)
