"""An invented archive with every awkward case, for tests of the kit."""

from __future__ import annotations

import pytest

from builder.comparison import Subject, Tested, subjects
from tests.support import site_data


@pytest.fixture(scope="session")
def archive() -> Tested:
    return Tested(catalogue=site_data.catalogue(), results=site_data.results())


@pytest.fixture(scope="session")
def found(archive: Tested) -> dict[str, Subject]:
    return {s.id: s for s in subjects(archive.catalogue, archive.results)}
