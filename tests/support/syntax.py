"""What a module imports and calls, read from its syntax tree without running it."""

from __future__ import annotations

import ast
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

PACKAGE = "builder"


@dataclass(frozen=True, kw_only=True)
class Source:
    """One file of the package: its dotted name and its syntax tree."""

    name: str  # `builder.logs.time`
    is_package: bool
    tree: ast.Module

    @property
    def module(self) -> str:
        """The first name under the package, which is what layers speak of: `logs` for `builder.logs.time`."""
        return self.name.removeprefix(PACKAGE).removeprefix(".").split(".")[0]


@dataclass(frozen=True, kw_only=True)
class Use:
    """A name that a module uses, with its line."""

    line: int
    name: str


def parse(text: str, *, name: str, is_package: bool = False) -> Source:
    return Source(name=name, is_package=is_package, tree=ast.parse(text))


def sources(root: Path) -> list[Source]:
    """Every module of the package folder, `builder` itself included."""
    found = []
    for file in sorted(root.rglob("*.py")):
        parts = [PACKAGE, *file.relative_to(root).with_suffix("").parts]
        is_package = parts[-1] == "__init__"
        name = ".".join(parts[:-1] if is_package else parts)
        found.append(parse(file.read_text(encoding="utf-8"), name=name, is_package=is_package))
    return found


def dotted(node: ast.expr) -> str:
    """`os.path.join` for such an expression; a part that is no name is `?`."""
    if isinstance(node, ast.Name):
        return node.id
    if isinstance(node, ast.Attribute):
        return f"{dotted(node.value)}.{node.attr}"
    return "?"


def _base(source: Source, node: ast.ImportFrom) -> str:
    if not node.level:
        return node.module or ""
    parts = source.name.split(".")
    kept = parts[: len(parts) - node.level + int(source.is_package)]
    return ".".join([*kept, *([node.module] if node.module else [])])


def _imported_by_call(node: ast.Call) -> Iterator[Use]:
    loads = dotted(node.func).split(".")[-1] in {"import_module", "__import__"}
    if loads and node.args and isinstance(node.args[0], ast.Constant):
        yield Use(line=node.lineno, name=str(node.args[0].value))


def imports(source: Source) -> Iterator[Use]:
    """Every import at any depth: lazy ones, those under TYPE_CHECKING, and those made by a call."""
    for node in ast.walk(source.tree):
        if isinstance(node, ast.Import):
            yield from (Use(line=node.lineno, name=alias.name) for alias in node.names)
        elif isinstance(node, ast.ImportFrom):
            base = _base(source, node)
            yield from (Use(line=node.lineno, name=f"{base}.{alias.name}") for alias in node.names)
        elif isinstance(node, ast.Call):
            yield from _imported_by_call(node)


def own_imports(source: Source) -> Iterator[Use]:
    """The imports of this package's own modules, named as layers name them (`logs`)."""
    for use in imports(source):
        head, _, rest = use.name.partition(".")
        if head == PACKAGE:
            yield Use(line=use.line, name=rest.split(".")[0])


def names_read(source: Source) -> Iterator[Use]:
    """Every dotted name that the code mentions, called or not."""
    for node in ast.walk(source.tree):
        if isinstance(node, ast.Name | ast.Attribute):
            yield Use(line=node.lineno, name=dotted(node))


def calls(source: Source) -> Iterator[tuple[Use, ast.Call]]:
    """Every call, with the dotted name of what is called."""
    for node in ast.walk(source.tree):
        if isinstance(node, ast.Call):
            yield Use(line=node.lineno, name=dotted(node.func)), node
