"""What stands where there is no page: the answer to an unknown address, and the signpost at one that has moved."""

from __future__ import annotations

import re
from collections.abc import Set as AbstractSet
from dataclasses import dataclass
from functools import partial

from builder.core.errors import Problem, Span
from builder.pages.page import Makers, Page
from builder.pages.parts import Name
from builder.pages.site_input import SiteInput

_ADDRESS = re.compile(r"(?:[a-z0-9][a-z0-9._-]*/)*[a-z0-9][a-z0-9._-]*\.html")


@dataclass(frozen=True, kw_only=True)
class Missing:
    """What is shown at an address that does not exist."""

    suggestions: tuple[Name, ...]


@dataclass(frozen=True, kw_only=True)
class Moved:
    """Where the page of an old address stands now."""

    target: Name


def pages(given: SiteInput) -> Makers:
    """Return the page that hosts show at every address that does not exist."""
    return {"404.html": partial(_missing, given)}


def _missing(given: SiteInput) -> Page:
    # A host shows this page at addresses of any depth, so its links are complete where the site's address is known.
    base = given.catalogue.archive.base_url
    suggestions = (
        Name(text="Home", href="index.html"),
        Name(text="All results", href="archive.html"),
        Name(text="Cards", href="cards/index.html"),
        Name(text="Coolers", href="coolers/index.html"),
    )
    return Page(
        path="404.html",
        template="pages/missing.html",
        title="Page not found",
        description="There is no page at this address.",
        view=Missing(suggestions=suggestions),
        indexed=False,
        link_base=base.rstrip("/") + "/" if base else "",
    )


def moved_pages(given: SiteInput, taken: AbstractSet[str]) -> Makers:
    """Return a page at every old address of `moved` in `archive.yaml` that leads to one of the addresses `taken`."""
    moved = given.catalogue.archive.moved
    return {old: partial(_moved, old, new) for old, new in moved.items() if not _trouble(old, new, taken)}


def moved_problems(given: SiteInput, taken: AbstractSet[str]) -> tuple[Problem, ...]:
    """Return what is wrong with the entries of `moved` that get no page."""
    troubles = (_trouble(old, new, taken) for old, new in given.catalogue.archive.moved.items())
    where = Span(file="archive.yaml")
    return tuple(Problem(code="moved-address", where=where, message=trouble) for trouble in troubles if trouble)


def _moved(old: str, new: str) -> Page:
    return Page(
        path=old,
        template="pages/moved.html",
        title=f"{old} has moved",
        description=f"This page has moved to {new}.",
        view=Moved(target=Name(text=new, href=new)),
        indexed=False,
    )


def _trouble(old: str, new: str, taken: AbstractSet[str]) -> str:
    if not _ADDRESS.fullmatch(old):
        return f'moved: "{old}" is not the address of a page, such as results/old-name.html'
    if old in taken:
        return f'moved: "{old}" is the address of a page that exists'
    if new not in taken:
        return f'moved: there is no page "{new}" to lead to'
    return ""
