"""Themes that build on others: what is looked up where, and what is said of a theme that cannot be used."""

from __future__ import annotations

from functools import cache
from pathlib import Path

import pytest
from jinja2 import Environment

from builder.core.errors import SoakbookError
from builder.core.files import themes_dir
from builder.pages import Page, SiteInput, SitePlan, site_plan
from builder.site.theme import open_theme, renderer, static_files
from tests.support.pages import read_page
from tests.support.site_data import catalogue, results
from tests.support.small_site import named_picture

PLAN: SitePlan = site_plan(
    SiteInput(catalogue=catalogue(), results=results(), pages={"safety": "# Safety\n\nText."}, draw=named_picture)
)
ALONE = "{% block frame %}alone{% endblock %}"
ON_ALONE = '{% extends "alone/base.html" %}{% block frame %}on {{ super() }}{% endblock %}'


@cache
def page_of(name: str, path: str) -> str:
    page = PLAN.pages.get(path)
    assert page is not None
    made = renderer(open_theme(themes_dir(), name))
    return made.page(PLAN, page).decode()


def write_theme(themes: Path, name: str, base: str = "", settings: str = "") -> Path:
    folder = themes / name
    (folder / "templates").mkdir(parents=True)
    if base:
        (folder / "templates" / "base.html").write_text(base, encoding="utf-8")
    if settings:
        (folder / "theme.yaml").write_text(settings, encoding="utf-8")
    return folder


def base_of(themes: Path, name: str, own: Path | None = None) -> str:
    return renderer(open_theme(themes, name, own)).environment.get_template("base.html").render()


def complaint(themes: Path, name: str) -> str:
    with pytest.raises(SoakbookError) as caught:
        open_theme(themes, name)
    (problem,) = caught.value.problems
    return str(problem)


def test_a_theme_holds_only_what_differs_from_the_one_under_it(tmp_path: Path) -> None:
    write_theme(tmp_path, "alone", ALONE)
    write_theme(tmp_path, "second", settings="extends: alone\n")
    assert base_of(tmp_path, "second") == "alone"


def test_a_template_extends_its_namesake_of_the_theme_under_it(tmp_path: Path) -> None:
    write_theme(tmp_path, "alone", ALONE)
    write_theme(tmp_path, "second", ON_ALONE, "extends: alone\n")
    write_theme(tmp_path, "third", ON_ALONE.replace("alone/", "second/"), "extends: second\n")
    assert [base_of(tmp_path, name) for name in ("alone", "second", "third")] == ["alone", "on alone", "on on alone"]


def test_an_archive_overrides_the_theme_and_can_extend_it(tmp_path: Path) -> None:
    write_theme(tmp_path / "themes", "alone", ALONE)
    write_theme(tmp_path / "themes", "second", ON_ALONE, "extends: alone\n")
    own = write_theme(tmp_path, "theme", ON_ALONE.replace("on ", "mine ").replace("alone/", "second/"))
    assert base_of(tmp_path / "themes", "second", own) == "mine on alone"


def test_the_nearest_static_file_wins(tmp_path: Path) -> None:
    for name, settings in (("alone", ""), ("second", "extends: alone\n")):
        css = write_theme(tmp_path, name, settings=settings) / "static" / "css"
        css.mkdir(parents=True)
        (css / "tokens.css").write_text(name, encoding="utf-8")
    (tmp_path / "alone" / "static" / "css" / "print.css").write_text("print", encoding="utf-8")
    files = static_files(open_theme(tmp_path, "second"))
    assert files == {"static/css/print.css": b"print", "static/css/tokens.css": b"second"}


def test_a_theme_on_one_that_does_not_exist_is_refused_with_the_nearest_name(tmp_path: Path) -> None:
    write_theme(tmp_path, "notebook")
    write_theme(tmp_path, "second", settings="extends: notebok\n")
    assert complaint(tmp_path, "second") == (
        'error[unknown-theme] themes/second/theme.yaml: theme: there is no theme "notebok"; '
        'expected one of notebook, second\nhint: did you mean "notebook"?'
    )


def test_themes_that_build_on_each_other_are_refused(tmp_path: Path) -> None:
    write_theme(tmp_path, "one", settings="extends: other\n")
    write_theme(tmp_path, "other", settings="extends: one\n")
    assert complaint(tmp_path, "one") == (
        "error[theme-circle] themes/other/theme.yaml: theme: one extends other extends one, which never ends"
    )


@pytest.mark.parametrize(
    "settings", ["extend: notebook\n", "extends: [notebook]\n", "extends: notebook\ncolour: red\n"]
)
def test_settings_that_mean_nothing_are_refused(tmp_path: Path, settings: str) -> None:
    write_theme(tmp_path, "notebook")
    write_theme(tmp_path, "second", settings=settings)
    assert complaint(tmp_path, "second") == (
        "error[theme-settings] themes/second/theme.yaml: expected one field, extends: with the name of a theme"
    )


@pytest.mark.parametrize("page", PLAN.pages.values(), ids=list(PLAN.pages))
def test_the_second_theme_shows_every_page_with_the_same_words(page: Page) -> None:
    ours, theirs = (read_page(page_of(name, page.path), page.path) for name in ("drafting", "notebook"))
    for tag in ("h1", "h2", "th", "td", "caption"):
        assert ours.text_of(tag) == theirs.text_of(tag)
    sheets = [e.attributes["href"].rpartition("/")[2] for e in ours.every("link", rel="stylesheet")]
    assert sheets.index("tokens.css") == 0
    assert sheets[-2:] == ["drafting.css", "print.css"]


def test_the_second_theme_does_not_repeat_files_of_the_first() -> None:
    def files(name: str) -> set[Path]:
        folder = themes_dir() / name
        return {path.relative_to(folder) for path in folder.rglob("*") if path.is_file()}

    assert files("drafting") & files("notebook") == {Path("templates/base.html"), Path("static/css/tokens.css")}


def test_templates_are_compiled_once_and_anew_when_their_text_changes(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    compiled: list[str] = []
    first = Environment.compile

    def counted(self: Environment, source: str, name: str, *rest: object, **more: object) -> object:
        compiled.append(name)
        return first(self, source, name, *rest, **more)  # type: ignore[call-overload] # handed on as it came

    monkeypatch.setattr(Environment, "compile", counted)
    folder = write_theme(tmp_path, "plain", "one")
    assert [base_of(tmp_path, "plain"), base_of(tmp_path, "plain")] == ["one", "one"]
    (folder / "templates" / "base.html").write_text("two", encoding="utf-8")
    assert base_of(tmp_path, "plain") == "two"
    assert compiled == ["base.html", "base.html"]
