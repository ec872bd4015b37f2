"""Problems as a page, for a preview that has no site to show."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path

from jinja2 import Environment, FileSystemLoader, StrictUndefined

from builder.errors import Problem


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
