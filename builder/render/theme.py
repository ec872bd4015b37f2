"""Themes: the templates and static files that turn the plan into bytes."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import TypeAlias

from jinja2 import Environment, FileSystemLoader, StrictUndefined
from jinja2.sandbox import ImmutableSandboxedEnvironment
from markupsafe import Markup

from builder.charts.base import Chart
from builder.errors import Problem, SoakbookError, Span, listing, nearest
from builder.pages import Page, SitePlan
from builder.pictures import chart_svg
from builder.views.tables import sort_key
from builder.views.text import Day, Name, Num, Outside, Tag, plain_text

Picture: TypeAlias = Callable[[Chart], str]  # a chart -> its SVG


@dataclass(frozen=True, kw_only=True)
class Theme:
    """Where templates and static files are looked up: the archive's own folder first, then the chosen theme."""

    name: str
    folders: tuple[Path, ...]


@dataclass(frozen=True, kw_only=True, eq=False)
class Renderer:
    """A theme with its environment, and what turns a chart into a picture."""

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
    if name not in known:
        message = f'theme: there is no theme "{name}"; expected one of {listing(known)}'
        where = Span(file="archive.yaml")
        raise SoakbookError([Problem(code="unknown-theme", where=where, message=message, hint=nearest(name, known))])
    folders = (own, themes / name) if own and own.is_dir() else (themes / name,)
    return Theme(name=name, folders=folders)


def renderer(theme: Theme, picture: Picture | None = None) -> Renderer:
    """Return a renderer. An archive's own templates run in a sandbox: they see the page and nothing else."""
    environment = ImmutableSandboxedEnvironment(
        loader=FileSystemLoader([folder / "templates" for folder in theme.folders]),
        undefined=StrictUndefined,
        autoescape=True,
        trim_blocks=True,
        lstrip_blocks=True,
        finalize=printable,
    )
    environment.tests.update(_part_tests())
    environment.filters["plain"] = plain_text
    environment.filters["sort_key"] = sort_key
    environment.globals["picture"] = _marked(picture or _drawn)
    return Renderer(theme=theme, environment=environment)


def _part_tests() -> dict[str, Callable[[object], bool]]:
    kinds = {"num": Num, "name": Name, "outside": Outside, "day": Day, "tag": Tag}
    return {f"a_{name}": _instance_test(kind) for name, kind in kinds.items()}


def _instance_test(kind: type) -> Callable[[object], bool]:
    return lambda value: isinstance(value, kind)


def _marked(picture: Picture) -> Callable[[Chart], Markup]:
    # The picture module makes the SVG from numbers and escapes every word in it.
    return lambda chart: Markup(picture(chart))  # noqa: S704


def _drawn(chart: Chart) -> str:
    return chart_svg(chart, uid=chart.id)


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


def _files(folder: Path) -> Iterator[tuple[str, Path]]:
    inside = folder.resolve()
    for path in sorted(folder.rglob("*")):
        relative = path.relative_to(folder)
        hidden = any(part.startswith(".") for part in relative.parts)
        # A link in an archive must not publish a file from elsewhere.
        if path.is_file() and not hidden and path.resolve().is_relative_to(inside):
            yield relative.as_posix(), path
