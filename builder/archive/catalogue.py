"""`archive.yaml`, cards and coolers, and the whole archive as one catalogue in which every reference resolves."""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum
from typing import Annotated, Any

from pydantic import Field, StringConstraints

from builder.archive.bench import Accuracy, AssumedAccuracy, Bench, Sensor, sensor_on
from builder.archive.bundle import Bundle
from builder.archive.fields import (
    LANGUAGE_PATTERN,
    Celsius,
    Day,
    Id,
    Link,
    Model,
    MomentUrl,
    Name,
    PageAddress,
    Positive,
    Text,
    Url,
)
from builder.archive.protocol import Protocol
from builder.core.results import Quantity


class Reference(Model):
    """Conditions at which results are compared."""

    ambient_c: Celsius = 23.0  # ISO 554:1976, preferred atmosphere
    """Reference ambient temperature in °C."""


class Licence(Model):
    """Terms under which others may use the figures and the data files."""

    name: Name
    """Name of the licence."""
    url: Url
    """Address of its text."""


class Archive(Model):
    """`archive.yaml`: the channel and the site as a whole."""

    channel: Name
    """Name of the channel."""
    title: Name | None = None
    """Title of the site; made from the channel's name when absent."""
    summary: Text = ""
    """What the site is about, in a sentence or two."""
    base_url: Url | None = None
    """Address that the site is published at; feed and sitemap need it."""
    contact: Url | None = None
    """Address of a page for corrections and questions."""
    language: Annotated[str, StringConstraints(pattern=LANGUAGE_PATTERN)] = "en"
    """Language of the texts, as en or pt-BR."""
    notice: Text = ""
    """Sentence shown on every page."""
    reference: Reference = Reference()
    """Conditions at which results are compared."""
    licence: Licence | None = None
    """Terms under which others may use the figures and the data files."""
    theme: Id = "notebook"
    """Id of the theme."""
    moment_url: MomentUrl = "{url}#t={seconds}"
    """How the video's host spells the address of a moment; the default is a media fragment (W3C)."""
    moved: dict[PageAddress, PageAddress] = Field(default_factory=dict)
    """Old page address to new page address, as results/a.html: results/b.html."""


class PowerLimitRange(Model):
    """Power limit settings that the card accepts, in percent of its reference board power."""

    min: Positive
    """Lowest setting in %."""
    max: Positive
    """Highest setting in %."""


class Card(Model):
    """`cards/<id>.yaml`: a graphics card under test."""

    name: Name
    """Name of the graphics card."""
    maker: Name | None = None
    """Maker of the card."""
    board_power_w: Positive
    """Reference board power in W."""
    power_limit_pct: PowerLimitRange | None = None
    """Power limit settings that the card accepts, in % of its reference board power."""
    memory_type: Name | None = None
    """Type of memory."""
    memory_gb: Positive | None = None
    """Memory in GB."""
    slots: Positive | None = None
    """Width in slots, with its stock cooler."""
    core_clock_mhz: Positive | None = None
    """Reference core clock in MHz."""
    sensors: tuple[Sensor, ...] = ()
    """What is known of the card's own sensors; of what the card reports they go before the bench's."""
    sensor_notes: Text = ""
    """How the card's sensors are read, in words."""
    notes: Text = ""
    """Anything worth knowing that has no field of its own; plain text."""
    links: tuple[Link, ...] = ()
    """Links that the page shows."""


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
    """Name of the cooler."""
    kind: CoolerKind
    """Kind of cooler: water block, air, stock or hybrid."""
    maker: Name | None = None
    """Maker of the cooler."""
    model_code: Name | None = None
    """The maker's model code."""
    materials: tuple[Name, ...] = ()
    """Materials, as copper or nickel plating."""
    slots: Positive | None = None
    """Width in slots."""
    mass_g: Positive | None = None
    """Mass in g."""
    released: Day | None = None
    """Day of release."""
    reference: bool = False
    """Whether it is retested to show that the bench did not move."""
    notes: Text = ""
    """Anything worth knowing that has no field of its own; plain text."""
    links: tuple[Link, ...] = ()
    """Links that the page shows."""


class Catalogue(Model):
    """A whole archive, validated: every reference resolves. Mapping order is by id."""

    archive: Archive
    cards: dict[str, Card]
    coolers: dict[str, Cooler]
    benches: dict[str, Bench]
    protocols: dict[str, Protocol]
    bundles: dict[str, Bundle]
    assumed: tuple[AssumedAccuracy, ...] = ()
    """What comes with the program for sensors that state no accuracy."""

    def setup(self, bundle_id: str) -> Setup:
        """Return a bundle with everything it names; raises KeyError for an unknown bundle."""
        return self.setup_of(bundle_id, self.bundles[bundle_id])

    def setup_of(self, bundle_id: str, bundle: Bundle) -> Setup:
        """Return the same for a bundle that need not be in the archive yet."""
        return Setup(
            id=bundle_id,
            bundle=bundle,
            card=self.cards[bundle.card],
            cooler=self.coolers[bundle.cooler],
            bench=self.benches[bundle.bench],
            protocol=self.protocols[bundle.protocol],
            assumed=self.assumed,
        )


KINDS: dict[str, type[Model]] = {
    "archive": Archive,
    "card": Card,
    "cooler": Cooler,
    "bench": Bench,
    "protocol": Protocol,
    "bundle": Bundle,
}


@dataclass(frozen=True, kw_only=True)
class Setup:
    """A bundle with everything it names: what was tested, on which card and bench, and by which protocol."""

    id: str
    bundle: Bundle
    card: Card
    cooler: Cooler
    bench: Bench
    protocol: Protocol
    assumed: tuple[AssumedAccuracy, ...] = ()

    def sensor(self, quantity: Quantity) -> Sensor | None:
        """Return the sensor of a quantity on the day of the test: the card's own, or else the bench's."""
        day = self.bundle.tested
        return sensor_on(self.card.sensors, quantity, day) or sensor_on(self.bench.sensors, quantity, day)

    def owner(self, quantity: Quantity) -> str:
        """Return whose sensor of a quantity it is, and which: results with the same one share its errors."""
        own = sensor_on(self.card.sensors, quantity, self.bundle.tested)
        sensor = own or self.sensor(quantity)
        place = f"{self.bundle.card} {self.bundle.card_sample}" if own else self.bundle.bench
        return f"{place} from {sensor.from_}" if sensor and sensor.from_ else place

    def accuracy(self, quantity: Quantity) -> Accuracy:
        """Return the accuracy that is stated of a quantity's sensor, else what is assumed of such a sensor."""
        sensor = self.sensor(quantity)
        if sensor and (sensor.accuracy is not None or sensor.accuracy_pct is not None):
            return Accuracy(absolute=sensor.accuracy or 0.0, pct=sensor.accuracy_pct or 0.0)
        line = next((a for a in self.assumed if a.quantity is quantity), None)
        return Accuracy(absolute=line.accuracy, pct=line.accuracy_pct, assumed=True) if line else Accuracy()


# --- the JSON Schemas of these files, for editors

DIALECT = "https://json-schema.org/draft/2020-12/schema"


def json_schema(kind: str) -> dict[str, Any]:
    """Return the JSON Schema (2020-12) of one kind of file. Raises KeyError for a kind that does not exist.

    >>> json_schema("card")["required"]
    ['name', 'board_power_w']
    """
    schema = KINDS[kind].model_json_schema(by_alias=True, mode="validation")
    parts = schema.get("$defs", {})
    for part in (schema, *parts.values()):
        # A docstring's first line is for readers of an editor's tooltip, the rest for readers of the code.
        if "description" in part:
            part["description"] = part["description"].split("\n")[0].replace("`", "")
        for name, field in part.get("properties", {}).items():
            # The library leaves out the words of a field that are those of its model too.
            words = field.pop("description", None) or parts[field["$ref"].rpartition("/")[2]]["description"]
            field |= {"title": name, "description": words}
    return {"$schema": DIALECT, **schema, "title": f"Soakbook {kind}"}
