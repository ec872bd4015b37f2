"""Text into YAML nodes with their marks; whatever an archive has no use for is refused with one clear reason."""

from __future__ import annotations

import re
from typing import Protocol

import yaml
from yaml.events import AliasEvent, StreamEndEvent

DEPTH_LIMIT = 32
NODE_LIMIT = 50_000
_SHOWN = 40

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
                f"*{_cut(str(event.anchor))} is an alias, and aliases are not read",
                "write the value out",
            )
        if anchor:
            raise _at(mark, "alias", f"&{_cut(anchor)} is an anchor, and anchors are not read", "write the value out")
        tag = getattr(event, "tag", None)
        if tag is not None:
            hint = "put quotes around a text that starts with !"
            raise _at(mark, "tag", f'"{_cut(tag)}" is a tag, and tags are not read', hint)
        if self.depth >= DEPTH_LIMIT:
            raise _at(mark, "too-deep", f"expected at most {DEPTH_LIMIT} levels of nesting, found more")
        if self.nodes >= NODE_LIMIT:
            raise _at(mark, "too-large", f"expected at most {NODE_LIMIT} names and values, found more")


def _cut(text: str) -> str:
    return text if len(text) <= _SHOWN else f"{text[:_SHOWN]}…"
