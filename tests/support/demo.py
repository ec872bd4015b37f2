"""The demo, published once for all tests."""

from __future__ import annotations

import shutil
from pathlib import Path

import pytest

from tests.support.command import DEMO, must
from tests.support.shared import folder_made_once

# Another test publishes it in other surroundings, and compares every byte.
SURROUNDINGS = {"PYTHONHASHSEED": "1", "TZ": "Pacific/Auckland", "LANG": "C.UTF-8"}


def published_demo(factory: pytest.TempPathFactory) -> Path:
    """A folder with a copy of the demo in `archive`, so that the checkout stays as it is, and its site in `site`."""
    return folder_made_once(factory, "demo", _publish)


def _publish(folder: Path) -> None:
    shutil.copytree(DEMO, folder / "archive", ignore=shutil.ignore_patterns("public", ".soakbook-*"))
    must("publish", folder / "archive", "--out", folder / "site", environment=SURROUNDINGS)
