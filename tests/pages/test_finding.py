"""The one sentence of a result, and the first screen: nothing is claimed that its pair cannot say."""

from __future__ import annotations

from dataclasses import replace

import pytest

from builder.archive.bundle import Episode, EpisodeMoment
from builder.archive.catalogue import CoolerKind
from builder.archive.protocol import SpreadByKind
from builder.comparison import Subject, Tested, subjects
from builder.core.quantity import NO_BREAK
from builder.core.results import Verdict
from builder.pages.answers import answers, byline, moment_address, quality
from builder.pages.finding import Outcome, finding, lead_sentences
from builder.pages.parts import Line, Num, Outside, plain_text
from tests.support.invented import Given, Shot, air, archive_of

SPREAD = SpreadByKind(air=0.4, liquid=0.4)


def of(tested: Tested, bundle: str) -> Subject:
    return next(s for s in subjects(tested.catalogue, tested.results) if s.id == bundle)


def archive(*more: Given) -> Tested:
    own = air("own", 45.0, kind=CoolerKind.STOCK)
    return archive_of([own, air("slab", 33.0), air("near", 45.2), air("fold", 55.0), *more], spread=SPREAD)


def words(line: Line) -> str:
    return plain_text(line).replace(NO_BREAK, " ")


@pytest.mark.parametrize(
    ("bundle", "outcome", "sentence"),
    [
        ("slab", Outcome.COOLER, "slab on Orrery-780: 12 degrees cooler than the card's own cooler."),
        ("fold", Outcome.WARMER, "fold on Orrery-780: 10 degrees warmer than the card's own cooler."),
        ("near", Outcome.NO_DIFFERENCE, "near on Orrery-780: no measurable difference from the card's own cooler."),
        ("own", Outcome.OWN, "own on Orrery-780: the card's own cooler, 45 degrees above the room."),
    ],
)
def test_the_sentence_says_the_difference_from_the_own_cooler(bundle: str, outcome: Outcome, sentence: str) -> None:
    tested = archive()
    found = finding(of(tested, bundle), tested)
    assert found.outcome is outcome
    assert words(found.sentence) == sentence


def test_without_an_own_cooler_the_rise_stands_alone() -> None:
    tested = archive_of([air("slab", 33.0)], spread=SPREAD)
    found = finding(of(tested, "slab"), tested)
    assert words(found.sentence) == "slab on Orrery-780 keeps the core 33 degrees above the room."


def test_an_unknown_spread_claims_no_difference() -> None:
    tested = archive_of([air("own", 45.0, kind=CoolerKind.STOCK), air("slab", 33.0)])
    assert finding(of(tested, "slab"), tested).outcome is Outcome.ABOVE_ROOM


def test_an_unsettled_run_has_no_finding_and_no_large_number() -> None:
    drifting = Given(id="drift", shots={"stock": Shot(values={"core_rise": (30.0,)}, verdict=Verdict.DRIFTING)})
    tested = archive(drifting)
    found = finding(of(tested, "drift"), tested)
    assert found.outcome is Outcome.NONE
    assert answers(found, tested) == ()
    assert "no final figure" in words(found.headline)


def test_degrees_have_their_fahrenheit_as_a_difference() -> None:
    """A difference of 12 K is 21.6 in Fahrenheit degrees (NIST SP 811, B.9, exact)."""
    tested = archive()
    number = next(part for part in finding(of(tested, "slab"), tested).headline if isinstance(part, Num))
    assert (number.value, number.fahrenheit_value) == ("12", "22")


def test_the_lead_names_who_does_better_and_who_is_too_close() -> None:
    tested = archive(air("twin", 33.1))
    assert "1 cooler does better" not in words(lead_sentences(finding(of(tested, "slab"), tested), tested))
    said = words(lead_sentences(finding(of(tested, "slab"), tested), tested))
    assert said.endswith("No cooler tested on this card does better; too close to call: twin.")
    assert "2 coolers do better: slab and twin" in words(lead_sentences(finding(of(tested, "near"), tested), tested))


def test_the_large_numbers_start_with_the_difference() -> None:
    tested = archive()
    shown = answers(finding(of(tested, "slab"), tested), tested)
    assert [words(a.label) for a in shown[:2]] == [
        "degrees cooler than the card's own cooler",
        "degrees above the room",
    ]
    assert [a.leads for a in shown[:2]] == [True, False]
    assert shown[2].room is not None


def test_the_first_line_links_into_the_video() -> None:
    tested = archive()
    episode = Episode(
        title="The slab",
        number=3,
        url="https://video.example/e3",
        moments=(EpisodeMoment(at="0:00", label="Start"), EpisodeMoment(at="6:40", label="Heat", results=True)),
    )
    subject = of(tested, "slab")
    with_video = replace(subject, bundle=subject.bundle.model_copy(update={"episode": episode}))
    line = byline(with_video, "{url}?t={seconds}s")
    link = next(part for part in line if isinstance(part, Outside))
    assert (link.text, link.url) == ("Watch the results, 6:40", "https://video.example/e3?t=400s")


def test_a_moment_with_hours_counts_them() -> None:
    assert moment_address("https://v.example/x", "1:02:03", "{url}#t={seconds}") == "https://v.example/x#t=3723"


def test_quality_says_what_did_not_settle() -> None:
    drifting = Given(id="drift", shots={"stock": Shot(values={"core_rise": (30.0,)}, verdict=Verdict.DRIFTING)})
    tested = archive(drifting)
    assert words(quality(of(tested, "drift"))) == "Checked: 1 setting not settled; mounted once."
    assert words(quality(of(tested, "slab"))) == "Checked: every run settled; mounted once."
