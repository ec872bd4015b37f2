"""The run sheet as one HTML file that needs nothing beside it."""

from __future__ import annotations

from pathlib import Path

import yaml
from jinja2 import Environment, FileSystemLoader, StrictUndefined
from markupsafe import Markup

from builder.render.theme import printable
from builder.sheet import Assembly, SheetPlan, assembly_from

_FOLDER = "sheet"


def read_assembly(content: Path) -> Assembly:
    """Return the parts and steps that come with the program."""
    return assembly_from(yaml.safe_load((content / "assembly.yaml").read_text(encoding="utf-8")))


def render_sheet(plan: SheetPlan, content: Path) -> bytes:
    """Return the run sheet as UTF-8: its style is inside, since it is printed from a folder and never published."""
    environment = Environment(
        loader=FileSystemLoader(content / _FOLDER),
        undefined=StrictUndefined,
        autoescape=True,
        trim_blocks=True,
        lstrip_blocks=True,
        finalize=printable,
    )
    style = Markup((content / _FOLDER / "sheet.css").read_text(encoding="utf-8").strip())  # noqa: S704 - our own file
    text = environment.get_template("run-sheet.html").render(sheet=plan, style=style)
    return (text.strip() + "\n").encode()
