"""Measures how the program is cut up: `python -m tests.measure_house` prints a table.

Files, lines, blank and import shares; functions, their median and mean length, how many are short and called once;
the files on the four trips that DEVELOPERS.md describes; hand-kept lists of kinds of figures.
"""

from __future__ import annotations

import ast
import re
import statistics
import sys
from collections import Counter
from collections.abc import Iterator
from pathlib import Path

ROOT = Path(__file__).resolve().parent.parent
SHORT = 6  # lines of a function that is hardly worth a jump
LIST_OF_KINDS = 3  # ids of figures in one literal that make it a list kept by hand
Function = ast.FunctionDef | ast.AsyncFunctionDef


def trees(package: Path) -> dict[str, ast.Module]:
    """Return the syntax tree of every file by its name below the package."""
    files = sorted(package.rglob("*.py"))
    return {f.relative_to(package).as_posix(): ast.parse(f.read_text(encoding="utf-8")) for f in files}


def functions(tree: ast.Module) -> Iterator[Function]:
    """Give every function and method of a file."""
    yield from (node for node in ast.walk(tree) if isinstance(node, Function))


def length(function: Function) -> int:
    """Return a function's lines, its decorators and docstring included."""
    first = min([function.lineno, *(d.lineno for d in function.decorator_list)])
    return (function.end_lineno or first) - first + 1


def called_once(found: dict[str, ast.Module]) -> tuple[int, int, int]:
    """Return how many private functions there are, how many are named once, and how many of these are short."""
    private = once = short = 0
    for tree in found.values():
        names = Counter(n.id for n in ast.walk(tree) if isinstance(n, ast.Name))
        names += Counter(n.attr for n in ast.walk(tree) if isinstance(n, ast.Attribute))
        for function in functions(tree):
            if not function.name.startswith("_") or function.name.startswith("__"):
                continue
            private += 1
            once += names[function.name] == 1
            short += names[function.name] == 1 and length(function) <= SHORT
    return private, once, short


def kinds_of_figures(found: dict[str, ast.Module]) -> frozenset[str]:
    """Return the ids of figures, read from the one table that defines them."""
    table = found.get("core/results.py") or found["figures.py"]
    return frozenset(
        str(word.value)
        for call in ast.walk(table)
        if isinstance(call, ast.Call) and isinstance(call.func, ast.Name) and call.func.id in {"FigureKind", "_F"}
        for word in [*call.args[:1], *(k.value for k in call.keywords if k.arg == "id")]
        if isinstance(word, ast.Constant)
    )


def lists_by_hand(found: dict[str, ast.Module]) -> list[str]:
    """Return the literals outside that table which repeat several ids of figures, as `file:line`."""
    kinds = kinds_of_figures(found)
    places = []
    for name, tree in found.items():
        for node in ast.walk(tree):
            parts = node.elts if isinstance(node, ast.Tuple | ast.List | ast.Set) else None
            parts = [k for k in node.keys if k] if isinstance(node, ast.Dict) else parts
            words = {str(p.value) for p in parts or [] if isinstance(p, ast.Constant)}
            if isinstance(node, ast.expr) and len(words & kinds) >= LIST_OF_KINDS:
                places.append(f"{name}:{node.lineno}")
    return places


def reached(found: dict[str, ast.Module], start: str, rooms: tuple[str, ...]) -> int:
    """Return how many files of these rooms a file reaches by its imports, itself included."""
    seen, waiting = {start}, [start]
    while waiting:
        for node in ast.walk(found[waiting.pop()]):
            if not isinstance(node, ast.ImportFrom) or not (node.module or "").startswith("builder."):
                continue
            path = (node.module or "").removeprefix("builder.").replace(".", "/")
            for name in (f"{path}.py", f"{path}/__init__.py"):
                if name in found and name not in seen and name.split("/")[0] in rooms:
                    seen.add(name)
                    waiting.append(name)
    return len(seen)


def trips() -> dict[str, list[str]]:
    """Return the files of each trip that DEVELOPERS.md lists under a heading `### Trip: ...`."""
    text = (ROOT / "DEVELOPERS.md").read_text(encoding="utf-8")
    parts = re.split(r"^### Trip: (.+)$", text, flags=re.MULTILINE)[1:]
    ends = (re.split(r"^#", body, maxsplit=1, flags=re.MULTILINE)[0] for body in parts[1::2])
    return {title: re.findall(r"`([a-z_/]+\.py)`", body) for title, body in zip(parts[::2], ends, strict=True)}


def rows(package: Path) -> Iterator[tuple[str, str]]:
    """Give each measure with its value."""
    found = trees(package)
    lines = [line for file in sorted(package.rglob("*.py")) for line in file.read_text(encoding="utf-8").splitlines()]
    lengths = sorted(length(f) for tree in found.values() for f in functions(tree))
    private, once, short = called_once(found)
    imports = sum((n.end_lineno or n.lineno) - n.lineno + 1 for t in found.values() for n in t.body
                  if isinstance(n, ast.Import | ast.ImportFrom))  # fmt: skip
    yield "files", str(len(found))
    yield "lines", str(len(lines))
    yield "blank lines", f"{sum(not line.strip() for line in lines) / len(lines):.0%}"
    yield "lines of imports", f"{imports / len(lines):.0%}"
    yield "functions", str(len(lengths))
    yield "function, median lines", str(statistics.median(lengths))
    yield "function, mean lines", f"{statistics.mean(lengths):.1f}"
    yield "private functions", str(private)
    yield "named once in their file", str(once)
    yield f"of these at most {SHORT} lines", str(short)
    yield "lists of figures kept by hand", str(len(lists_by_hand(found)))
    for start in ("reduction/run.py", "reduce/run.py"):
        if start in found:
            yield "files behind a reduced run", str(reached(found, start, tuple({n.split("/")[0] for n in found})))


def main(arguments: list[str]) -> int:
    """Print the table for this program, or for the package folder that is named."""
    package = Path(arguments[0]) if arguments else ROOT / "builder"
    told = [
        *rows(package),
        *((f"files of the trip: {title}", str(len(set(files)))) for title, files in trips().items()),
    ]
    width = max(len(name) for name, _ in told)
    for name, value in told:
        sys.stdout.write(f"{name:<{width}}  {value:>7}\n")
    return 0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
