"""The program's version counts every library that is used, and those that these use."""

from __future__ import annotations

import sys
from importlib import metadata

import pytest

from builder.commands.cache.keys import libraries
from tests.support import syntax
from tests.support.command import ROOT


def names(found: tuple[str, ...]) -> set[str]:
    return {line.split()[0].lower().replace("_", "-") for line in found}


def imported() -> set[str]:
    """Return the distributions that modules of the package import by themselves."""
    providers = metadata.packages_distributions()
    used = {use.name.split(".")[0] for source in syntax.sources(ROOT / "builder") for use in syntax.imports(source)}
    return {
        name.lower().replace("_", "-")
        for module in used - sys.stdlib_module_names
        for name in providers.get(module, ())
    }


def needs(monkeypatch: pytest.MonkeyPatch, known: dict[str, list[str]]) -> set[str]:
    def requires(name: str) -> list[str]:
        if name not in known:
            raise metadata.PackageNotFoundError(name)
        return known[name]

    monkeypatch.setattr(metadata, "requires", requires)
    monkeypatch.setattr(metadata, "version", lambda name: f"{len(requires(name))}.0")
    return set(libraries())


def test_libraries_that_others_need_count_and_those_of_extras_do_not(monkeypatch: pytest.MonkeyPatch) -> None:
    known = {
        "soakbook": ["One>=1.3", 'tests-only>=1; extra == "tests"', "two[fast]>=3"],
        "one": ["below", "one"],
        "two": ['elsewhere; sys_platform == "other"'],
        "below": [],
    }
    assert needs(monkeypatch, known) == {"one 2.0", "two 1.0", "below 0.0", "elsewhere none", "tzdata none"}


def test_a_checkout_that_is_not_installed_counts_everything_that_is(monkeypatch: pytest.MonkeyPatch) -> None:
    everything = needs(monkeypatch, {})
    assert imported() - {"soakbook"} <= names(tuple(everything))


def test_every_library_that_the_package_imports_counts() -> None:
    found = names(libraries())
    assert imported() - {"soakbook"} <= found
    assert {"fluids", "secondarycoolantprops", "tzdata"} <= found
