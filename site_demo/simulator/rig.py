"""The invented cards, coolers and benches as numbers: what the network and the sensors are made of."""

from __future__ import annotations

from dataclasses import dataclass, replace
from hashlib import sha256

import numpy as np
from network import FanControl, Loop, Network


def generator(*name: str) -> np.random.Generator:
    """Return the random generator that belongs to a name, the same on every machine."""
    digest = sha256("/".join(name).encode()).digest()
    return np.random.default_rng(int.from_bytes(digest[:8], "big"))


@dataclass(frozen=True, kw_only=True)
class CardRig:
    """A card: powers in W, clock in MHz, frame rate in 1/s, and how hard its die is to cool."""

    board_w: float
    idle_w: float
    clock_mhz: float
    volts: float
    frame_rate: float
    die_factor: float  # on the contact's resistance: a smaller die is harder to cool
    r_hotspot: float
    core_share: float = 0.72
    memory_share: float = 0.14


@dataclass(frozen=True, kw_only=True)
class CoolerRig:
    """A cooler: its part of the network, its fan, and its sound at 1 m and the reference duty."""

    r_contact: float
    r_sink: float
    c_plate: float
    r_pads: float
    kind: str
    fan: FanControl
    own_loop: Loop | None = None
    flow_factor: float = 1.0
    sound_dba: float = 34.0
    spread_k: float = 0.5  # standard deviation from mount to mount, of core rise at stock


@dataclass(frozen=True, kw_only=True)
class BenchRig:
    """A bench: its loop, resolutions, accuracies (half-widths; power and flow in percent) and noises."""

    loop: Loop
    resolution: dict[str, float]
    accuracy: dict[str, float]
    noise: dict[str, float]
    background_dba: float
    sound_distance_m: float


CARDS = {
    "orrery-740": CardRig(
        board_w=165, idle_w=11, clock_mhz=2310, volts=0.975, frame_rate=71, die_factor=1.25, r_hotspot=0.075
    ),
    "orrery-780": CardRig(
        board_w=285, idle_w=19, clock_mhz=2580, volts=1.005, frame_rate=98, die_factor=1.0, r_hotspot=0.056
    ),
    "tarn-x9": CardRig(
        board_w=340, idle_w=26, clock_mhz=2455, volts=0.962, frame_rate=113, die_factor=0.82, r_hotspot=0.048
    ),
}

LAPWING = Loop(c_coolant=2500, c_radiator=900, r_coolant_radiator=0.012, r_radiator_air=0.058, flow=1.1)

COOLERS = {
    "orrery-740-stock": CoolerRig(
        r_contact=0.058, r_sink=0.175, c_plate=640, r_pads=0.52, kind="stock", spread_k=0.6, sound_dba=35.5,
        fan=FanControl(base=34, slope=1.2, start_c=46, rpm_per_pct=31),
    ),
    "orrery-780-stock": CoolerRig(
        r_contact=0.056, r_sink=0.124, c_plate=960, r_pads=0.40, kind="stock", spread_k=0.45, sound_dba=37.0,
        fan=FanControl(base=36, slope=1.1, start_c=46, rpm_per_pct=29),
    ),
    "tarn-x9-stock": CoolerRig(
        r_contact=0.055, r_sink=0.106, c_plate=1220, r_pads=0.36, kind="stock", spread_k=0.6, sound_dba=38.5,
        fan=FanControl(base=38, slope=1.0, start_c=46, rpm_per_pct=28),
    ),
    "gritstone-twin": CoolerRig(
        r_contact=0.050, r_sink=0.114, c_plate=1240, r_pads=0.42, kind="air", spread_k=0.6, sound_dba=33.0,
        fan=FanControl(base=60, rpm_per_pct=21),
    ),
    "gritstone-fold": CoolerRig(
        r_contact=0.056, r_sink=0.160, c_plate=720, r_pads=0.48, kind="air", spread_k=0.6, sound_dba=36.0,
        fan=FanControl(base=70, reference=70, rpm_per_pct=33),
    ),
    "gritstone-solo": CoolerRig(
        r_contact=0.056, r_sink=0.131, c_plate=900, r_pads=0.46, kind="air", spread_k=0.6, sound_dba=35.0,
        fan=FanControl(base=65, rpm_per_pct=22),
    ),
    "fenwick-slab": CoolerRig(
        r_contact=0.0440, r_sink=0.0460, c_plate=380, r_pads=0.30, kind="water block", spread_k=0.4,
        fan=FanControl(base=50, reference=50, rpm_per_pct=20),
    ),
    "fenwick-slab-s": CoolerRig(
        r_contact=0.0460, r_sink=0.0540, c_plate=240, r_pads=0.34, kind="water block", flow_factor=1.08, spread_k=0.4,
        fan=FanControl(base=50, reference=50, rpm_per_pct=20),
    ),
    "moorhen-riffle": CoolerRig(
        r_contact=0.0445, r_sink=0.0449, c_plate=410, r_pads=0.33, kind="water block", flow_factor=0.9, spread_k=0.4,
        fan=FanControl(base=50, reference=50, rpm_per_pct=20),
    ),
    "lapwing-loop": CoolerRig(
        r_contact=0.048, r_sink=0.050, c_plate=220, r_pads=0.50, kind="hybrid", own_loop=LAPWING, sound_dba=34.5,
        fan=FanControl(base=65, reference=65, rpm_per_pct=23), spread_k=0.45,
    ),
    "lapwing-reed": CoolerRig(
        r_contact=0.051, r_sink=0.056, c_plate=210, r_pads=0.53, kind="hybrid", own_loop=LAPWING, sound_dba=35.5,
        fan=FanControl(base=65, reference=65, rpm_per_pct=24), spread_k=0.45,
    ),
}  # fmt: skip

BENCHES = {
    "back-room": BenchRig(
        loop=Loop(c_coolant=8200, c_radiator=1500, r_coolant_radiator=0.008, r_radiator_air=0.040, flow=3.2),
        resolution={
            "core": 1.0, "hotspot": 1.0, "memory": 1.0, "room": 0.1, "coolant": 0.1, "power": 0.1, "clock": 5,
            "fan": 10, "pump": 10, "flow": 0.01, "rate": 0.1, "sound": 0.1, "volts": 0.001, "load": 1,
        },
        accuracy={
            "core": 0.5, "hotspot": 1.0, "memory": 1.0, "room": 0.3, "coolant": 0.15, "power": 1.5, "flow": 4.0,
            "sound": 1.0,
        },
        noise={
            "core": 0.3, "hotspot": 0.45, "memory": 0.35, "room": 0.04, "coolant": 0.04, "power": 1.2, "flow": 0.02,
            "rate": 0.8, "sound": 0.25, "clock": 4,
        },
        background_dba=25.5,
        sound_distance_m=0.5,
    ),
    "open-frame": BenchRig(
        loop=Loop(c_coolant=9600, c_radiator=1900, r_coolant_radiator=0.007, r_radiator_air=0.037, flow=3.6),
        resolution={
            "core": 0.1, "hotspot": 0.1, "memory": 0.5, "room": 0.01, "coolant": 0.01, "power": 0.1, "clock": 1,
            "fan": 1, "pump": 1, "flow": 0.01, "rate": 0.1, "sound": 0.1, "volts": 0.001, "load": 1,
        },
        accuracy={
            "core": 0.5, "hotspot": 1.0, "memory": 1.0, "room": 0.15, "coolant": 0.1, "power": 1.0, "flow": 3.0,
            "sound": 0.7,
        },
        noise={
            "core": 0.15, "hotspot": 0.25, "memory": 0.25, "room": 0.02, "coolant": 0.02, "power": 0.8, "flow": 0.02,
            "rate": 0.7, "sound": 0.2, "clock": 3,
        },
        background_dba=19.5,
        sound_distance_m=0.5,
    ),
}  # fmt: skip

ON_CARD = ("core", "hotspot", "memory")
RELATIVE = ("power", "flow")


def offset(bench: str, card: str, sensor: str) -> float:
    """Return a sensor's constant error: K, dB, or the part of the reading for power and flow.

    It is drawn evenly from within the declared accuracy. Sensors on the card keep theirs from bench to bench.
    """
    owner = card if sensor in ON_CARD else bench
    half_width = BENCHES[bench].accuracy.get(sensor, 0.0)
    draw = float(generator("sensor", owner, sensor).uniform(-0.8, 0.8))
    return half_width * draw / (100 if sensor in RELATIVE else 1)


@dataclass(frozen=True, kw_only=True)
class MountDraw:
    """How one assembly differs from the expected one: contact in K/W, pads as a factor."""

    contact: float = 0.0
    pads: float = 1.0


def draw_mount(bundle: str, mount: int, cooler: CoolerRig, card: CardRig) -> MountDraw:
    """Return the invented scatter of one mount of a bundle."""
    rng = generator(bundle, f"m{mount}", "mount")
    contact = cooler.spread_k / (card.core_share * card.board_w) * float(rng.standard_normal())
    return MountDraw(contact=contact, pads=1 + 0.03 * float(rng.standard_normal()))


def network(cooler: CoolerRig, card: CardRig, bench: BenchRig, mount: MountDraw) -> Network:
    """Return the network of a cooler on a card, on a bench, in one mount."""
    loop = cooler.own_loop
    if cooler.kind == "water block":
        loop = replace(bench.loop, flow=bench.loop.flow * cooler.flow_factor)
    return Network(
        core_share=card.core_share,
        memory_share=card.memory_share,
        c_die=40.0,
        c_plate=cooler.c_plate,
        c_memory=70.0,
        r_die_plate=cooler.r_contact * card.die_factor + mount.contact,
        r_hotspot=card.r_hotspot,
        r_memory_plate=cooler.r_pads * mount.pads * 165 / card.board_w * 1.6,
        r_memory_air=8.0,
        r_sink=cooler.r_sink,
        fan=cooler.fan,
        loop=loop,
    )
