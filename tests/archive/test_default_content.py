"""The words and protocols that every archive starts from."""

import json
import re
from pathlib import Path
from typing import Any

import pytest
import yaml

from builder.archive.catalogue import CoolerKind
from builder.archive.protocol import PointRole, Protocol
from builder.core.results import FIGURES
from builder.pages.markdown import slug
from builder.site.read_words import read_words

CONTENT = Path(__file__).parents[2] / "content"
PAGES = sorted((CONTENT / "pages").glob("*.md"))
PROTOCOLS = {path.stem: path for path in sorted((CONTENT / "protocols").glob("*.yaml"))}
WORDS = [
    "Card",
    "Cooler",
    "Bench",
    "Protocol",
    "Test point",
    "Bundle",
    "Mount",
    "Run",
    "Window",
    "Settled",
    "Drifting",
    "Undecided",
    "Too short",
    "Rise",
    "Psi",
    "Reference conditions",
    "Figure",
    "Ledger",
    "Correction",
]


def protocol(name: str) -> Protocol:
    raw = yaml.safe_load(PROTOCOLS[name].read_text(encoding="utf-8"))
    return Protocol.model_validate_json(json.dumps(raw))


def headings(path: Path) -> list[str]:
    return re.findall(r"^#{1,6} (.+)$", path.read_text(encoding="utf-8"), flags=re.MULTILINE)


def cautions() -> list[dict[str, Any]]:
    loaded: list[dict[str, Any]] = yaml.safe_load((CONTENT / "cautions.yaml").read_text(encoding="utf-8"))
    return loaded


def test_the_two_default_protocols_are_there() -> None:
    assert list(PROTOCOLS) == ["brief-5", "soak-10"]


@pytest.mark.parametrize("name", PROTOCOLS)
def test_a_protocol_requires_idle_stock_and_one_power_limit(name: str) -> None:
    roles = {point.role for point in protocol(name).points if point.required}
    assert roles == {PointRole.IDLE, PointRole.STOCK, PointRole.POWER_LIMIT}


@pytest.mark.parametrize("name", PROTOCOLS)
def test_every_equivalence_is_declared_from_both_sides_with_the_same_settings(name: str) -> None:
    for point in protocol(name).points:
        for ref in point.equivalent:
            other = protocol(ref.protocol).point(ref.point)
            assert other is not None
            assert (name, point.id) in {(back.protocol, back.point) for back in other.equivalent}
            assert (other.settings, other.workload, other.loop_s) == (point.settings, point.workload, point.loop_s)


@pytest.mark.parametrize("name", PROTOCOLS)
def test_a_soak_lasts_at_least_two_time_constants(name: str) -> None:
    limits = (protocol(name).air, protocol(name).liquid)
    assert all(limit.soak_s >= 2 * limit.tau_s for limit in limits)


@pytest.mark.parametrize("name", PROTOCOLS)
def test_every_workload_that_a_point_names_is_described(name: str) -> None:
    described = {workload.name for workload in protocol(name).workloads}
    assert {point.workload for point in protocol(name).points} == described


def test_the_glossary_explains_every_word_and_every_kind_of_figure() -> None:
    found = set(headings(CONTENT / "pages" / "glossary.md"))
    assert {*WORDS, *(kind.name for kind in FIGURES.values())} <= found


@pytest.mark.parametrize("path", PAGES, ids=lambda path: path.stem)
def test_headings_of_a_page_have_distinct_anchors_and_one_title(path: Path) -> None:
    anchors = [slug(heading) for heading in headings(path)]
    assert len(set(anchors)) == len(anchors)
    assert len(re.findall(r"^# ", path.read_text(encoding="utf-8"), flags=re.MULTILINE)) == 1


@pytest.mark.parametrize("path", PAGES, ids=lambda path: path.stem)
def test_every_link_to_a_heading_has_its_heading(path: Path, tmp_path: Path) -> None:
    pages = read_words(tmp_path, CONTENT, ()).pages  # as published: the methodology page ends with the studies' tables
    for target, fragment in re.findall(r"\]\(([a-z-]*)(?:\.html)?#([^)]+)\)", path.read_text(encoding="utf-8")):
        found = re.findall(r"^#+ (.+)$", pages[target or path.stem], flags=re.MULTILINE)
        assert fragment in {slug(heading) for heading in found}


def test_every_safety_note_says_why() -> None:
    text = (CONTENT / "pages" / "safety.md").read_text(encoding="utf-8")
    notes = re.split(r"^### ", text, flags=re.MULTILINE)[1:]
    assert len(notes) > 15
    assert all("**Why:**" in note for note in notes)


def test_cautions_are_complete_and_distinct() -> None:
    ids = [caution["id"] for caution in cautions()]
    assert len(set(ids)) == len(ids)
    for caution in cautions():
        assert (
            {"id", "short", "why", "where", "kinds"} <= set(caution) <= {"id", "short", "why", "where", "kinds", "step"}
        )
        assert set(caution["where"]) <= {"sheet step", "result page", "safety page"}
        assert {CoolerKind(kind) for kind in caution["kinds"]} <= set(CoolerKind)
        assert ("step" in caution) == ("sheet step" in caution["where"])
        assert caution.get("step", "run") in {"prepare", "mount", "fill", "run", "finish"}


@pytest.mark.parametrize("kind", [kind.value for kind in CoolerKind])
def test_every_kind_of_cooler_has_cautions_on_its_result_page(kind: str) -> None:
    assert any(kind in c["kinds"] and "result page" in c["where"] for c in cautions())
