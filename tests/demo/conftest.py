"""The demo archive, read and reduced once for all tests of it."""

from __future__ import annotations

import json
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

import pytest

from builder.archive.catalogue import Catalogue
from builder.commands.cache import open_cache
from builder.commands.reduce_archive import reduce_archive
from builder.core.errors import Problem
from builder.core.results import BundleResult
from tests.support.command import DEMO
from tests.support.demo import published_demo


@dataclass(frozen=True, kw_only=True)
class Demo:
    """The demo archive with its figures, every problem found on the way, and the truth behind its logs."""

    catalogue: Catalogue
    results: Mapping[str, BundleResult]
    problems: tuple[Problem, ...]
    truth: Mapping[str, Any]


@pytest.fixture(scope="session")
def demo(tmp_path_factory: pytest.TempPathFactory) -> Demo:
    archive = published_demo(tmp_path_factory) / "archive"
    reduced = reduce_archive(archive, cache=open_cache(archive))
    truth = json.loads((DEMO / "truth.json").read_text(encoding="utf-8"))["bundles"]
    return Demo(catalogue=reduced.loaded.catalogue, results=reduced.results, problems=reduced.problems, truth=truth)
