"""The demo, published once for all checks of the site, and a browser to look at it."""

from __future__ import annotations

import shutil
from collections.abc import Iterator
from pathlib import Path

import pytest
from playwright.sync_api import Browser

from tests.support import browser as browsers
from tests.support.command import DEMO, must
from tests.support.pages import Site, read_site


@pytest.hookimpl(tryfirst=True)
def pytest_collection_modifyitems(items: list[pytest.Item]) -> None:
    """Keep the checks of the site in one process, so that it is published once; before xdist reads the groups."""
    here = Path(__file__).parent
    for item in items:
        if here in item.path.parents:
            item.add_marker(pytest.mark.xdist_group("site"))


def publish_copy(folder: Path, *, environment: dict[str, str], umask: int) -> Path:
    """Publish a copy of the demo, since publishing writes its ledger, and return the site's folder."""
    shutil.copytree(DEMO, folder / "archive", ignore=shutil.ignore_patterns("public", ".soakbook-*"))
    must("publish", folder / "archive", "--out", folder / "site", environment=environment, umask=umask)
    return folder / "site"


@pytest.fixture(scope="session")
def site(tmp_path_factory: pytest.TempPathFactory) -> Site:
    environment = {"PYTHONHASHSEED": "1", "TZ": "Pacific/Auckland", "LANG": "C.UTF-8"}
    folder = publish_copy(tmp_path_factory.mktemp("one"), environment=environment, umask=0o022)
    pages = tuple(read_site(folder))
    assert pages, "the demo published no page"
    return Site(folder=folder, pages=pages)


@pytest.fixture(scope="session")
def site_again(tmp_path_factory: pytest.TempPathFactory) -> Path:
    environment = {"PYTHONHASHSEED": "2", "TZ": "America/St_Johns", "LANG": "C", "LC_ALL": "C"}
    return publish_copy(tmp_path_factory.mktemp("another-place"), environment=environment, umask=0o077)


@pytest.fixture(scope="session")
def browser() -> Iterator[Browser]:
    with browsers.chromium() as started:
        yield started


@pytest.fixture(scope="session")
def address(site: Site, tmp_path_factory: pytest.TempPathFactory) -> Iterator[str]:
    """The site's address on a loopback server, two folders below its root."""
    root = tmp_path_factory.mktemp("server")
    (root / "a").mkdir()
    (root / "a" / "sub path").symlink_to(site.folder, target_is_directory=True)
    with browsers.served(root) as server:
        yield f"{server}a/sub%20path/"
