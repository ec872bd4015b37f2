"""The package is layered: imports go one way, only the ends touch files, and only `cli` speaks or ends the process."""

from __future__ import annotations

import ast
import re
import subprocess
import sys
from collections.abc import Iterator
from pathlib import Path

import pytest

from tests.support import syntax
from tests.support.syntax import Source

ROOT = Path(__file__).resolve().parent.parent

# Modules in the order in which they may use one another. DEVELOPERS.md shows the same table to people.
LAYERS = {
    "errors": 0,
    "quantity": 0,
    "figures": 1,
    "model": 1,
    "sources": 1,
    "uncertainty": 1,
    "logs": 2,
    "photos": 2,
    "settle": 2,
    "validate": 2,
    "reduce": 3,
    "compare": 4,
    "gather": 4,
    "views": 5,
    "charts": 5,
    "content": 5,
    "speech": 5,
    "records": 5,
    "terminal": 5,
    "pages": 6,
    "sheet": 6,
    "exports": 6,
    "kit": 6,
    "render": 7,
    "narration": 7,
    "readiness": 7,
    "ledger": 7,
    "cache": 6,
    "reducing": 7,
    "pictures": 6,
    "staging": 7,
    "starter": 7,
    "pipeline": 8,
    "session": 8,
    "follow": 8,
    "preview": 9,
    "cli": 10,
}

# The named types stand first in their layer, and the rest of it may use them.
FIRST_IN_LAYER = frozenset({"figures"})

# Constants of `builder/__init__.py`, which itself imports nothing of the package.
OF_THE_PACKAGE = frozenset({"__version__"})

TOUCH_FILES = frozenset(
    {
        *("sources", "logs", "gather", "ledger", "render", "staging", "starter"),
        *("cache", "session", "follow", "pipeline", "preview", "cli"),
    }
)
SPEAK = frozenset({"cli"})
KNOW_THE_TIME = frozenset({"cli", "preview"})

FILE_MODULES = frozenset({"os", "shutil", "tempfile", "glob", "fileinput", "linecache", "mmap", "fcntl"})
FILE_CALLS = frozenset({"open", "io.open", "io.FileIO"})
FILE_METHODS = frozenset(
    {
        *("open", "read_text", "read_bytes", "write_text", "write_bytes", "unlink", "mkdir", "rmdir", "touch"),
        *("iterdir", "glob", "rglob", "walk", "exists", "is_file", "is_dir", "is_symlink", "stat", "lstat", "chmod"),
        *("symlink_to", "hardlink_to", "readlink", "samefile", "resolve", "absolute", "cwd", "home", "expanduser"),
    }
)
# These share a name with a method of Path and touch nothing; `Image.open` is given bytes.
HARMLESS = frozenset({"ast.walk", "Image.open"})

SPEAKING = re.compile(
    r"^(print|input|breakpoint|exit|quit|sys\.(exit|stdout|stderr)\b.*|os\._exit|click\.(echo|secho))$",
)
CLOCKS = re.compile(r"\b(datetime\.(now|utcnow|today)|date\.today|time\.(time|time_ns|localtime|gmtime|ctime))$")


def package() -> list[Source]:
    return [source for source in syntax.sources(ROOT / "builder") if source.name != syntax.PACKAGE]


def may_use(user: str, used: str) -> bool:
    if user == used:
        return True
    if LAYERS[user] == LAYERS[used]:
        return used in FIRST_IN_LAYER
    return LAYERS[user] > LAYERS[used]


def wrong_imports(source: Source) -> Iterator[str]:
    for use in syntax.own_imports(source):
        if use.name in OF_THE_PACKAGE:
            continue
        if use.name not in LAYERS or source.module not in LAYERS or not may_use(source.module, use.name):
            yield f"{source.name}:{use.line} imports {use.name or syntax.PACKAGE}"


def file_use(source: Source) -> Iterator[str]:
    for imported in syntax.imports(source):
        if imported.name.split(".")[0] in FILE_MODULES:
            yield f"{source.name}:{imported.line} imports {imported.name}"
    for use, _ in syntax.calls(source):
        method = "." in use.name and use.name.split(".")[-1] in FILE_METHODS
        if use.name not in HARMLESS and (method or use.name in FILE_CALLS):
            yield f"{source.name}:{use.line} calls {use.name}"


def speech(source: Source) -> Iterator[str]:
    for use in syntax.names_read(source):
        if SPEAKING.match(use.name):
            yield f"{source.name}:{use.line} uses {use.name}"
    for node in ast.walk(source.tree):
        if isinstance(node, ast.Raise) and node.exc is not None and "SystemExit" in ast.dump(node.exc):
            yield f"{source.name}:{node.lineno} raises SystemExit"


def clock_use(source: Source) -> Iterator[str]:
    for use, _ in syntax.calls(source):
        if CLOCKS.search(use.name):
            yield f"{source.name}:{use.line} calls {use.name}"


def documented_layers(text: str) -> dict[str, int]:
    """The table `| layer | module | holds |` of DEVELOPERS.md."""
    after_head = re.split(r"^\|\s*layer\s*\|\s*module\s*\|\s*holds\s*\|\s*$", text, maxsplit=1, flags=re.MULTILINE)[1]
    table = after_head.strip("\n").split("\n\n")[0]
    rows = re.findall(r"^\|\s*(\d+)\s*\|([^|]*)\|", table, flags=re.MULTILINE)
    return {name: int(layer) for layer, names in rows for name in re.findall(r"`(\w+)(?:\.py|/)?`", names)}


def test_the_table_in_developers_md_is_the_one_that_is_enforced() -> None:
    text = (ROOT / "DEVELOPERS.md").read_text(encoding="utf-8")
    assert documented_layers(text) == LAYERS


def test_every_module_has_a_layer_and_every_layer_its_modules() -> None:
    assert {source.module for source in package()} == set(LAYERS)


def test_modules_import_only_from_layers_above_them() -> None:
    assert [wrong for source in package() for wrong in wrong_imports(source)] == []


def test_only_the_ends_touch_files() -> None:
    middle = [source for source in package() if source.module not in TOUCH_FILES]
    assert [use for source in middle for use in file_use(source)] == []


def test_only_the_command_line_prints_or_exits() -> None:
    silent = [source for source in package() if source.module not in SPEAK]
    assert [use for source in silent for use in speech(source)] == []


def test_the_time_of_day_is_passed_in() -> None:
    timeless = [source for source in package() if source.module not in KNOW_THE_TIME]
    assert [use for source in timeless for use in clock_use(source)] == []


def test_the_package_itself_imports_none_of_its_modules() -> None:
    (init,) = [source for source in syntax.sources(ROOT / "builder") if source.name == syntax.PACKAGE]
    assert list(syntax.own_imports(init)) == []


def test_heavy_libraries_wait_until_a_command_needs_them() -> None:
    script = "import sys, builder.cli; print(*sorted({'pandas', 'scipy', 'altair', 'vl_convert'} & set(sys.modules)))"
    loaded = subprocess.run([sys.executable, "-c", script], cwd=ROOT, capture_output=True, text=True, check=True)
    assert loaded.stdout.strip() == ""


# --- the checks themselves find what they look for -------------------------------------------------------------

WRONG_IMPORTS = {
    "plain": "import builder.cli",
    "from": "from builder.pages import plan",
    "from the package": "from builder import pages",
    "relative": "from .pages import plan",
    "relative, from the package": "from . import pages",
    "lazy": "def f():\n    from builder.pages import plan",
    "for types only": "if TYPE_CHECKING:\n    from builder.pages import Page",
    "by a call": "importlib.import_module('builder.pages')",
    "same layer": "from builder.settle import judge",
    "unknown module": "import builder.elsewhere",
    "the package as a whole": "import builder",
}


@pytest.mark.parametrize("text", WRONG_IMPORTS.values(), ids=WRONG_IMPORTS.keys())
def test_an_import_against_the_layers_is_found(text: str) -> None:
    assert len(list(wrong_imports(syntax.parse(text, name="builder.logs", is_package=False)))) == 1


def test_a_relative_import_inside_a_package_is_resolved() -> None:
    inner = syntax.parse("from .cells import split\nfrom ..pages import plan", name="builder.logs.time")
    outer = syntax.parse("from .cells import split\nfrom ..pages import plan", name="builder.logs", is_package=True)
    assert [use.name for use in syntax.own_imports(inner)] == ["logs", "pages"]
    assert [use.name for use in syntax.own_imports(outer)] == ["logs", "pages"]


@pytest.mark.parametrize(
    "text", ["import os", "from shutil import copy", "open('x')", "path.read_text()", "Path('x').exists()"]
)
def test_a_touched_file_is_found(text: str) -> None:
    assert len(list(file_use(syntax.parse(text, name="builder.compare")))) == 1


@pytest.mark.parametrize(
    "text",
    ["print('x')", "sys.exit(1)", "say = print", "sys.stderr.write('x')", "raise SystemExit(2)", "click.echo('x')"],
)
def test_a_module_that_speaks_or_ends_the_process_is_found(text: str) -> None:
    assert list(speech(syntax.parse(text, name="builder.compare"))) != []


@pytest.mark.parametrize("text", ["dt.datetime.now(dt.UTC)", "date.today()", "time.time()"])
def test_a_read_clock_is_found(text: str) -> None:
    assert len(list(clock_use(syntax.parse(text, name="builder.compare")))) == 1
