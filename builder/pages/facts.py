"""Facts as pages list them, a label with its value: of a card, a cooler, an assembly, and how a result was measured."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable
from dataclasses import dataclass

from builder.archive.bench import Bench, Loop, Sensor
from builder.archive.bundle import Assembly, AssemblyChecks, Pad
from builder.archive.catalogue import Card, Cooler
from builder.archive.fields import Link
from builder.comparison import Subject
from builder.core.quantity import MINUS, NO_BREAK, SYMBOLS
from builder.core.results import Quantity
from builder.pages.parts import Line, Name, Outside, capital, day, joined, plain, protocol_name, setting, text

ASSUMED = "assumed"  # an accuracy that the bench does not state
_REFERENCE = "Reference cooler, retested to show that the bench did not move"
_CHECKS = {
    "leak_tested": "leak test",
    "flow_direction_checked": "flow direction",
    "bled": "loop bled",
    "screws_crosswise": "screws tightened crosswise",
    "card_supported": "card supported",
}


@dataclass(frozen=True, kw_only=True)
class Fact:
    """A label with its value; several values are shown one under the other."""

    label: str
    values: tuple[Line, ...]


def fact(label: str, *values: Line) -> Fact:
    """Return a fact without its empty values."""
    return Fact(label=label, values=tuple(v for v in values if v))


def known(*items: Fact) -> tuple[Fact, ...]:
    """Return the facts that have something to say."""
    return tuple(item for item in items if item.values)


def card_facts(card: Card) -> tuple[Fact, ...]:
    """Return what is known of a card."""
    limits = card.power_limit_pct
    size = plain(card.memory_gb, "GB").text if card.memory_gb else ""
    return known(
        fact("Maker", text(card.maker)),
        fact("Reference board power", (setting(card.board_power_w, "W"),)),
        fact(
            "Power limit range",
            (setting(limits.min, "percent"), " to ", setting(limits.max, "percent")) if limits else (),
        ),
        fact("Reference core clock", (setting(card.core_clock_mhz, "MHz"),) if card.core_clock_mhz else ()),
        fact("Memory", text(" ".join(x for x in (size, card.memory_type) if x))),
        fact("Slots", (plain(card.slots),) if card.slots else ()),
        fact("How its sensors are read", text(card.sensor_notes)),
        fact("Notes", text(card.notes)),
        fact("Links", *_links(card.links)),
    )


def _links(items: Iterable[Link]) -> tuple[Line, ...]:
    return tuple((Outside(text=link.label, url=link.url),) for link in items)


def cooler_facts(cooler: Cooler) -> tuple[Fact, ...]:
    """Return what is known of a cooler."""
    return known(
        fact("Kind", (capital(str(cooler.kind)),)),
        fact("Maker", text(cooler.maker)),
        fact("Maker's model code", text(cooler.model_code)),
        fact("Materials", joined([(Name(text=m),) for m in cooler.materials])),
        fact("Slots", (plain(cooler.slots),) if cooler.slots else ()),
        fact("Mass", (plain(cooler.mass_g, "g"),) if cooler.mass_g else ()),
        fact("Released", (day(cooler.released),) if cooler.released else ()),
        fact("Role in the archive", (_REFERENCE,) if cooler.reference else ()),
        fact("Notes", text(cooler.notes)),
        fact("Links", *_links(cooler.links)),
    )


def assembly_facts(assembly: Assembly) -> tuple[Fact, ...]:
    """Return how the cooler was put on the card."""
    paste = assembly.paste
    pattern: Line = (", pattern: ", Name(text=paste.pattern)) if paste and paste.pattern else ()
    return known(
        fact("Thermal paste", (Name(text=paste.name), *pattern) if paste else ()),
        fact("Thermal pads", *(_pad(pad) for pad in assembly.pads)),
        fact("Checks", *_checks(assembly.checks)),
        fact("Notes", text(assembly.notes)),
    )


def _pad(pad: Pad) -> Line:
    start: Line = (Name(text=pad.where), ": ", plain(pad.thickness_mm, "mm"))
    return (*start, " thick in a gap of ", plain(pad.gap_mm, "mm")) if pad.gap_mm else (*start, " thick")


def _checks(checks: AssemblyChecks) -> tuple[Line, ...]:
    answers = {name: getattr(checks, field) for field, name in _CHECKS.items()}
    done = [name for name, answer in answers.items() if answer is True]
    left = [name for name, answer in answers.items() if answer is False]
    lines = [("Done: " + ", ".join(done),)] if done else []
    return tuple([*lines, ("Not done: " + ", ".join(left),)] if left else lines)


def condition_facts(subject: Subject) -> tuple[Fact, ...]:
    """Return where, when and with what a result was measured."""
    bench, bundle = subject.bench, subject.bundle
    return known(
        fact("Tested", (day(bundle.tested),)),
        fact("Protocol", (protocol_name(subject), f", version {subject.protocol.version}")),
        fact("Mounts", (plain(subject.result.mounts),)),
        fact("Card sample", (Name(text=bundle.card_sample.upper()),)),
        fact("Bench", (Name(text=bench.name),)),
        fact("Bench description", text(bench.description)),
        fact("Room", text(bench.room)),
        fact("Altitude", (plain(bench.altitude_m, "m", decimals=0),)),
        fact("Ambient", _by_hand(subject)),
        fact("Loop", *(_loop(bench.loop) if subject.cooler.kind.liquid and bench.loop else ())),
        fact("Sound", _sound(bench)),
        fact("Sensors", *(_sensor(subject, quantity) for quantity in _measured(subject))),
        fact("Bench changes", *_changes(bench)),
    )


def _by_hand(subject: Subject) -> Line:
    runs = [run for mount in subject.bundle.mounts for run in mount.runs]
    by_hand = sum(run.ambient_c is not None for run in runs)
    if not by_hand:
        return ()
    if by_hand == len(runs):
        return ("read by hand, once for each run",)
    return (f"read by hand in {by_hand} of {len(runs)} runs, logged in the others",)


def _loop(loop: Loop) -> tuple[Line, ...]:
    share = setting(round(100 * loop.mass_fraction, 1), "percent").text if loop.mass_fraction else ""
    lines: tuple[Line, ...] = (
        (f"Coolant: {loop.coolant}" + (f", mass fraction {share}" if share else ""),),
        ("Radiators: ", Name(text=loop.radiators)) if loop.radiators else (),
        ("Pump: ", Name(text=loop.pump)) if loop.pump else (),
    )
    return tuple(line for line in lines if line)


def _sound(bench: Bench) -> Line:
    sound = bench.sound
    if sound is None:
        return ()
    return (
        "background ", setting(sound.background_dba, "dBA"), ", measured at ", plain(sound.distance_m, "m"),
        ", reported at ", plain(sound.report_at_m, "m"),
    )  # fmt: skip


def _changes(bench: Bench) -> tuple[Line, ...]:
    """Return what changed on a bench, oldest first: what its tester wrote, and its new sensors."""
    noted: list[tuple[dt.date, Line]] = [(c.date, (day(c.date), ": ", Name(text=c.text))) for c in bench.changes]
    noted += [(s.from_, (day(s.from_), ": ", *_new_sensor(s))) for s in bench.sensors if s.from_]
    return tuple(line for _, line in sorted(noted, key=lambda change: change[0]))


def _new_sensor(sensor: Sensor) -> Line:
    name: Line = (" (", Name(text=sensor.name), ")") if sensor.name else ()
    return (f"another sensor of {str(sensor.quantity).replace('_', ' ')}", *name)


def _measured(subject: Subject) -> Iterable[Quantity]:
    """Return what card and bench have sensors for, then what else was logged and has an accuracy that is assumed."""
    logged = {q for point in subject.result.points for run in point.runs for q in run.traces}
    stated = (*subject.card.sensors, *subject.bench.sensors)
    declared = list(dict.fromkeys(sensor.quantity for sensor in stated if subject.sensor(sensor.quantity)))
    return (*declared, *(q for q in Quantity if q in logged and q not in declared and subject.accuracy(q).assumed))


def _sensor(subject: Subject, quantity: Quantity) -> Line:
    sensor = subject.sensor(quantity) or Sensor(quantity=quantity)
    symbol = "K" if quantity.unit == "degC" else SYMBOLS[quantity.unit]  # of a difference
    named: Line = (" (", Name(text=sensor.name), ")") if sensor.name else ()
    accuracy = subject.accuracy(quantity)
    mark = f" ({ASSUMED})" if accuracy.assumed else ""
    details = [
        f"±{accuracy.absolute:g}{NO_BREAK}{symbol}{mark}" if accuracy.absolute or sensor.accuracy is not None else "",
        f"±{accuracy.pct:g}{NO_BREAK}% of reading{mark}" if accuracy.pct or sensor.accuracy_pct is not None else "",
        f"resolution {sensor.resolution:g}{NO_BREAK}{symbol}" if sensor.resolution is not None else "",
        f"{sensor.averaging} reading" if sensor.averaging else "",
        f"readings times {sensor.gain:g}" if sensor.gain != 1.0 else "",
        f"corrected by {_signed(sensor.offset)}{NO_BREAK}{symbol}" if sensor.offset else "",
    ]
    stated = ", ".join(d for d in details if d)
    how: Line = ("; ", Name(text=sensor.calibrated)) if sensor.calibrated else ()
    return (capital(str(quantity).replace("_", " ")), *named, f": {stated}" if stated else "", *how)


def _signed(number: float) -> str:
    return f"{number:+g}".replace("-", MINUS)
