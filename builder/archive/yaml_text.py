"""YAML into raw values with the place of every field; the loader takes the core scalars of YAML 1.2 only."""

from __future__ import annotations

import math
import re
import unicodedata
from collections.abc import Mapping
from dataclasses import dataclass
from functools import lru_cache
from pathlib import Path
from typing import Protocol, TypeAlias

import yaml
from yaml.events import AliasEvent, StreamEndEvent

from builder.core.errors import Problem, Problems, Span
from builder.core.files import read_bytes
from builder.core.words import SHOWN, shortened

# --- Text into YAML nodes with their marks; whatever an archive has no use for is refused with one clear reason


DEPTH_LIMIT = 32
NODE_LIMIT = 50_000

_RAW_CONTROL = re.compile("[\x00-\x08\x0b\x0c\x0e-\x1f\x7f-\x84\x86-\x9f\ud800-\udfff\ufffe\uffff]")
_TAB = "found character '\\t' that cannot start any token"

# What the parser says -> what is wrong, in the words of someone who writes the file, and how to mend it.
_REASONS = {
    "mapping values are not allowed here": (
        'a ":" stands where no field can start',
        'check the indentation, and put quotes around a text that holds ": "',
    ),
    "could not find expected ':'": ('a line has no ":" after its field name', "write it as name: value"),
    "found unexpected end of stream": ("a quoted text is not closed", "add the closing quote"),
    "found character": ("a text starts with a character that YAML keeps for itself", "put quotes around the text"),
    "found unknown escape character": (
        "a double-quoted text holds an unknown escape",
        "use single quotes, or write \\\\",
    ),
}


class RefusedError(Exception):
    """A text that is not read: code, place (from 1), message and hint of the one problem that says why."""

    def __init__(self, code: str, message: str, hint: str = "", *, line: int = 1, column: int = 1) -> None:
        super().__init__(message)
        self.code, self.message, self.hint = code, message, hint
        self.line, self.column = line, column


class _Mark(Protocol):
    line: int
    column: int


def compose(data: bytes) -> yaml.MappingNode:
    """Return the top mapping of a file's only document. Raises RefusedError."""
    text = _decode(data)
    try:
        node = _Loader(text).only_document()
    except yaml.MarkedYAMLError as error:
        raise _syntax(error) from None
    if node is None:
        raise RefusedError("empty-file", "expected fields, found an empty file", "write fields as name: value")
    if not isinstance(node, yaml.MappingNode):
        kind = "a list" if isinstance(node, yaml.SequenceNode) else "a single value"
        raise _at(node.start_mark, "wrong-type", f"expected fields, found {kind}", "write fields as name: value")
    return node


def _decode(data: bytes) -> str:
    try:
        text = data.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        line, column = _position(data[: error.start].decode("utf-8", "replace"))
        found = f"found the byte 0x{data[error.start]:02X}"
        raise RefusedError(
            "not-utf-8", f"expected UTF-8 text, {found}", "save it as UTF-8", line=line, column=column
        ) from None
    match = _RAW_CONTROL.search(text)
    if match:
        line, column = _position(text[: match.start()])
        message = f"expected text without control characters, found U+{ord(match.group()):04X}"
        raise RefusedError("bad-value", message, line=line, column=column)
    return text


def _position(before: str) -> tuple[int, int]:
    line = before.count("\n") + 1
    return line, len(before) - (before.rfind("\n") + 1) + 1


def _at(mark: _Mark | None, code: str, message: str, hint: str = "") -> RefusedError:
    if mark is None:
        return RefusedError(code, message, hint)
    return RefusedError(code, message, hint, line=mark.line + 1, column=mark.column + 1)


def _syntax(error: yaml.MarkedYAMLError) -> RefusedError:
    problem = error.problem or "the text ends too early"
    mark = error.problem_mark or error.context_mark
    if problem == _TAB:
        return _at(mark, "tab", "expected spaces, found a tab", "indent with spaces; a tab counts for nothing in YAML")
    known = next((words for start, words in _REASONS.items() if problem.startswith(start)), None)
    message, hint = known or (f"cannot be read as YAML: {problem}", "check indentation, quotes and brackets")
    return _at(mark, "bad-yaml", message, hint)


class _Loader(yaml.SafeLoader):
    """Composes nodes only: scalars are not resolved here, and no object is ever constructed from a tag."""

    yaml_implicit_resolvers = {}  # noqa: RUF012 - the base class's own attribute

    def __init__(self, text: str) -> None:
        super().__init__(text)
        self.depth = 0
        self.nodes = 0

    def only_document(self) -> yaml.Node | None:
        """Return the only document's node, or None for a file without one. Raises RefusedError."""
        try:
            self.get_event()  # type: ignore[no-untyped-call]
            node = None if self.check_event(StreamEndEvent) else self.compose_document()
            more = not self.check_event(StreamEndEvent)
        except (ValueError, OverflowError):
            # An escape past the last code point, or a version number of thousands of digits.
            raise _at(self.get_mark(), "bad-yaml", "a number in an escape or directive is too large") from None
        if more:
            mark = self._next_event().start_mark
            raise _at(mark, "many-documents", "expected one document, found a second", 'remove the line "---" or "..."')
        return node

    def compose_node(self, parent: yaml.Node | None, index: int) -> yaml.Node | None:
        """Return the next node, after refusing what an archive has no use for."""
        self._refuse(self._next_event())
        self.depth += 1
        self.nodes += 1
        node = super().compose_node(parent, index)
        self.depth -= 1
        return node

    def _next_event(self) -> yaml.Event:
        event: yaml.Event = self.peek_event()  # type: ignore[no-untyped-call]
        return event

    def _refuse(self, event: yaml.Event) -> None:
        mark = event.start_mark
        anchor = getattr(event, "anchor", None)
        if isinstance(event, AliasEvent):
            raise _at(
                mark,
                "alias",
                f"*{shortened(str(event.anchor))} is an alias, and aliases are not read",
                "write the value out",
            )
        if anchor:
            raise _at(
                mark, "alias", f"&{shortened(anchor)} is an anchor, and anchors are not read", "write the value out"
            )
        tag = getattr(event, "tag", None)
        if tag is not None:
            hint = "put quotes around a text that starts with !"
            raise _at(mark, "tag", f'"{shortened(tag)}" is a tag, and tags are not read', hint)
        if self.depth >= DEPTH_LIMIT:
            raise _at(mark, "too-deep", f"expected at most {DEPTH_LIMIT} levels of nesting, found more")
        if self.nodes >= NODE_LIMIT:
            raise _at(mark, "too-large", f"expected at most {NODE_LIMIT} names and values, found more")


# --- What a plain scalar stands for (YAML 1.2.2, 10.3.2, core schema), and which characters text may hold


Json: TypeAlias = "bool | int | float | str | list[Json] | dict[str, Json] | None"

_NULL = frozenset({"", "~", "null", "Null", "NULL"})
_BOOL = {"true": True, "True": True, "TRUE": True, "false": False, "False": False, "FALSE": False}
_INT = re.compile(r"[-+]?[0-9]+")
_OCTAL = re.compile(r"0o[0-7]+")
_HEX = re.compile(r"0x[0-9a-fA-F]+")
_FLOAT = re.compile(r"[-+]?(?:\.[0-9]+|[0-9]+(?:\.[0-9]*)?)(?:[eE][-+]?[0-9]+)?")
_NOT_FINITE = re.compile(r"[-+]?(?:\.inf|\.Inf|\.INF)|\.nan|\.NaN|\.NAN")
_EXACT = 2**53  # whole numbers above this lose digits once they become floating point

# C0 and C1 controls less tab and line feed, marks that reorder text around them, lone surrogates, noncharacters.
_BAD = re.compile("[\x00-\x08\x0b-\x1f\x7f-\x9f\u202a-\u202e\u2066-\u2069\ud800-\udfff\ufffe\uffff]")


def plain_value(text: str) -> bool | int | float | str | None:
    """Return the value of an unquoted scalar; dates and clock times stay text.

    Raises ValueError for numbers that are not finite or that floating point cannot hold exactly.

    >>> plain_value("0x1F"), plain_value("6:40"), plain_value("yes"), plain_value("~")
    (31, '6:40', 'yes', None)
    """
    if text in _NULL:
        return None
    if text in _BOOL:
        return _BOOL[text]
    if _INT.fullmatch(text) or _OCTAL.fullmatch(text) or _HEX.fullmatch(text):
        return _whole(text)
    if _FLOAT.fullmatch(text) or _NOT_FINITE.fullmatch(text):
        return _decimal(text)
    return text


def _whole(text: str) -> int:
    # int() refuses thousands of digits, so length is asked first.
    value = int(text, _base(text)) if len(text) <= SHOWN else _EXACT + 1
    if abs(value) > _EXACT:
        raise ValueError(f"expected a number of at most 15 digits, found {shortened(text)}")
    return value


def _base(text: str) -> int:
    return {"0o": 8, "0x": 16}.get(text[:2], 10)


def _decimal(text: str) -> float:
    value = math.inf if _NOT_FINITE.fullmatch(text) else float(text)
    if not math.isfinite(value):
        raise ValueError(f"expected a finite number, found {shortened(text)}")
    return value


def bad_text(text: str) -> str:
    r"""Return what is wrong with the characters of a text, or an empty text.

    >>> bad_text("برج الهدوء"), bad_text("a\x1bb")
    ('', 'expected text without control characters, found U+001B')
    """
    match = _BAD.search(text)
    if match:
        return f"expected text without control characters, found U+{ord(match.group()):04X}"
    if text and all(c.isspace() or unicodedata.category(c) == "Cf" for c in text) and not text.isspace():
        return "expected text that can be seen, found invisible characters only"
    return ""


def clean_text(text: str) -> str:
    """Return the text with characters that are refused replaced by U+FFFD."""
    return _BAD.sub("\N{REPLACEMENT CHARACTER}", text)


Trail: TypeAlias = tuple[str | int, ...]

YAML_LIMIT = 1_000_000
PROBLEMS_PER_FILE = 100


@dataclass(frozen=True, kw_only=True)
class YamlDoc:
    """One YAML file: its raw values, and where each field and item stands, by trail from the top.

    `broken` holds the trails of values that were already reported; what stands there in `data` is a stand-in.
    """

    file: str
    data: dict[str, Json]
    keys: Mapping[Trail, Span]
    values: Mapping[Trail, Span]
    broken: frozenset[Trail]

    def where(self, *trail: str | int) -> Span:
        """Return where a field's name or an item stands; the nearest known place above it where it does not exist."""
        return _closest(self.keys, trail, Span(file=self.file, line=1, column=1))

    def value(self, *trail: str | int) -> Span:
        """Return where a field's value stands; the nearest known place above it where it does not exist."""
        return _closest(self.values, trail, self.where(*trail))

    def is_broken(self, trail: Trail) -> bool:
        """Whether a value, or one around it, was already reported."""
        return any(trail[:n] in self.broken for n in range(len(trail) + 1))


def _closest(spans: Mapping[Trail, Span], trail: Trail, default: Span) -> Span:
    known = (spans[trail[:n]] for n in range(len(trail), -1, -1) if trail[:n] in spans)
    return next(known, default)


def load_yaml(root: Path, relative: str, problems: Problems, *, shown: str = "") -> YamlDoc | None:
    """Return a YAML file of the archive with its places, or None where it cannot be used as a whole.

    `shown` is the file's name in problems where it differs from `relative`. Every problem goes to `problems`; a
    repeated field or a number that is not finite is reported without giving up the rest of the file.
    """
    file = shown or relative
    data = read_bytes(root, relative, problems, Span(file=file), limit=YAML_LIMIT)
    return None if data is None else parse_yaml(data, file=file, problems=problems)


def parse_yaml(data: bytes, *, file: str, problems: Problems) -> YamlDoc | None:
    """Return YAML text with its places, or None with one problem where it cannot be read at all."""
    parsed = _parsed(data, file)
    problems.extend(parsed.problems)
    return parsed.doc


@dataclass(frozen=True, kw_only=True)
class _Parsed:
    doc: YamlDoc | None
    problems: tuple[Problem, ...]


@lru_cache(maxsize=1024)
def _parsed(data: bytes, file: str) -> _Parsed:
    # Remembered, since a preview reads the same files again and again.
    problems = Problems()
    try:
        node = compose(data)
    except RefusedError as refused:
        where = Span(file=file, line=refused.line, column=refused.column)
        problems.error(refused.code, where, refused.message, refused.hint)
        return _Parsed(doc=None, problems=tuple(problems))
    return _Parsed(doc=_Walk(file, problems).document(node), problems=tuple(problems))


class _Walk:
    """Turns nodes into values, and notes where each one stands."""

    def __init__(self, file: str, problems: Problems) -> None:
        self.file = file
        self.problems = problems
        self.keys: dict[Trail, Span] = {}
        self.values: dict[Trail, Span] = {}
        self.broken: set[Trail] = set()
        self.reported = 0

    def document(self, node: yaml.MappingNode) -> YamlDoc:
        data = self.mapping(node, ())
        return YamlDoc(file=self.file, data=data, keys=self.keys, values=self.values, broken=frozenset(self.broken))

    def node(self, node: yaml.Node, trail: Trail) -> Json:
        self.values[trail] = self.span(node)
        if isinstance(node, yaml.MappingNode):
            return self.mapping(node, trail)
        if isinstance(node, yaml.ScalarNode):
            return self.scalar(node, trail)
        return [self.item(child, (*trail, i)) for i, child in enumerate(node.value)]

    def item(self, node: yaml.Node, trail: Trail) -> Json:
        self.keys[trail] = self.span(node)
        return self.node(node, trail)

    def mapping(self, node: yaml.MappingNode, trail: Trail) -> dict[str, Json]:
        result: dict[str, Json] = {}
        for key_node, value_node in node.value:
            key = self.key(key_node, trail)
            if key is None or self.repeated(key, key_node, trail):
                continue
            self.keys[*trail, key] = self.span(key_node)
            result[key] = self.node(value_node, (*trail, key))
        return result

    def key(self, node: yaml.Node, trail: Trail) -> str | None:
        """Return a field's name as it is spelled: `404` and `true` are names like any other."""
        if not isinstance(node, yaml.ScalarNode):
            hint = "put quotes around a name that starts with [ or {"
            self.report("bad-key", self.span(node), "expected a field name, found a list or fields", hint)
            return None
        return self.text(node, (*trail, clean_text(node.value)))

    def repeated(self, key: str, node: yaml.Node, trail: Trail) -> bool:
        first = self.keys.get((*trail, key))
        if first is None:
            return False
        message = f'"{key[:SHOWN]}" stands twice: first on line {first.line}, again on line {self.span(node).line}'
        self.report("duplicate-key", self.span(node), message, "keep one of them")
        return True

    def scalar(self, node: yaml.ScalarNode, trail: Trail) -> Json:
        if node.style is not None:
            return self.text(node, trail)
        try:
            value = plain_value(node.value)
        except ValueError as error:
            self.broken.add(trail)
            self.report("bad-value", self.span(node), str(error))
            return None
        return self.text(node, trail) if isinstance(value, str) else value

    def text(self, node: yaml.ScalarNode, trail: Trail) -> str:
        reason = bad_text(node.value)
        if reason:
            self.broken.add(trail)
            self.report("bad-value", self.span(node), reason)
        return clean_text(node.value)

    def report(self, code: str, where: Span, message: str, hint: str = "") -> None:
        self.reported += 1
        if self.reported <= PROBLEMS_PER_FILE:
            self.problems.error(code, where, message, hint)
        elif self.reported == PROBLEMS_PER_FILE + 1:
            self.problems.error(
                "more-problems", where, "further problems in this file are not shown", "mend these first"
            )

    def span(self, node: yaml.Node) -> Span:
        mark = node.start_mark
        return Span(file=self.file, line=mark.line + 1, column=mark.column + 1)
