"""Archives in which pairs of results are of every kind: told apart, too close, not judged, by Ψ, not comparable."""

from __future__ import annotations

import datetime as dt
from dataclasses import replace

from builder.archive.catalogue import CoolerKind
from builder.archive.protocol import SpreadByKind
from builder.comparison import Tested
from builder.core.results import Bound, Verdict
from tests.support.invented import Given, Shot, air, archive_of, power_line
from tests.support.site_data import catalogue, results


def small() -> Tested:
    """The small archive."""
    return Tested(catalogue=catalogue(), results=results())


def lowered(name: str, slope: float, protocol: str, **more: object) -> Given:
    """A bundle at three powers with a straight line through them."""
    watts = {"stock": 280.0, "power-80": 228.0, "power-60": 171.0}
    shots = {p: Shot(values={"core_rise": [slope * w], "board_power": [w, w + 1]}) for p, w in watts.items()}
    line = power_line(0.0, slope, span=(171.0, 281.0))
    return Given(id=name, shots=shots, lines={"core_rise": line}, protocol=protocol, **more)  # type: ignore[arg-type]


def every_rule() -> Tested:
    """Winners both ways, ties, luck, Ψ, samples, drift, the room, bounds, other definitions, odd names."""
    loud = {
        "board_power": [220.0, 220.1],
        "core_rise": [29.0],
        "sound_level": [36.0, 36.1],
        "frame_rate": [90.0, 90.1],
        "core_temperature": [51.0],
    }
    quiet = {
        "board_power": [285.0, 285.1],
        "core_rise": [34.0],
        "sound_level": [31.0, 31.1],
        "frame_rate": [99.0, 99.1],
        "core_temperature": [55.0],
    }
    return archive_of(
        [
            lowered("blade", 0.14, "soak-10"),
            lowered("brook", 0.10, "brief-5"),
            lowered("bank", 0.1005, "brief-5", kind=CoolerKind.WATER_BLOCK),
            Given(id="loud", shots={"stock": Shot(values=loud)}),
            Given(id="quiet", shots={"stock": Shot(values=quiet)}),
            Given(id="bound", shots={"stock": Shot(values={"sound_level": [24.0, 24.1]}, bound=Bound.UPPER)}),
            Given(id="otherwise", shots={"stock": Shot(values={"frame_rate": [70.0]}, definition="of the menu")}),
            Given(
                id="slow",
                shots={"stock": Shot(values={"core_rise": [30.0]}, verdict=Verdict.DRIFTING, bound=Bound.LOWER)},
            ),
            Given(id="warm", shots={"stock": Shot(values={"core_rise": [30.0]}, in_band=False)}),
            Given(id="lone", kind=CoolerKind.HYBRID, shots={"stock": Shot(values={"sound_level": [30.0]})}),
            air("near-1", 29.4),
            air("near-2", 29.75),
            air("again-1", 33.0, cooler="again"),
            air("again-2", 33.2, cooler="again", tested=dt.date(2026, 5, 1)),
            air("sample", 30.0, sample="b"),
            air("sample-too", 36.0, sample="b"),
            air("far", 30.0, card="tarn-x9"),
        ],
        spread=SpreadByKind(air=0.2, liquid=0.2),
    )


def odd_names() -> Tested:
    """Names that look like what the page fills in, or like markup."""
    found = archive_of([air("x", 26.0), air("y", 30.0), air("z", 30.1)], spread=SpreadByKind(air=0.2, liquid=0.2))
    names = {"x": "{b} {d}", "y": '<img src=x onerror="alert(1)">', "z": "$& '\u2028 مبرد 🔥"}
    coolers = {k: c.model_copy(update={"name": names[k]}) for k, c in found.catalogue.coolers.items()}
    return replace(found, catalogue=found.catalogue.model_copy(update={"coolers": coolers}), memo={})


def short_on_the_same_card() -> Tested:
    """A protocol that has a stock point only, beside one that has seven."""
    bundles = catalogue().bundles
    moved = {**bundles, "slab-on-740": bundles["slab-on-740"].model_copy(update={"card": "orrery-780"})}
    return Tested(catalogue=catalogue().model_copy(update={"bundles": moved}), results=results())


ARCHIVES = {
    "short protocol on the same card": short_on_the_same_card,
    "small archive": small,
    "every rule": every_rule,
    "odd names": odd_names,
}
