"""Frozen models of everything a tester writes: the schema of the archive, with no input or output."""

from __future__ import annotations

from enum import StrEnum
from typing import Annotated

from pydantic import ConfigDict, Field

from builder.archive.fields import Celsius, Cut, Day, Id, LogPath, Model, Moment, Name, Positive, Text, Url, _OrNothing

# --- bundle ----------------------------------------------------------------------------------------------------


def seconds_into(at: str) -> int:
    """Return a moment of a video in s.

    >>> seconds_into("6:40"), seconds_into("1:00:05")
    (400, 3605)
    """
    total = 0
    for part in at.split(":"):
        total = total * 60 + int(part)
    return total


class EpisodeMoment(Model):
    """A moment of the video."""

    at: Moment
    label: Name


class Episode(Model):
    """The video that goes with a result."""

    number: Annotated[int, Field(ge=0)] | None = None
    title: Name
    url: Url | None = None
    published: Day | None = None
    length: Moment | None = None
    moments: tuple[EpisodeMoment, ...] = ()


class Paste(Model):
    """Thermal paste and how it was applied."""

    name: Name
    pattern: Name | None = None


class Pad(Model):
    """A thermal pad: thickness as bought and the gap it fills."""

    where: Name
    thickness_mm: Positive
    gap_mm: Positive | None = None


class AssemblyChecks(Model):
    """Checks ticked on the run sheet."""

    leak_tested: bool | None = None
    flow_direction_checked: bool | None = None
    bled: bool | None = None
    screws_crosswise: bool | None = None
    card_supported: bool | None = None


class Assembly(Model):
    """How the cooler was put on the card."""

    paste: Paste | None = None
    pads: tuple[Pad, ...] = ()
    checks: AssemblyChecks = AssemblyChecks()
    notes: Text = ""


class Run(Model):
    """One log at one test point in one mount; `from` and `to` cut it out of a longer log.

    Cuts are elapsed seconds of the log, or timestamps (with a zone, or in the log's own).
    """

    model_config = ConfigDict(frozen=True, extra="forbid", strict=True, populate_by_name=True)

    point: Id
    log: LogPath
    frames: LogPath | None = None
    ambient_c: Celsius | None = None  # by hand, where no sensor logged it
    from_: Annotated[Cut | None, Field(alias="from")] = None
    to: Cut | None = None
    skip_frames: Annotated[int, Field(ge=0)] = 0  # warm-up frames to leave out
    note: Text = ""


class Mount(Model):
    """One assembly of cooler on card, with its runs; none yet where it is planned."""

    date: Day | None = None
    note: Text = ""
    runs: Annotated[tuple[Run, ...], _OrNothing()]


class Correction(Model):
    """A published figure that was wrong, with what it was and is, and why."""

    date: Day
    figure: Name  # `stock/core_rise`
    was: Name
    now: Name
    reason: Text


class Supplied(StrEnum):
    """Where the product came from."""

    BOUGHT = "bought"
    MAKER_SAMPLE = "maker sample"
    LOAN = "loan"
    OWN_WORK = "own work"


class PhotoFile(Model):
    """A photo in the bundle's folder, what it shows for those who do not see it, and what stands below it."""

    file: LogPath
    alt: Name
    caption: Text = ""


class Bundle(Model):
    """`bundles/<id>/bundle.yaml`: all that belongs to one tested product on one card."""

    card: Id
    card_sample: Id = "a"  # which specimen of the card
    cooler: Id
    bench: Id
    protocol: Id
    title: Name | None = None
    summary: Text = ""
    tested: Day
    episode: Episode | None = None
    supplied_by: Supplied | None = None
    assembly: Assembly = Assembly()
    mounts: tuple[Mount, ...] = Field(min_length=1)
    photos: tuple[PhotoFile, ...] = ()
    corrections: tuple[Correction, ...] = ()
