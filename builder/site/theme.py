"""Themes: their templates, which turn a page into bytes, and their static files."""

from __future__ import annotations

import math
import traceback
from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path

from jinja2 import (
    BytecodeCache,
    ChoiceLoader,
    Environment,
    FileSystemLoader,
    PrefixLoader,
    StrictUndefined,
    TemplateSyntaxError,
)
from jinja2.bccache import Bucket
from jinja2.sandbox import ImmutableSandboxedEnvironment

from builder.archive import load_yaml
from builder.core.errors import Problem, Problems, SoakbookError, Span, nearest
from builder.core.words import listing
from builder.pages import Page, SitePlan
from builder.pages.parts import Absent, Day, Name, Num, Outside, Tag, plain_text, sort_key

SETTINGS = "theme.yaml"
_PARTS = {
    "num": Num,
    "name": Name,
    "outside": Outside,
    "day": Day,
    "tag": Tag,
    "absent": Absent,
}  # what templates tell apart


@dataclass(frozen=True, kw_only=True)
class Theme:
    """Where templates and static files are looked up: the archive's own folder, the chosen theme, what it builds on.

    `bases` holds the folders of themes by name, for templates that extend one of theirs, such as `notebook/base.html`.
    """

    name: str
    folders: tuple[Path, ...]
    bases: Mapping[str, Path]


@dataclass(frozen=True, kw_only=True, eq=False)
class Renderer:
    """A theme with its environment."""

    theme: Theme
    environment: Environment

    def page(self, plan: SitePlan, page: Page) -> bytes:
        """Return a page as UTF-8. Raises jinja2.TemplateError, or ValueError where a figure is not one."""
        template = self.environment.get_template(page.template)
        text = template.render(site=plan.site, page=page, view=page.view, root=page.link_root)
        return (text.rstrip() + "\n").encode()


def open_theme(themes: Path, name: str, own: Path | None = None) -> Theme:
    """Return the theme; `own` is the archive's `theme/` folder, whose files come first. Raises SoakbookError."""
    known = sorted(p.name for p in themes.iterdir() if (p / "templates").is_dir())
    names = tuple(_chain(themes, name, known))
    folders = tuple(themes / each for each in names)
    first = (own,) if own and own.is_dir() else ()
    return Theme(name=name, folders=(*first, *folders), bases=dict(zip(names, folders, strict=True)))


def _chain(themes: Path, name: str, known: Sequence[str]) -> Iterator[str]:
    """Give the theme and those it builds on, nearest first. Raises SoakbookError."""
    where = Span(file="archive.yaml")
    seen: list[str] = []
    while name:
        if name not in known:
            message = f'theme: there is no theme "{name}"; expected one of {listing(known)}'
            raise SoakbookError(
                [Problem(code="unknown-theme", where=where, message=message, hint=nearest(name, known))]
            )
        if name in seen:
            message = f"theme: {' extends '.join([*seen, name])}, which never ends"
            raise SoakbookError([Problem(code="theme-circle", where=where, message=message)])
        seen.append(name)
        yield name
        where = Span(file=f"themes/{name}/{SETTINGS}")
        name = _extended(themes / name, where)


def _extended(folder: Path, where: Span) -> str:
    """Return the name of the theme that a theme builds on; empty where it stands alone. Raises SoakbookError."""
    if not (folder / SETTINGS).is_file():
        return ""
    problems = Problems()
    doc = load_yaml(folder, SETTINGS, problems, shown=where.file)
    found = doc.data.get("extends") if doc else None
    if not isinstance(found, str) or (doc and set(doc.data) != {"extends"}):
        problems.error("theme-settings", where, "expected one field, extends: with the name of a theme")
    if problems.has_errors:
        raise SoakbookError(list(problems))
    return str(found)


class _Compiled(BytecodeCache):
    """Templates compiled in this process: a preview makes its site again and again, mostly from the same ones."""

    def __init__(self) -> None:
        self._code: dict[str, bytes] = {}

    def load_bytecode(self, bucket: Bucket) -> None:
        """Fill the bucket; it takes only code of the very text that it is for."""
        if bucket.key in self._code:
            bucket.bytecode_from_string(self._code[bucket.key])

    def dump_bytecode(self, bucket: Bucket) -> None:
        """Keep the bucket's code in place of that of an earlier text."""
        self._code[bucket.key] = bucket.bytecode_to_string()


_COMPILED = _Compiled()


def renderer(theme: Theme) -> Renderer:
    """Return a renderer. An archive's own templates run in a sandbox: they see the page and nothing else."""
    own = FileSystemLoader([folder / "templates" for folder in theme.folders])
    bases = {name: FileSystemLoader(folder / "templates") for name, folder in theme.bases.items()}
    environment = ImmutableSandboxedEnvironment(
        loader=ChoiceLoader([own, PrefixLoader(bases)]),
        bytecode_cache=_COMPILED,
        undefined=StrictUndefined,
        autoescape=True,
        trim_blocks=True,
        lstrip_blocks=True,
        finalize=printable,
    )
    environment.tests.update({f"a_{name}": _test_of(kind) for name, kind in _PARTS.items()})
    environment.filters["plain"] = plain_text
    environment.filters["sort_key"] = sort_key
    return Renderer(theme=theme, environment=environment)


def _test_of(kind: type) -> Callable[[object], bool]:
    return lambda value: isinstance(value, kind)


def template_problem(trouble: Exception, root: Path) -> Problem | None:
    """Return what is wrong with a template of an archive's own theme; None where the template came with the program."""
    own = root / "theme"
    frames = traceback.extract_tb(trouble.__traceback__)
    places = [(Path(frame.filename), frame.lineno) for frame in frames]
    if isinstance(trouble, TemplateSyntaxError) and trouble.filename:
        places.append((Path(trouble.filename), trouble.lineno))
    inside = [(path, line) for path, line in places if path.is_relative_to(own)]
    if not inside:
        return None
    path, line = inside[-1]
    where = Span(file=path.relative_to(root).as_posix(), line=line or 0)
    hint = "compare it with the template of the same name in the theme that it replaces"
    return Problem(code="bad-template", where=where, message=str(trouble), hint=hint)


def printable(value: object) -> object:
    """Return a value that a template is about to print. Raises ValueError for None and numbers that are not finite."""
    if value is None or (isinstance(value, float) and not math.isfinite(value)):
        raise ValueError(f"a page was about to print {value!r}")
    return value


def static_files(theme: Theme) -> Mapping[str, bytes]:
    """Return the theme's static files by address (`static/css/tokens.css`); the archive's own replace the theme's."""
    found: dict[str, bytes] = {}
    for folder in reversed(theme.folders):
        found.update({f"static/{name}": path.read_bytes() for name, path in _files(folder / "static")})
    return dict(sorted(found.items()))


def template_sources(theme: Theme) -> Mapping[str, bytes]:
    """Return every template that pages may be made from, by folder and name."""
    folders = enumerate(folder / "templates" for folder in theme.folders)
    return {f"{rank}/{name}": path.read_bytes() for rank, folder in folders for name, path in _files(folder)}


def _files(folder: Path) -> Iterator[tuple[str, Path]]:
    inside = folder.resolve()
    for path in sorted(folder.rglob("*")):
        relative = path.relative_to(folder)
        hidden = any(part.startswith(".") for part in relative.parts)
        # A link in an archive must not publish a file from elsewhere.
        if path.is_file() and not hidden and path.resolve().is_relative_to(inside):
            yield relative.as_posix(), path


# --- Problems as a page, for a preview that has no site to show


def problems_page(content: Path, *, title: str, lead: str, problems: Sequence[Problem] = (), detail: str = "") -> bytes:
    """Return a page that lists problems with file, line and hint, or shows a detail as it stands, as UTF-8."""
    environment = Environment(
        loader=FileSystemLoader(content / "preview"),
        undefined=StrictUndefined,
        autoescape=True,
        trim_blocks=True,
        lstrip_blocks=True,
    )
    template = environment.get_template("problems.html")
    return template.render(title=title, lead=lead, problems=problems, detail=detail).encode("utf-8", "replace")
