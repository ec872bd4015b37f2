"""The demo archive, read and reduced once for all tests of it."""

from __future__ import annotations

import json
from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import pytest

from builder.errors import Problem, Problems
from builder.figures import BundleResult
from builder.gather import Gatherer
from builder.model import Catalogue
from builder.reduce import reduce_bundle, setting_of
from builder.validate import load_archive

DEMO = Path(__file__).resolve().parents[2] / "site_demo"


@dataclass(frozen=True, kw_only=True)
class Demo:
    """The demo archive with its figures, every problem found on the way, and the truth behind its logs."""

    catalogue: Catalogue
    results: Mapping[str, BundleResult]
    problems: tuple[Problem, ...]
    truth: Mapping[str, Any]


@pytest.fixture(scope="session")
def demo() -> Demo:
    problems = Problems()
    loaded = load_archive(DEMO, problems)
    assert loaded is not None, "\n".join(str(p) for p in problems)
    gatherer = Gatherer(root=DEMO, loaded=loaded, problems=problems)
    results = {b: reduce_bundle(setting_of(b, loaded.catalogue), gatherer.bundle(b)) for b in loaded.catalogue.bundles}
    truth = json.loads((DEMO / "truth.json").read_text(encoding="utf-8"))["bundles"]
    return Demo(catalogue=loaded.catalogue, results=results, problems=tuple(problems), truth=truth)
