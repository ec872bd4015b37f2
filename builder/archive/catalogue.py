"""Frozen models of everything a tester writes: the schema of the archive, with no input or output."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from enum import StrEnum
from types import MappingProxyType
from typing import Annotated

from pydantic import Field, StringConstraints

from builder.archive.bench import Bench
from builder.archive.bundle import Bundle
from builder.archive.fields import (
    LANGUAGE_PATTERN,
    Celsius,
    Day,
    Id,
    Link,
    Model,
    Name,
    PageAddress,
    Positive,
    Text,
    Url,
)
from builder.archive.protocol import Protocol

# --- archive ---------------------------------------------------------------------------------------------------


class Reference(Model):
    """Conditions at which results are compared."""

    ambient_c: Celsius = 23.0  # ISO 554:1976, preferred atmosphere


class Licence(Model):
    """Terms under which others may use the figures and the data files."""

    name: Name
    url: Url


class Archive(Model):
    """`archive.yaml`: the channel and the site as a whole."""

    channel: Name
    title: Name | None = None  # of the site; default made from the channel's name
    summary: Text = ""
    base_url: Url | None = None
    contact: Url | None = None
    language: Annotated[str, StringConstraints(pattern=LANGUAGE_PATTERN)] = "en"
    notice: Text = ""  # shown on every page, e.g. that the data are invented
    reference: Reference = Reference()
    licence: Licence | None = None  # of figures and data files
    theme: Id = "notebook"
    moved: dict[PageAddress, PageAddress] = Field(default_factory=dict)  # old page address -> new page address


class PowerLimitRange(Model):
    """Power limit settings that the card accepts, in percent of its reference board power."""

    min: Positive
    max: Positive


class Card(Model):
    """`cards/<id>.yaml`: a graphics card under test."""

    name: Name
    maker: Name | None = None
    board_power_w: Positive  # reference board power
    power_limit_pct: PowerLimitRange | None = None
    memory_type: Name | None = None
    memory_gb: Positive | None = None
    slots: Positive | None = None
    core_clock_mhz: Positive | None = None  # the reference clock
    sensors: Text = ""  # how its sensors are read, in words
    notes: Text = ""
    links: tuple[Link, ...] = ()


class CoolerKind(StrEnum):
    """What kind of cooler it is."""

    WATER_BLOCK = "water block"
    AIR = "air"
    STOCK = "stock"
    HYBRID = "hybrid"

    @property
    def liquid(self) -> bool:
        """Whether a loop's slow time constant governs how it settles."""
        return self in (CoolerKind.WATER_BLOCK, CoolerKind.HYBRID)


class Cooler(Model):
    """`coolers/<id>.yaml`: the product under test."""

    name: Name
    kind: CoolerKind
    maker: Name | None = None
    model_code: Name | None = None  # the maker's
    materials: tuple[Name, ...] = ()
    slots: Positive | None = None
    mass_g: Positive | None = None
    released: Day | None = None
    reference: bool = False  # retested to show that the bench did not move
    notes: Text = ""
    links: tuple[Link, ...] = ()


# --- the whole -------------------------------------------------------------------------------------------------


class Catalogue(Model):
    """A whole archive, validated: every reference resolves. Mapping order is by id."""

    archive: Archive
    cards: dict[str, Card]
    coolers: dict[str, Cooler]
    benches: dict[str, Bench]
    protocols: dict[str, Protocol]
    bundles: dict[str, Bundle]


KINDS: dict[str, type[Model]] = {
    "archive": Archive,
    "card": Card,
    "cooler": Cooler,
    "bench": Bench,
    "protocol": Protocol,
    "bundle": Bundle,
}


@dataclass(frozen=True, kw_only=True)
class Setting:
    """Everything declared that a bundle's figures depend on."""

    bundle_id: str
    bundle: Bundle
    card: Card
    cooler: Cooler
    bench: Bench
    protocol: Protocol


def setting_of(bundle_id: str, catalogue: Catalogue) -> Setting:
    """Return a bundle with what it refers to; raises KeyError for an unknown bundle."""
    bundle = catalogue.bundles[bundle_id]
    return Setting(
        bundle_id=bundle_id,
        bundle=bundle,
        card=catalogue.cards[bundle.card],
        cooler=catalogue.coolers[bundle.cooler],
        bench=catalogue.benches[bundle.bench],
        protocol=catalogue.protocols[bundle.protocol],
    )


# --- What each field of the archive's files holds, in words that editors and hints show; by model, then field


_NOTES = "Anything worth knowing that has no field of its own; plain text."
_LINKS = "Links that the page shows."
_TEXT = "In words; plain text."

FIELD_WORDS: Mapping[str, Mapping[str, str]] = MappingProxyType(
    {
        "Archive": {
            "channel": "Name of the channel.",
            "title": "Title of the site; made from the channel's name when absent.",
            "summary": "What the site is about, in a sentence or two.",
            "base_url": "Address that the site is published at; feed and sitemap need it.",
            "contact": "Address of a page for corrections and questions.",
            "language": "Language of the texts, as en or pt-BR.",
            "notice": "Sentence shown on every page.",
            "reference": "Conditions at which results are compared.",
            "licence": "Terms under which others may use the figures and the data files.",
            "theme": "Id of the theme.",
            "moved": "Old page address to new page address, as results/a.html: results/b.html.",
        },
        "Licence": {"name": "Name of the licence.", "url": "Address of its text."},
        "Reference": {"ambient_c": "Reference ambient temperature in °C."},
        "Link": {"label": "Text of the link.", "url": "Address that starts with https:// or http://."},
        "Card": {
            "name": "Name of the graphics card.",
            "maker": "Maker of the card.",
            "board_power_w": "Reference board power in W.",
            "power_limit_pct": "Power limit settings that the card accepts, in % of its reference board power.",
            "memory_type": "Type of memory.",
            "memory_gb": "Memory in GB.",
            "slots": "Width in slots, with its stock cooler.",
            "core_clock_mhz": "Reference core clock in MHz.",
            "sensors": "How the card's sensors are read, in words.",
            "notes": _NOTES,
            "links": _LINKS,
        },
        "PowerLimitRange": {"min": "Lowest setting in %.", "max": "Highest setting in %."},
        "Cooler": {
            "name": "Name of the cooler.",
            "kind": "Kind of cooler: water block, air, stock or hybrid.",
            "maker": "Maker of the cooler.",
            "model_code": "The maker's model code.",
            "materials": "Materials, as copper or nickel plating.",
            "slots": "Width in slots.",
            "mass_g": "Mass in g.",
            "released": "Day of release.",
            "reference": "Whether it is retested to show that the bench did not move.",
            "notes": _NOTES,
            "links": _LINKS,
        },
        "Bench": {
            "name": "Name of the bench.",
            "description": _TEXT,
            "altitude_m": "Altitude above sea level in m.",
            "room": "The room, and how its temperature is kept; in words.",
            "sensors": "What measures each quantity, with accuracy and resolution.",
            "readers": "How logs of each shape are read.",
            "loop": "The liquid loop, where there is one.",
            "sound": "How sound is measured, where it is.",
            "changes": "What changed on the bench, and when.",
        },
        "Sensor": {
            "quantity": "The quantity that it measures.",
            "name": "Name of the sensor.",
            "accuracy": "Half-width of its accuracy in the quantity's standard unit (K, W and so on).",
            "accuracy_pct": "Accuracy in % of the reading, in addition.",
            "resolution": "Smallest step that it shows, in the quantity's standard unit.",
            "averaging": "Whether it gives instant or averaged values.",
        },
        "TimeColumn": {
            "column": "Header of the time column.",
            "kind": "Whether it holds elapsed time or timestamps.",
            "unit": "Unit of elapsed time.",
            "format": "Format of timestamps, as %Y-%m-%d %H:%M:%S; ISO 8601 when absent.",
            "zone": "Time zone of the timestamps, as Europe/Vienna.",
            "restart": "Whether elapsed time that jumps back starts a new count.",
        },
        "ColumnMeaning": {
            "quantity": "The quantity that the column holds.",
            "unit": "Its unit, as degC, W or rpm.",
            "optional": "Whether a log may lack the column, as an idle log lacks frames.",
        },
        "Reader": {
            "id": "Id of the reader.",
            "match": "Headers that must all be present for this reader to be used.",
            "delimiter": "What separates the columns.",
            "decimal": "Decimal point or comma.",
            "encoding": "Encoding of the text.",
            "time": "Where the log keeps its time; absent only for frame files.",
            "columns": "Header to what its column holds; the second column of a repeated header is header#2.",
            "missing": "Spellings of a missing value, in addition to the usual ones.",
        },
        "Loop": {
            "coolant": "The coolant.",
            "mass_fraction": "Mass fraction of glycol, 0 to 0.6.",
            "radiators": "Radiators and their fans, in words.",
            "pump": "Pump and its setting, in words.",
        },
        "SoundSetup": {
            "background_dba": "Background level in dB(A).",
            "distance_m": "Distance of the microphone in m.",
            "report_at_m": "Distance that levels are reported at, in m.",
        },
        "DatedNote": {"date": "The day.", "text": "What happened; plain text."},
        "Protocol": {
            "name": "Name of the protocol.",
            "version": "Version, a whole number that grows with every change.",
            "summary": _TEXT,
            "ambient": "Ambient temperatures inside which runs compare directly.",
            "air": "Settling rule for air coolers.",
            "liquid": "Settling rule for coolers on a liquid loop.",
            "mount_spread_k": "Assumed standard deviation from mount to mount in K, where there is one mount only.",
            "mounts": "Number of mounts that the protocol asks for.",
            "frames": "How figures on frames are defined.",
            "require": "Whether what a session lacks is a notice, or an error that stops publication.",
            "workloads": "Classes of load that the test points use.",
            "points": "The test points, in the order of the session.",
        },
        "Requirements": {
            "points": "Runs at the required test points: notice or error.",
            "remount": "As many mounts as the protocol asks for: notice or error.",
            "disclosure": "Where the cooler came from: notice or error.",
            "checks": "Checks of the assembly that concern the kind of cooler: notice or error.",
            "ambient_band": "Ambient temperature inside the band in every run: notice or error.",
        },
        "AmbientBand": {"min_c": "Lowest ambient temperature in °C.", "max_c": "Highest ambient temperature in °C."},
        "SettleLimits": {
            "tau_s": "Time constant of the slowest heat path in s.",
            "window_s": "Length of the window in s, at least 300.",
            "soak_s": "Shortest time before the window may start, in s.",
            "limit_k": "Largest remaining change for a settled run, in K.",
        },
        "SpreadByKind": {"air": "For air coolers, in K.", "liquid": "For coolers on a liquid loop, in K."},
        "FrameRule": {"low_1pct": "Definition of the 1 % low: percentile, or mean of the slowest frames."},
        "Workload": {"name": "Name that the test points use.", "description": _TEXT},
        "TestPoint": {
            "id": "Id of the test point, as runs name it.",
            "name": "Name that pages show.",
            "role": "What the test point is for.",
            "settings": "The settings in words, for the run sheet and the page.",
            "power_limit_pct": "Power limit in % of the card's reference board power.",
            "workload": "Name of the workload.",
            "loop_s": "Length of one pass of the workload in s, where it is known.",
            "soak_s": "Shortest time before the window in s, where it differs from the protocol's.",
            "window_s": "Length of the window in s, where it differs from the protocol's.",
            "required": "Whether a session without it is incomplete.",
            "equivalent": "Test points of other protocols that compare directly with this one.",
        },
        "PointRef": {"protocol": "Id of the other protocol.", "point": "Id of its test point."},
        "Bundle": {
            "card": "Id of the card, the name of its file without .yaml.",
            "card_sample": "Which specimen of the card, as a or b.",
            "cooler": "Id of the cooler, the name of its file without .yaml.",
            "bench": "Id of the bench, the name of its file without .yaml.",
            "protocol": "Id of the protocol.",
            "title": "Title of the page; made from cooler and card when absent.",
            "summary": "The result in a sentence or two.",
            "tested": "Day of the test, as 2026-04-18.",
            "episode": "The video that goes with the result.",
            "supplied_by": "Where the cooler came from: bought, maker sample, loan or own work.",
            "assembly": "How the cooler was put on the card.",
            "mounts": "Each assembly of the cooler on the card, with its runs.",
            "photos": "Photos for the result's page.",
            "corrections": "Published figures that were wrong.",
        },
        "Episode": {
            "number": "Number of the episode.",
            "title": "Title of the video.",
            "url": "Address of the video.",
            "published": "Day of publication.",
            "length": "Length of the video, as 12:30.",
            "moments": "Moments of the video that the page links to.",
        },
        "EpisodeMoment": {"at": "Time in the video, as 6:40.", "label": "What is shown there."},
        "Assembly": {
            "paste": "The thermal paste.",
            "pads": "The thermal pads.",
            "checks": "Checks ticked on the run sheet.",
            "notes": _NOTES,
        },
        "Paste": {"name": "Name of the paste.", "pattern": "How it was applied, as cross or spread."},
        "Pad": {
            "where": "What the pad covers, as memory.",
            "thickness_mm": "Thickness as bought, in mm.",
            "gap_mm": "Gap that it fills, in mm.",
        },
        "AssemblyChecks": {
            "leak_tested": "The loop held pressure with the card unpowered.",
            "flow_direction_checked": "Inlet and outlet are the right way round.",
            "bled": "The loop is free of air.",
            "screws_crosswise": "Screws were tightened crosswise.",
            "card_supported": "The card's weight is supported.",
        },
        "Mount": {
            "date": "Day of the assembly, where it differs from the day of the test.",
            "note": _TEXT,
            "runs": "The runs made in this mount; nothing where it is planned only.",
        },
        "Run": {
            "point": "Id of the test point.",
            "log": "File name of the log, in the bundle's folder.",
            "frames": "File name of the frame times, in the bundle's folder.",
            "ambient_c": "Ambient temperature in °C read by hand, where no sensor logged it.",
            "from": "Start of the run in a longer log: elapsed seconds, or a date and time.",
            "to": "End of the run in a longer log: elapsed seconds, or a date and time.",
            "skip_frames": "Number of frames to leave out at the start.",
            "note": _TEXT,
        },
        "PhotoFile": {
            "file": "File in the bundle's folder: a JPEG, PNG or WebP picture.",
            "alt": "What the photo shows, for readers who do not see it.",
            "caption": "Words below the photo.",
        },
        "Correction": {
            "date": "Day of the correction.",
            "figure": "The figure, as stock/core_rise.",
            "was": "What was published.",
            "now": "What is right.",
            "reason": "Why it was wrong; plain text.",
        },
    }
)
