"""The text below a video: what it holds, in which order, and what gives way where it is too long."""

from __future__ import annotations

from dataclasses import replace

import pytest
from hypothesis import given
from hypothesis import strategies as st

from builder.archive.bundle import EpisodeMoment
from builder.archive.safety_cautions import Caution
from builder.comparison import Subject, Tested
from builder.kit.description import LIMIT, Section, description_text, fitted, short_time

CAUTIONS = (Caution(id="a", short="Let it cool.", why="", where=frozenset(), kinds=frozenset()),)
BASE = "https://lantern.example/"


def text_of(subject: Subject, archive: Tested, cautions: tuple[Caution, ...] = CAUTIONS, base: str = BASE) -> str:
    return description_text(subject, archive, cautions, base)


def test_parts_come_in_order(archive: Tested, found: dict[str, Subject]) -> None:
    lines = text_of(found["slab-on-780"], archive).splitlines()
    headings = ["Moments", "Conditions", "Method", "Disclosure", "Cautions", "Links"]
    assert [line for line in lines if line in headings] == headings
    assert lines[0] == "Fenwick Slab on Orrery 780"
    assert lines[1] == "A full-cover block on the large card."
    assert lines[2] == "Fenwick Slab on Orrery 780 keeps the core 31 degrees above the room."


def test_moments_are_lines_of_time_and_label(archive: Tested, found: dict[str, Subject]) -> None:
    assert "Moments\n0:40 What is in the box\n6:40 Results\n" in text_of(found["slab-on-780"], archive)


def test_method_disclosure_cautions_and_links(archive: Tested, found: dict[str, Subject]) -> None:
    text = text_of(found["slab-on-780"], archive)
    assert f"Protocol Soak 10, version 2. Every ± is a 95 % interval. {BASE}methodology.html" in text
    assert "Disclosure\nThe cooler is a sample from its maker.\n" in text
    assert "Cautions\nLet it cool.\n" in text
    assert f"Every figure of this test: {BASE}results/slab-on-780.html" in text


def test_without_an_address_there_are_no_links_to_the_site(archive: Tested, found: dict[str, Subject]) -> None:
    assert ".html" not in text_of(found["slab-on-780"], archive, base="")


def test_a_drifting_run_is_mentioned(archive: Tested, found: dict[str, Subject]) -> None:
    assert "Careful, run not settled: Stock" in text_of(found["lantern-on-780"], archive)


TIMES = {"6:40": "6:40", "06:40": "6:40", "0:00": "0:00", "75:01": "1:15:01", "1:02:03": "1:02:03", "00:01:05": "1:05"}


@pytest.mark.parametrize(("given_time", "shown"), TIMES.items(), ids=TIMES.keys())
def test_times_as_players_read_them(given_time: str, shown: str) -> None:
    assert short_time(given_time) == shown


def longest(subject: Subject, archive: Tested) -> tuple[str, str]:
    """Return the text of an episode with far too many moments, and what it would be without a limit."""
    moments = tuple(EpisodeMoment(at=f"{i // 60}:{i % 60:02}", label=f"{i} " + "x" * 100) for i in range(90))
    episode = subject.bundle.episode
    assert episode is not None
    bundle = subject.bundle.model_copy(update={"episode": episode.model_copy(update={"moments": moments})})
    long = replace(subject, bundle=bundle)
    return text_of(long, archive), "\n".join(f"{m.at} {m.label}" for m in moments)


def test_a_long_text_is_cut_at_whole_lines(archive: Tested, found: dict[str, Subject]) -> None:
    text, moments = longest(found["slab-on-780"], archive)
    assert LIMIT - 200 < len(text) <= LIMIT
    kept = [line for line in text.splitlines() if line.endswith("x")]
    assert kept == moments.splitlines()[: len(kept)]


def test_what_must_be_said_is_kept(archive: Tested, found: dict[str, Subject]) -> None:
    text, _ = longest(found["slab-on-780"], archive)
    assert "Method\nProtocol" in text
    assert "Disclosure\nThe cooler is a sample" in text
    assert "Links" not in text
    assert "Cautions" not in text


SECTIONS = st.lists(
    st.builds(
        Section,
        heading=st.sampled_from(["", "Moments", "Links"]),
        lines=st.lists(st.text(alphabet="abc ", min_size=1, max_size=30), max_size=6).map(tuple),
        yields=st.integers(0, 5),
    ),
    max_size=5,
)


@given(SECTIONS, st.integers(0, 200))
def test_any_text_fits_and_its_lines_are_whole(sections: list[Section], limit: int) -> None:
    text = fitted(sections, limit)
    allowed = {line for s in sections for line in (s.heading, *s.lines)} | {""}
    assert len(text) <= limit
    assert set(text.splitlines()) <= allowed
