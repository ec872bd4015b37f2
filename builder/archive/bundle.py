"""`bundles/<id>/bundle.yaml`: one cooler tested on one card. Words below a field are its help in editors."""

from __future__ import annotations

from enum import StrEnum
from typing import Annotated

from pydantic import ConfigDict, Field

from builder.archive.fields import (
    Celsius,
    Clock,
    Cut,
    Day,
    Finite,
    Id,
    LogPath,
    Model,
    Moment,
    Name,
    Positive,
    Reading,
    Text,
    Url,
    _OrNothing,
)
from builder.core.results import Quantity


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
    """Time in the video, as 6:40."""
    label: Name
    """What is shown there."""
    results: bool = False
    """Whether the result itself is shown here; the page's first line links to it."""


class Episode(Model):
    """The video that goes with a result."""

    number: Annotated[int, Field(ge=0)] | None = None
    """Number of the episode."""
    title: Name
    """Title of the video."""
    url: Url | None = None
    """Address of the video."""
    published: Day | None = None
    """Day of publication."""
    length: Moment | None = None
    """Length of the video, as 12:30."""
    moments: tuple[EpisodeMoment, ...] = ()
    """Moments of the video that the page links to."""


class Paste(Model):
    """Thermal paste and how it was applied."""

    name: Name
    """Name of the paste."""
    pattern: Name | None = None
    """How it was applied, as cross or spread."""


class Pad(Model):
    """A thermal pad: thickness as bought and the gap it fills."""

    where: Name
    """What the pad covers, as memory."""
    thickness_mm: Positive
    """Thickness as bought, in mm."""
    gap_mm: Positive | None = None
    """Gap that it fills, in mm."""


class AssemblyChecks(Model):
    """Checks ticked on the run sheet."""

    leak_tested: bool | None = None
    """The loop held pressure with the card unpowered."""
    flow_direction_checked: bool | None = None
    """Inlet and outlet are the right way round."""
    bled: bool | None = None
    """The loop is free of air."""
    screws_crosswise: bool | None = None
    """Screws were tightened crosswise."""
    card_supported: bool | None = None
    """The card's weight is supported."""


class Assembly(Model):
    """How the cooler was put on the card."""

    paste: Paste | None = None
    """The thermal paste."""
    pads: tuple[Pad, ...] = ()
    """The thermal pads."""
    checks: AssemblyChecks = AssemblyChecks()
    """Checks ticked on the run sheet."""
    notes: Text = ""
    """Anything worth knowing that has no field of its own; plain text."""


class LogSource(Model):
    """One of several logs that are joined by time of day, and how its clock goes."""

    file: LogPath
    """File name of the log, in the bundle's folder."""
    clock_offset_s: Finite = 0.0
    """What this log's clock shows less what the card log's clock shows at the same moment, in s."""
    starts: Clock | None = None
    """Date and time of its first row, for a log that holds elapsed time alone."""
    only: tuple[Quantity, ...] = ()
    """Quantities that are taken from this log, and from no other; all that it holds when absent."""


class Run(Model):
    """One run at one test point in one mount; `from` and `to` cut it out of a longer log.

    Cuts are elapsed seconds of the card's log, or timestamps (with a zone, or in the log's own).
    """

    model_config = ConfigDict(populate_by_name=True)

    point: Id
    """Id of the test point."""
    log: LogPath | None = None
    """File name of the log, in the bundle's folder; absent where there are several, or readings by hand."""
    logs: tuple[LogSource, ...] = ()
    """Several logs of the run, the card's and those of other instruments; joined by time of day."""
    readings: dict[Quantity, Reading] | None = Field(default=None, min_length=1)
    """What was read by hand where there is no log: quantity to reading, in its standard unit, with the digits shown."""
    frames: LogPath | None = None
    """File name of the frame times, in the bundle's folder."""
    ambient_c: Celsius | None = None
    """Ambient temperature in °C read by hand, where no sensor logged it."""
    from_: Annotated[Cut | None, Field(alias="from")] = None
    """Start of the run in a longer log: elapsed seconds, or a date and time."""
    to: Cut | None = None
    """End of the run in a longer log: elapsed seconds, or a date and time."""
    skip_frames: Annotated[int, Field(ge=0)] = 0
    """Number of frames to leave out at the start."""
    note: Text = ""
    """In words; plain text."""

    @property
    def sources(self) -> tuple[LogSource, ...]:
        """Return the run's own logs, the short form first."""
        return (*((LogSource(file=self.log),) if self.log else ()), *self.logs)

    @property
    def by_hand(self) -> bool:
        """Whether the run has readings by hand instead of a log."""
        return self.readings is not None


class Mount(Model):
    """One assembly of cooler on card, with its runs; none yet where it is planned."""

    date: Day | None = None
    """Day of the assembly, where it differs from the day of the test."""
    note: Text = ""
    """In words; plain text."""
    logs: tuple[LogSource, ...] = ()
    """Logs of instruments that ran through the whole session, as of the room; joined to each run by time of day."""
    runs: Annotated[tuple[Run, ...], _OrNothing()]
    """The runs made in this mount; nothing where it is planned only."""


class Correction(Model):
    """A published figure that was wrong, with what it was and is, and why."""

    date: Day
    """Day of the correction."""
    figure: Name
    """The figure, as stock/core_rise."""
    was: Name
    """What was published."""
    now: Name
    """What is right."""
    reason: Text
    """Why it was wrong; plain text."""


class Supplied(StrEnum):
    """Where the product came from."""

    BOUGHT = "bought"
    MAKER_SAMPLE = "maker sample"
    LOAN = "loan"
    OWN_WORK = "own work"


class PhotoFile(Model):
    """A photo in the bundle's folder, what it shows for those who do not see it, and what stands below it."""

    file: LogPath
    """File in the bundle's folder: a JPEG, PNG or WebP picture."""
    alt: Name
    """What the photo shows, for readers who do not see it."""
    caption: Text = ""
    """Words below the photo."""


class Bundle(Model):
    """`bundles/<id>/bundle.yaml`: all that belongs to one tested product on one card."""

    card: Id
    """Id of the card, the name of its file without .yaml."""
    card_sample: Id = "a"
    """Which specimen of the card, as a or b."""
    cooler: Id
    """Id of the cooler, the name of its file without .yaml."""
    bench: Id
    """Id of the bench, the name of its file without .yaml."""
    protocol: Id
    """Id of the protocol."""
    title: Name | None = None
    """Title of the page; made from cooler and card when absent."""
    summary: Text = ""
    """The result in a sentence or two."""
    tested: Day
    """Day of the test, as 2026-04-18."""
    episode: Episode | None = None
    """The video that goes with the result."""
    supplied_by: Supplied | None = None
    """Where the cooler came from: bought, maker sample, loan or own work."""
    assembly: Assembly = Assembly()
    """How the cooler was put on the card."""
    mounts: tuple[Mount, ...] = Field(min_length=1)
    """Each assembly of the cooler on the card, with its runs."""
    photos: tuple[PhotoFile, ...] = ()
    """Photos for the result's page."""
    corrections: tuple[Correction, ...] = ()
    """Published figures that were wrong."""

    @property
    def files(self) -> tuple[str, ...]:
        """Return every file of the bundle's folder that it names."""
        runs = [run for mount in self.mounts for run in mount.runs]
        sources = [source for logs in (*(m.logs for m in self.mounts), *(r.logs for r in runs)) for source in logs]
        named = [*(file for run in runs for file in (run.log, run.frames)), *(source.file for source in sources)]
        return tuple(file for file in (*named, *(photo.file for photo in self.photos)) if file)

    def behind_runs(self) -> Bundle:
        """Return the bundle less its runs and what only pages show: where that stays, a log gives the figures it gave.

        A field that is not named here counts as one that figures may depend on.
        """
        shown = {"title": None, "summary": "", "episode": None, "supplied_by": None, "corrections": (), "photos": ()}
        return self.model_copy(update={**shown, "mounts": ()})
