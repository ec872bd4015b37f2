"""The demo, published once for all checks of the site, and a browser to look at it."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import pytest

from tests.support.browser import served
from tests.support.demo import published_demo
from tests.support.pages import Site, read_site
from tests.support.pair_archives import every_rule, odd_names, small
from tests.support.shared import folder_made_once
from tests.support.small_site import plan_of, write_site


@pytest.fixture(scope="session")
def site(tmp_path_factory: pytest.TempPathFactory) -> Site:
    folder = published_demo(tmp_path_factory) / "site"
    pages = tuple(read_site(folder))
    assert pages, "the demo published no page"
    return Site(folder=folder, pages=pages)


@pytest.fixture(scope="session")
def address(site: Site, tmp_path_factory: pytest.TempPathFactory) -> Iterator[str]:
    """The site's address on a loopback server, two folders below its root."""
    root = tmp_path_factory.mktemp("server")
    (root / "a").mkdir()
    (root / "a" / "sub path").symlink_to(site.folder, target_is_directory=True)
    with served(root) as server:
        yield f"{server}a/sub%20path/"


@pytest.fixture(scope="session")
def small_site(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The folder of the small archive's site."""
    return folder_made_once(tmp_path_factory, "small site", lambda folder: write_site(folder, plan_of(small())))


@pytest.fixture(scope="session")
def rules_site(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The folder of a site in which pairs are of every kind."""
    return folder_made_once(tmp_path_factory, "rules site", lambda folder: write_site(folder, plan_of(every_rule())))


@pytest.fixture(scope="session")
def odd_site(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The folder of a site whose names look like markup."""
    return folder_made_once(tmp_path_factory, "odd site", lambda folder: write_site(folder, plan_of(odd_names())))
