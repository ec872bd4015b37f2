"""YAML into raw values with the place of every field; the loader takes the core scalars of YAML 1.2 only."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from functools import lru_cache
from pathlib import Path
from typing import TypeAlias

import yaml

from builder.errors import Problem, Problems, Span
from builder.sources.compose import RefusedError, compose
from builder.sources.files import read_bytes
from builder.sources.scalars import Json, bad_text, clean_text, plain_value

Trail: TypeAlias = tuple[str | int, ...]

YAML_LIMIT = 1_000_000
PROBLEMS_PER_FILE = 100
_SHOWN = 40


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
        message = f'"{key[:_SHOWN]}" stands twice: first on line {first.line}, again on line {self.span(node).line}'
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
