"""Captions: the figures that a script links, with their moments."""

from __future__ import annotations

from builder.archive.bundle import Episode, EpisodeMoment
from builder.comparison import Tested
from builder.core.quantity import NO_BREAK
from builder.kit.kit import COLUMNS, Caption, captions
from builder.narration import Words, check_words

EPISODE = Episode(title="A slab", moments=(EpisodeMoment(at="06:40", label="Results"),))


def of(text: str, archive: Tested, episode: Episode | None = EPISODE) -> tuple[Caption, ...]:
    checked = check_words(Words(file="script.md", bundle="slab-on-780", text=text), archive)
    return captions(checked.linked, episode)


def test_a_caption_holds_what_was_said_and_computed(archive: Tested) -> None:
    (caption,) = of("## 1:20 Power\n\nIt draws [about 285\nwatts](figure:stock/board_power).", archive)
    assert caption.row == (
        "1:20", "Power", 3, "about 285 watts", "285.0 ± 2.9 W", "285 watts", "figure:stock/board_power", "",
    )  # fmt: skip
    assert len(caption.row) == len(COLUMNS)
    assert NO_BREAK not in caption.computed


def test_a_heading_that_names_a_moment_of_the_episode_has_its_time(archive: Tested) -> None:
    assert [c.moment for c in of("## Results\n\n[285 W](figure:stock/board_power)", archive)] == ["6:40"]


def test_the_nearest_moment_before_a_link_counts(archive: Tested) -> None:
    text = "## 1:20 A\n\n## 2:30 B\n\n### Detail\n\n[285 W](figure:stock/board_power)"
    assert [(c.moment, c.heading) for c in of(text, archive)] == [("2:30", "Detail")]


def test_words_before_the_first_time_are_spoken_from_the_beginning(archive: Tested) -> None:
    text = "# One\n\n[285 W](figure:stock/board_power)\n\n## 2:30 B\n\n[285 W](figure:stock/board_power)"
    assert [c.moment for c in of(text, archive)] == ["0:00", "2:30"]


def test_without_moments_the_time_is_empty(archive: Tested) -> None:
    assert [(c.moment, c.heading) for c in of("[285 W](figure:stock/board_power)", archive, None)] == [("", "")]


def test_a_wrong_claim_carries_its_code(archive: Tested) -> None:
    text = "[280 W](figure:stock/board_power) [x](figure:stock/nothing)"
    assert [(c.problem, c.computed) for c in of(text, archive)] == [
        ("claim-differs", "285.0 ± 2.9 W"),
        ("unknown-figure", ""),
    ]
