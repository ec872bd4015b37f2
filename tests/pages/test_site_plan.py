"""The plan of the site: which pages there are, and how they refer to one another."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterator
from dataclasses import fields, is_dataclass, replace
from itertools import chain

import pytest

from builder.archive.catalogue import Archive, Catalogue
from builder.archive.safety_cautions import Caution
from builder.core.results import BundleResult
from builder.pages import Download, Page, SiteInput, SitePlan, site_plan
from builder.pages.no_page import Missing
from builder.pages.result import ResultPage
from tests.support.site_data import catalogue, results
from tests.support.small_site import named_picture

CATALOGUE = catalogue()
WORDS = {"methodology": "# How figures are made\n\nText [here](glossary.html).", "safety": "# Safety\n\nText."}
CAUTION = Caution(
    id="hot", short="Wait.", why="Hot.", where=frozenset({"result page"}), kinds=frozenset({"air", "water block"})
)


def plan_of(data: SiteInput) -> SitePlan:
    return site_plan(data)


DATA = SiteInput(catalogue=CATALOGUE, results=results(), pages=WORDS, cautions=(CAUTION,), draw=named_picture)
PLAN = plan_of(DATA)


def page(path: str, plan: SitePlan = PLAN) -> Page:
    found = plan.pages.get(path)
    assert found is not None, path
    return found


def changed(**changes: object) -> SiteInput:
    archive = CATALOGUE.archive.model_copy(update=changes)
    return replace(DATA, catalogue=CATALOGUE.model_copy(update={"archive": archive}))


def test_every_result_card_cooler_and_protocol_has_a_flat_address() -> None:
    paths = set(PLAN.pages)
    assert paths >= {f"results/{b}.html" for b in CATALOGUE.bundles}
    assert paths >= {f"cards/{c}.html" for c in CATALOGUE.cards}
    assert paths >= {f"coolers/{c}.html" for c in CATALOGUE.coolers}
    assert paths >= {f"protocols/{p}.html" for p in CATALOGUE.protocols}
    assert paths >= {"index.html", "archive.html", "corrections.html", "404.html", "methodology.html", "safety.html"}
    assert paths >= {"cards/index.html", "coolers/index.html", "protocols/index.html"}


def test_addresses_are_distinct_and_in_order() -> None:
    paths = list(PLAN.pages)
    assert paths == sorted(set(paths))


def test_every_page_says_the_address_that_it_was_asked_for_at() -> None:
    assert {path: made.path for path, made in PLAN.pages.items()} == {path: path for path in PLAN.pages}


def test_search_is_told_of_the_pages_that_it_may_show() -> None:
    assert PLAN.listed == tuple(path for path, made in PLAN.pages.items() if made.indexed)


def test_titles_are_distinct() -> None:
    titles = [p.title for p in PLAN.pages.values()]
    assert len(set(titles)) == len(titles)


def test_pages_know_how_deep_they_are() -> None:
    assert page("index.html").root == ""
    assert page("results/slab-on-780.html").root == "../"


def test_descriptions_fit_a_preview() -> None:
    assert all(0 < len(p.description) <= 160 for p in PLAN.pages.values())
    assert all("\n" not in p.description for p in PLAN.pages.values())


def test_the_plan_is_the_same_every_time() -> None:
    again = plan_of(DATA)
    assert [(p.path, p.title, p.description) for p in again.pages.values()] == [
        (p.path, p.title, p.description) for p in PLAN.pages.values()
    ]


def test_navigation_leads_only_to_pages_that_exist() -> None:
    paths = set(PLAN.pages)
    assert {item.href for item in (*PLAN.site.navigation, *PLAN.site.footer)} <= paths
    assert "about.html" not in {item.href for item in PLAN.site.navigation}


def test_own_pages_join_the_footer_under_their_title() -> None:
    plan = plan_of(replace(DATA, pages={**WORDS, "house-rules": "# House rules\n\nBe kind."}))
    assert ("House rules", "house-rules.html") in {(i.text, i.href) for i in plan.site.footer}
    assert page("house-rules.html", plan).description == "Be kind."


@pytest.mark.parametrize("name", ["index", "archive", "404", "corrections", "../x", "A b", ""])
def test_own_pages_cannot_take_an_address_of_the_site(name: str) -> None:
    plan = plan_of(replace(DATA, pages={**WORDS, name: "# Mine"}))
    assert list(plan.pages) == list(PLAN.pages)


def test_a_moved_address_leads_to_the_new_one() -> None:
    moved = page("results/slab.html")
    assert moved.template == "pages/moved.html"
    assert not moved.indexed


@pytest.mark.parametrize(
    ("old", "new", "message"),
    [
        ("../x.html", "index.html", 'moved: "../x.html" is not the address of a page, such as results/old-name.html'),
        ("/x.html", "index.html", 'moved: "/x.html" is not the address of a page, such as results/old-name.html'),
        ("archive.html", "index.html", 'moved: "archive.html" is the address of a page that exists'),
        ("old.html", "https://x.example/", 'moved: there is no page "https://x.example/" to lead to'),
    ],
    ids=["leaves the site", "absolute", "taken", "nowhere"],
)
def test_a_moved_address_that_cannot_be_is_a_problem(old: str, new: str, message: str) -> None:
    plan = plan_of(changed(moved={old: new}))
    assert [p.message for p in plan.problems] == [message]
    assert plan.pages.get(old) is None or page(old, plan).template != "pages/moved.html"


def test_links_of_the_page_for_missing_addresses_are_complete_where_the_site_has_one() -> None:
    assert page("404.html").link_root == "https://lantern.example/coolers/"
    assert page("404.html", plan_of(changed(base_url=None))).link_root == ""
    assert isinstance(page("404.html").view, Missing)


def result_page(bundle: str, plan: SitePlan = PLAN) -> ResultPage:
    view = page(f"results/{bundle}.html", plan).view
    assert isinstance(view, ResultPage)
    return view


def odd_values(value: object, place: str) -> Iterator[str]:
    """Give the places in a view that hold anything but plain values."""
    if isinstance(value, tuple | list | frozenset):
        for item in value:
            yield from odd_values(item, place)
    elif isinstance(value, dict):
        for key, item in value.items():
            yield from odd_values(item, f"{place}[{key}]")
    elif is_dataclass(value):
        for each in fields(value):
            yield from odd_values(getattr(value, each.name), f"{place}.{each.name}")
    elif type(value) not in (str, int, float, bool, type(None)):
        yield f"{place}: {type(value)}"


def test_views_hold_plain_values_alone() -> None:
    shown = [odd_values((made.view, made.trail, made.preview), path) for path, made in PLAN.pages.items()]
    assert [*chain(*shown), *odd_values(PLAN.site, "site")] == []


def test_cautions_follow_the_kind_of_cooler() -> None:
    assert [c.id for c in result_page("slab-on-780").cautions] == ["hot"]
    assert result_page("stock-on-780").cautions == ()


def test_notes_and_downloads_reach_their_result() -> None:
    download = Download(label="CSV", href="data/x.csv")
    plan = plan_of(replace(DATA, notes={"slab-on-780": "# What happened"}, downloads={"slab-on-780": (download,)}))
    shown = result_page("slab-on-780", plan)
    assert shown.notes.headings[0].level == 3
    assert shown.downloads == (download,)
    assert not result_page("riffle-on-780", plan).notes


def test_charts_are_made_where_figures_suffice() -> None:
    full = result_page("slab-on-780").charts
    assert all(full[name] for name in ("coolers", "points", "changes", "power"))
    assert full["run"] is None  # the small archive has no traces
    bare = result_page("fold-on-740").charts
    assert not any(bare[name] for name in ("coolers", "points", "changes", "power", "run"))


def test_a_drifting_result_is_not_drawn_among_the_ranked() -> None:
    assert result_page("lantern-on-780").charts["coolers"] is None


def test_an_empty_archive_has_a_site() -> None:
    empty = Catalogue(archive=Archive(channel="Nobody"), cards={}, coolers={}, benches={}, protocols={}, bundles={})
    nothing: dict[str, BundleResult] = {}
    plan = plan_of(SiteInput(catalogue=empty, results=nothing, built=dt.date(2026, 1, 2)))
    assert plan.site.title == "Nobody: cooler tests"
    assert plan.site.built
    assert plan.pages.get("archive.html")
