"""The demo, published once for all checks of the site, and a browser to look at it."""

from __future__ import annotations

import shutil
from collections.abc import Iterator
from pathlib import Path

import pytest

from tests.support.browser import served
from tests.support.command import DEMO, must
from tests.support.pages import Site, read_site
from tests.support.pair_archives import every_rule, odd_names, small
from tests.support.shared import folder_made_once
from tests.support.small_site import plan_of, write_site


def publish_copy(folder: Path, *, environment: dict[str, str], umask: int) -> None:
    """Publish a copy of the demo, so that nothing in the checkout changes, from `archive` into `site`."""
    shutil.copytree(DEMO, folder / "archive", ignore=shutil.ignore_patterns("public", ".soakbook-*"))
    must("publish", folder / "archive", "--out", folder / "site", environment=environment, umask=umask)


def publish_one(folder: Path) -> None:
    publish_copy(folder, environment={"PYTHONHASHSEED": "1", "TZ": "Pacific/Auckland", "LANG": "C.UTF-8"}, umask=0o022)


def publish_another(folder: Path) -> None:
    surroundings = {"PYTHONHASHSEED": "2", "TZ": "America/St_Johns", "LANG": "C", "LC_ALL": "C"}
    publish_copy(folder, environment=surroundings, umask=0o077)


@pytest.fixture(scope="session")
def site(tmp_path_factory: pytest.TempPathFactory) -> Site:
    folder = folder_made_once(tmp_path_factory, "one", publish_one) / "site"
    pages = tuple(read_site(folder))
    assert pages, "the demo published no page"
    return Site(folder=folder, pages=pages)


@pytest.fixture(scope="session")
def site_again(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return folder_made_once(tmp_path_factory, "another-place", publish_another) / "site"


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
