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

# The rooms in the order of the flow, and what each may import. DEVELOPERS.md shows the same table to people.
MAY_IMPORT: dict[str, frozenset[str]] = {
    room: frozenset(used.split())
    for room, used in {
        "core": "",
        "archive": "core",
        "uncertainty": "core",
        "logs": "core archive",
        "settling": "core uncertainty",
        "reduction": "core archive uncertainty logs settling",
        "comparison": "core archive uncertainty reduction",
        "narration": "core archive comparison",
        "charts": "core archive comparison",
        "pages": "core archive comparison narration charts",
        "site": "core archive comparison charts pages",
        "sheet": "core archive uncertainty reduction",
        "kit": "core archive comparison narration charts pages site",
        "commands": "core archive logs settling reduction comparison narration site sheet kit",
        "cli": "core archive commands",
    }.items()
}

# Constants of `builder/__init__.py`, which itself imports nothing of the package.
OF_THE_PACKAGE = frozenset({"__version__"})

# Rooms, or single modules of one, that read or write files; all others are pure.
TOUCH_FILES = (
    *("builder.core.files", "builder.core.writing", "builder.archive.shelf"),
    *("builder.archive.loading", "builder.logs", "builder.site", "builder.commands", "builder.cli"),
)
SPEAK = frozenset({"cli"})
KNOW_THE_TIME = ("builder.cli", "builder.commands.preview")

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
    return user == used or used in MAY_IMPORT[user]


def within(source: Source, names: tuple[str, ...]) -> bool:
    """Whether a module is one of those named, or lies in a room that is."""
    return any(source.name == name or source.name.startswith(f"{name}.") for name in names)


def wrong_imports(source: Source) -> Iterator[str]:
    for use in syntax.own_imports(source):
        if use.name in OF_THE_PACKAGE:
            continue
        if use.name not in MAY_IMPORT or source.module not in MAY_IMPORT or not may_use(source.module, use.name):
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


def documented_rooms(text: str) -> dict[str, frozenset[str]]:
    """The table `| room | holds | may import |` of DEVELOPERS.md."""
    after_head = re.split(r"^\|\s*room\s*\|\s*holds\s*\|\s*may import\s*\|\s*$", text, maxsplit=1, flags=re.MULTILINE)[
        1
    ]
    table = after_head.strip("\n").split("\n\n")[0]
    rows = re.findall(r"^\|\s*`(\w+)(?:/|\.py)`\s*\|[^|]*\|([^|]*)\|", table, flags=re.MULTILINE)
    return {room: frozenset(re.findall(r"`(\w+)`", used)) for room, used in rows}


def test_the_table_in_developers_md_is_the_one_that_is_enforced() -> None:
    text = (ROOT / "DEVELOPERS.md").read_text(encoding="utf-8")
    assert documented_rooms(text) == MAY_IMPORT


def test_every_module_is_in_a_room_and_every_room_has_modules() -> None:
    assert {source.module for source in package()} == set(MAY_IMPORT)


def test_the_table_has_no_circle() -> None:
    order = list(MAY_IMPORT)
    assert [(room, used) for room in order for used in MAY_IMPORT[room] if order.index(used) >= order.index(room)] == []


def test_rooms_import_only_what_the_table_allows() -> None:
    assert [wrong for source in package() for wrong in wrong_imports(source)] == []


def test_every_permission_of_the_table_is_used() -> None:
    used = {(s.module, use.name) for s in package() for use in syntax.own_imports(s)}
    assert [
        (room, other) for room in MAY_IMPORT for other in sorted(MAY_IMPORT[room]) if (room, other) not in used
    ] == []


def test_only_the_ends_touch_files() -> None:
    middle = [source for source in package() if not within(source, TOUCH_FILES)]
    assert [use for source in middle for use in file_use(source)] == []


def test_only_the_command_line_prints_or_exits() -> None:
    silent = [source for source in package() if source.module not in SPEAK]
    assert [use for source in silent for use in speech(source)] == []


def test_the_time_of_day_is_passed_in() -> None:
    timeless = [source for source in package() if not within(source, KNOW_THE_TIME)]
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
    "a room beside": "from builder.settling import judge",
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
    assert len(list(file_use(syntax.parse(text, name="builder.comparison")))) == 1


@pytest.mark.parametrize(
    "text",
    ["print('x')", "sys.exit(1)", "say = print", "sys.stderr.write('x')", "raise SystemExit(2)", "click.echo('x')"],
)
def test_a_module_that_speaks_or_ends_the_process_is_found(text: str) -> None:
    assert list(speech(syntax.parse(text, name="builder.comparison"))) != []


@pytest.mark.parametrize("text", ["dt.datetime.now(dt.UTC)", "date.today()", "time.time()"])
def test_a_read_clock_is_found(text: str) -> None:
    assert len(list(clock_use(syntax.parse(text, name="builder.comparison")))) == 1
