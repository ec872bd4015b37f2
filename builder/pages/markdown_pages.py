"""Pages of words: methodology, glossary, safety and whatever else is written in Markdown, each at its own name."""

from __future__ import annotations

import re
from functools import partial

from builder.pages.markdown import Fragment, render_markdown
from builder.pages.page import Makers, Page, short_description
from builder.pages.result_tables import figure_place
from builder.pages.site_input import SiteInput

_NAME = re.compile(r"[a-z0-9]+(?:-[a-z0-9]+)*")


def pages(given: SiteInput) -> Makers:
    """Return the page of every text whose name can be an address; the site's own pages take theirs first."""
    return {
        f"{name}.html": partial(_page, given, name, text)
        for name, text in sorted(given.pages.items())
        if _NAME.fullmatch(name)
    }


def _page(given: SiteInput, name: str, text: str) -> Page:
    view: Fragment = render_markdown(text, figures=partial(figure_place, "", given.tested))
    title = view.title or name.replace("-", " ").capitalize()
    return Page(
        path=f"{name}.html",
        template="pages/words.html",
        title=title,
        description=short_description(_first_paragraph(text) or title),
        view=view,
        section=f"{name}.html",
    )


def _first_paragraph(text: str) -> str:
    blocks = (" ".join(block.split()) for block in text.split("\n\n"))
    first = next((b for b in blocks if b and not b.startswith(("#", "|", "-", ">", "<"))), "")
    return re.sub(r"\[([^\]]*)\]\([^)]*\)|[*`]", r"\1", first)
