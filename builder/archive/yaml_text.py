"""YAML text as raw values with the place of every field and item; whatever an archive has no use for is refused.

The library composes nodes with their marks: no object is made from a tag, and depth and size have limits. A walk over
the nodes then gives the values, and reports each that cannot be used without giving up the rest of the file.
"""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass
from functools import lru_cache
from pathlib import Path
from typing import Protocol, TypeAlias

import yaml
from yaml.events import AliasEvent, StreamEndEvent

from builder.archive.yaml_scalars import bad_text, cleaned, plain_value
from builder.core.errors import Problem, Problems, Span
from builder.core.files import read_bytes
from builder.core.words import SHOWN, shortened

Json: TypeAlias = "bool | int | float | str | list[Json] | dict[str, Json] | None"
Trail: TypeAlias = tuple[str | int, ...]

YAML_LIMIT = 1_000_000  # bytes
DEPTH_LIMIT = 32
NODE_LIMIT = 50_000
PROBLEMS_PER_FILE = 100
SPELLED = frozenset({"readings"})  # fields below which numbers stay as they are spelled: their digits mean something


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
        node = _compose(data)
    except _RefusedError as refused:
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

    def document(self, top: yaml.MappingNode) -> YamlDoc:
        data = self.mapping(top, ())
        return YamlDoc(file=self.file, data=data, keys=self.keys, values=self.values, broken=frozenset(self.broken))

    def node(self, node: yaml.Node, trail: Trail) -> Json:
        self.values[trail] = self.span(node)
        if isinstance(node, yaml.MappingNode):
            return self.mapping(node, trail)
        if isinstance(node, yaml.ScalarNode):
            return self.scalar(node, trail)
        self.keys.update({(*trail, i): self.span(child) for i, child in enumerate(node.value)})
        return [self.node(child, (*trail, i)) for i, child in enumerate(node.value)]

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
        return self.text(node, (*trail, cleaned(node.value)))

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
        spelled = isinstance(value, int | float) and not isinstance(value, bool) and not SPELLED.isdisjoint(trail[:-1])
        return self.text(node, trail) if isinstance(value, str) or spelled else value

    def text(self, node: yaml.ScalarNode, trail: Trail) -> str:
        reason = bad_text(node.value)
        if reason:
            self.broken.add(trail)
            self.report("bad-value", self.span(node), reason)
        return cleaned(node.value)

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


# --- text into nodes with their marks


_RAW_CONTROL = re.compile("[\x00-\x08\x0b\x0c\x0e-\x1f\x7f-\x84\x86-\x9f\ud800-\udfff\ufffe\uffff]")

_TAB = "found character '\\t' that cannot start any token"

# How the parser's reason begins -> what is wrong, in the words of someone who writes the file, and how to mend it.
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


class _RefusedError(Exception):
    """A text that is not read: code, place (from 1), message and hint of the one problem that says why."""

    def __init__(self, code: str, message: str, hint: str = "", *, line: int = 1, column: int = 1) -> None:
        super().__init__(message)
        self.code, self.message, self.hint = code, message, hint
        self.line, self.column = line, column


class _Mark(Protocol):
    line: int
    column: int


def _at(mark: _Mark | None, code: str, message: str, hint: str = "") -> _RefusedError:
    if mark is None:
        return _RefusedError(code, message, hint)
    return _RefusedError(code, message, hint, line=mark.line + 1, column=mark.column + 1)


def _compose(data: bytes) -> yaml.MappingNode:
    """Return the top mapping of a file's only document. Raises _RefusedError."""
    text = _decoded(data)
    try:
        node = _Loader(text).only_document()
    except yaml.MarkedYAMLError as error:
        mark, problem = error.problem_mark or error.context_mark, error.problem or "the text ends too early"
        if problem == _TAB:
            hint = "indent with spaces; a tab counts for nothing in YAML"
            raise _at(mark, "tab", "expected spaces, found a tab", hint) from None
        known = next((words for start, words in _REASONS.items() if problem.startswith(start)), None)
        message, hint = known or (f"cannot be read as YAML: {problem}", "check indentation, quotes and brackets")
        raise _at(mark, "bad-yaml", message, hint) from None
    if node is None:
        raise _RefusedError("empty-file", "expected fields, found an empty file", "write fields as name: value")
    if not isinstance(node, yaml.MappingNode):
        kind = "a list" if isinstance(node, yaml.SequenceNode) else "a single value"
        raise _at(node.start_mark, "wrong-type", f"expected fields, found {kind}", "write fields as name: value")
    return node


def _decoded(data: bytes) -> str:
    try:
        text = data.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        line, column = _position(data[: error.start].decode("utf-8", "replace"))
        message = f"expected UTF-8 text, found the byte 0x{data[error.start]:02X}"
        raise _RefusedError("not-utf-8", message, "save it as UTF-8", line=line, column=column) from None
    match = _RAW_CONTROL.search(text)
    if match:
        line, column = _position(text[: match.start()])
        message = f"expected text without control characters, found U+{ord(match.group()):04X}"
        raise _RefusedError("bad-value", message, line=line, column=column)
    return text


def _position(before: str) -> tuple[int, int]:
    line = before.count("\n") + 1
    return line, len(before) - (before.rfind("\n") + 1) + 1


class _Loader(yaml.SafeLoader):
    """Composes nodes only: scalars are not resolved here, and no object is ever constructed from a tag."""

    yaml_implicit_resolvers = {}  # noqa: RUF012 - the base class's own attribute

    def __init__(self, text: str) -> None:
        super().__init__(text)
        self.depth = 0
        self.nodes = 0

    def only_document(self) -> yaml.Node | None:
        """Return the only document's node, or None for a file without one. Raises _RefusedError."""
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
        mark, anchor, tag = event.start_mark, getattr(event, "anchor", None), getattr(event, "tag", None)
        if isinstance(event, AliasEvent):
            message = f"*{shortened(str(anchor))} is an alias, and aliases are not read"
            raise _at(mark, "alias", message, "write the value out")
        if anchor:
            message = f"&{shortened(anchor)} is an anchor, and anchors are not read"
            raise _at(mark, "alias", message, "write the value out")
        if tag is not None:
            message = f'"{shortened(tag)}" is a tag, and tags are not read'
            raise _at(mark, "tag", message, "put quotes around a text that starts with !")
        if self.depth >= DEPTH_LIMIT:
            raise _at(mark, "too-deep", f"expected at most {DEPTH_LIMIT} levels of nesting, found more")
        if self.nodes >= NODE_LIMIT:
            raise _at(mark, "too-large", f"expected at most {NODE_LIMIT} names and values, found more")
