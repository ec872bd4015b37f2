"""The small archive, to be broken one part at a time."""

from __future__ import annotations

from pathlib import Path

import pytest

from tests.support.small_archive import Folder, small_archive


@pytest.fixture
def archive(tmp_path: Path) -> Folder:
    return small_archive(tmp_path)
