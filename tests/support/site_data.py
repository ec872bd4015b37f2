"""A small invented archive with figures, for tests of views and pages: every awkward case a result can have."""

from __future__ import annotations

import datetime as dt
import math

from builder.archive.bench import Bench, ColumnMeaning, Loop, Reader, Sensor, SoundSetup, TimeColumn
from builder.archive.bundle import (
    Assembly,
    AssemblyChecks,
    Bundle,
    Correction,
    Episode,
    EpisodeMoment,
    Mount,
    Pad,
    Paste,
    Run,
    Supplied,
)
from builder.archive.catalogue import Archive, Card, Catalogue, Cooler, CoolerKind, PowerLimitRange
from builder.archive.fields import DatedNote, Link
from builder.archive.protocol import AmbientBand, PointRef, PointRole, Protocol, SettleLimits, TestPoint, Workload
from builder.core.quantity import Estimate
from builder.core.results import (
    BundleResult,
    Change,
    Component,
    Figure,
    PointResult,
    PowerLine,
    Quantity,
    RunResult,
    Settlement,
    Verdict,
    Window,
)

ARABIC = "مبرد الفانوس"
HOSTILE = '<script>alert(1)</script> & "Fold"'

POINTS = {
    "idle": ("Idle", PointRole.IDLE, 0.12),
    "stock": ("Stock", PointRole.STOCK, 1.0),
    "power-80": ("Power limit 80 %", PointRole.POWER_LIMIT, 0.8),
    "power-60": ("Power limit 60 %", PointRole.POWER_LIMIT, 0.6),
    "undervolt": ("Undervolt", PointRole.UNDERVOLT, 0.78),
    "overclock": ("Overclock, raised power limit", PointRole.OVERCLOCK, 1.12),
    "closing": ("Closing stock", PointRole.CLOSING, 1.0),
}


def protocol() -> Protocol:
    """Return a protocol with seven test points."""
    points = tuple(
        TestPoint(
            id=key,
            name=name,
            role=role,
            settings=f"Settings of {name.lower()}.",
            loop_s=90.0,
            equivalent=(PointRef(protocol="short", point="stock"),) if key == "stock" else (),
        )
        for key, (name, role, _) in POINTS.items()
    )
    return Protocol(
        name="Soak 10",
        version=2,
        summary="The full session, soaked for at least ten minutes.",
        ambient=AmbientBand(),
        air=SettleLimits(tau_s=150.0, window_s=300.0, soak_s=600.0),
        liquid=SettleLimits(tau_s=600.0, window_s=600.0, soak_s=1200.0),
        mounts=2,
        workloads=(Workload(name="game loop", description="A scene that repeats."),),
        points=points,
    )


def short_protocol() -> Protocol:
    """Return a protocol with a stock point only."""
    whole = protocol()
    stock = TestPoint(id="stock", name="Stock", role=PointRole.STOCK)
    return Protocol(name="Brief 5", version=1, air=whole.air, liquid=whole.liquid, points=(stock,))


def bench() -> Bench:
    """Return a bench with a loop, a sound meter and a dated change."""
    return Bench(
        name="Open frame",
        description="Open test frame on a table, fans of the room off.",
        altitude_m=120.0,
        room="4 m by 3 m, door closed",
        sensors=(
            Sensor(quantity=Quantity.AMBIENT_TEMPERATURE, name="Probe 1", accuracy=0.2, resolution=0.1),
            Sensor(quantity=Quantity.BOARD_POWER, accuracy_pct=1.0, resolution=0.01, averaging="averaged"),
        ),
        readers=(
            Reader(
                id="bench-log",
                match=("Time",),
                time=TimeColumn(column="Time"),
                columns={"Core": ColumnMeaning(quantity=Quantity.CORE_TEMPERATURE, unit="degC")},
            ),
        ),
        loop=Loop(coolant="propylene glycol", mass_fraction=0.25, radiators="two of 360 mm", pump="one, 60 % duty"),
        sound=SoundSetup(background_dba=24.0, distance_m=0.5),
        changes=(DatedNote(date=dt.date(2025, 11, 2), text="New ambient probe."),),
    )


def catalogue() -> Catalogue:
    """Return an archive of two cards and six coolers with seven results."""
    return Catalogue(
        archive=Archive(
            channel="Cold Lantern",
            title="Cold Lantern cooler archive",
            summary="What coolers do on small graphics cards, measured with their uncertainty.",
            base_url="https://lantern.example/coolers/",
            contact="https://lantern.example/contact",
            notice="Everything here is invented to show how an archive looks.",
            moved={"results/slab.html": "results/slab-on-780.html"},
        ),
        cards=cards(),
        coolers=coolers(),
        benches={"open-frame": bench()},
        protocols={"short": short_protocol(), "soak-10": protocol()},
        bundles=bundles(),
    )


def cards() -> dict[str, Card]:
    """Return two cards, one described in full."""
    return {
        "orrery-740": Card(name="Orrery 740", board_power_w=165.0),
        "orrery-780": Card(
            name="Orrery 780",
            maker="Orrery",
            board_power_w=285.0,
            power_limit_pct=PowerLimitRange(min=50.0, max=115.0),
            memory_type="stacked",
            memory_gb=16.0,
            slots=2.5,
            core_clock_mhz=2475.0,
            sensor_notes="Core, hotspot and memory by the card's own sensors.",
            links=(Link(label="Maker's page", url="https://orrery.example/780"),),
        ),
    }


def coolers() -> dict[str, Cooler]:
    """Return coolers of every kind, with names that are hard on a page."""
    return {
        "fold": Cooler(name=HOSTILE, kind=CoolerKind.AIR),
        "lantern": Cooler(name=ARABIC, kind=CoolerKind.HYBRID),
        "riffle": Cooler(name="Moorhen Riffle", kind=CoolerKind.WATER_BLOCK),
        "slab": Cooler(
            name="Fenwick Slab",
            kind=CoolerKind.WATER_BLOCK,
            maker="Fenwick",
            model_code="FS-780",
            materials=("copper", "nickel", "acetal"),
            slots=1.0,
            mass_g=940.0,
            released=dt.date(2025, 9, 1),
            notes="Full cover, memory and supply stages included.",
        ),
        "stock": Cooler(name="Orrery 780 stock cooler", kind=CoolerKind.STOCK, reference=True),
        "twin": Cooler(name="Gritstone Twin", kind=CoolerKind.AIR),
    }


def bundles() -> dict[str, Bundle]:
    """Return bundles: one with everything, others with one thing missing each."""
    return {
        "fold-on-740": _bundle("fold", card="orrery-740", tested=dt.date(2025, 3, 9), points=("stock",)),
        "lantern-on-780": _bundle("lantern", tested=dt.date(2026, 2, 1), points=("stock", "power-80")),
        "riffle-on-780": _bundle("riffle", tested=dt.date(2026, 3, 14)),
        "slab-on-740": _bundle(
            "slab", card="orrery-740", tested=dt.date(2025, 6, 2), points=("stock",), protocol="short"
        ),
        "slab-on-780": _full_bundle(),
        "stock-on-780": _bundle("stock", tested=dt.date(2025, 10, 20)),
        "twin-on-780": _bundle("twin", tested=dt.date(2025, 12, 5), points=("power-80", "power-60")),
    }


def _bundle(
    cooler: str,
    *,
    tested: dt.date,
    card: str = "orrery-780",
    points: tuple[str, ...] = tuple(POINTS),
    protocol: str = "soak-10",
) -> Bundle:
    return Bundle(
        card=card, cooler=cooler, bench="open-frame", protocol=protocol, tested=tested, mounts=(_mount(points),)
    )


def _mount(points: tuple[str, ...], number: int = 1, ambient_c: float | None = None) -> Mount:
    return Mount(runs=tuple(Run(point=p, log=f"m{number}-{p}.csv", ambient_c=ambient_c) for p in points))


def _full_bundle() -> Bundle:
    return Bundle(
        card="orrery-780",
        cooler="slab",
        bench="open-frame",
        protocol="soak-10",
        tested=dt.date(2026, 4, 18),
        summary="A full-cover block on the large card.",
        episode=Episode(
            number=31,
            title="A slab of copper",
            url="https://video.example/31",
            published=dt.date(2026, 4, 25),
            length="14:05",
            moments=(EpisodeMoment(at="0:40", label="What is in the box"), EpisodeMoment(at="6:40", label="Results")),
        ),
        supplied_by=Supplied.MAKER_SAMPLE,
        assembly=Assembly(
            paste=Paste(name="Tallow 4", pattern="cross"),
            pads=(Pad(where="memory", thickness_mm=1.5, gap_mm=1.3), Pad(where="supply stages", thickness_mm=2.0)),
            checks=AssemblyChecks(leak_tested=True, bled=True, screws_crosswise=True, card_supported=False),
            notes="Backplate left on.",
        ),
        mounts=(_mount(tuple(POINTS)), _mount(tuple(POINTS), 2, ambient_c=22.4)),
        corrections=(
            Correction(
                date=dt.date(2026, 5, 3),
                figure="stock/core_rise",
                was="30.9 K",
                now="31.2 K",
                reason="The ambient probe hung too close to the radiator.",
            ),
        ),
    )


# --- figures ---------------------------------------------------------------------------------------------------

# Rise of the core at stock, and at memory; K/W follow from the power.
RISES = {"fold-on-740": 52.0, "lantern-on-780": 34.1, "riffle-on-780": 31.6, "slab-on-740": 19.4, "slab-on-780": 31.2}
RISES |= {"stock-on-780": 47.8, "twin-on-780": 41.0}


def results() -> dict[str, BundleResult]:
    """Return the figures of every bundle of the catalogue."""
    return {key: _result(key, bundle) for key, bundle in bundles().items()}


def _result(key: str, bundle: Bundle) -> BundleResult:
    ids = [run.point for run in bundle.mounts[0].runs]
    watts = 165.0 if bundle.card == "orrery-740" else 285.0
    points = tuple(_point(key, point, watts, len(bundle.mounts)) for point in ids)
    stock = next((p for p in points if p.point == "stock"), None)
    points = tuple(_with_changes(p, stock) for p in points)
    lines = {"core_rise": _line(RISES[key], watts, fits=key != "stock-on-780")} if len(ids) > 3 else {}
    return BundleResult(bundle=key, points=points, lines=lines, mounts=len(bundle.mounts))


def _verdict(key: str, point: str) -> Verdict:
    if key == "lantern-on-780":
        return Verdict.DRIFTING if point == "stock" else Verdict.UNDECIDED
    return Verdict.TOO_SHORT if (key, point) == ("riffle-on-780", "overclock") else Verdict.SETTLED


def _point(key: str, point: str, watts: float, mounts: int) -> PointResult:
    name, _, share = POINTS[point]
    verdict = _verdict(key, point)
    figures = {} if verdict is Verdict.TOO_SHORT else _figures(key, point, watts * share, share)
    runs = tuple(_run(key, point, mount, verdict, figures) for mount in range(1, mounts + 1))
    note = "Its share in the uncertainty is the protocol's declared 0.5 K." if mounts == 1 else "Pooled over 2 mounts."
    return PointResult(point=point, name=name, runs=runs, figures=figures, changes={}, verdict=verdict, mount_note=note)


def _run(key: str, point: str, mount: int, verdict: Verdict, figures: dict[str, Figure]) -> RunResult:
    messages = {
        Verdict.SETTLED: "Settled: remaining approach 0.08 ± 0.21 K (limit 0.5 K, τ 30 s).",
        Verdict.DRIFTING: "Still drifting: at least 1.4 K from equilibrium; run longer.",
        Verdict.UNDECIDED: "Cannot tell: 0.17 ± 0.41 K spans the 0.5 K limit; use a longer window.",
        Verdict.TOO_SHORT: "Too short: 210 s of 1800 s.",
    }
    short = verdict is Verdict.TOO_SHORT
    return RunResult(
        mount=mount,
        point=point,
        log=f"m{mount}-{point}.csv",
        settlement=Settlement(
            verdict=verdict,
            message=messages[verdict],
            tau_s=600.0,
            limit_k=0.5,
            window=None if short else Window(start_s=1200.0, end_s=1800.0),
            notes=("2 spikes removed",) if point == "power-60" else (),
        ),
        figures=figures,
        repairs=("1 repeated header row skipped",) if point == "idle" else (),
        ambient_in_band=key != "stock-on-780" or point != "power-60",
    )


def _figures(key: str, point: str, power: float, share: float) -> dict[str, Figure]:
    rise = RISES[key] * (share if point != "idle" else 0.2)
    values = {
        "core_rise": (rise, 0.19, "K"),
        "hotspot_rise": (rise * 1.3, 0.26, "K"),
        "memory_rise": (rise * 1.1, 0.3, "K"),
        "core_temperature": (rise + 22.6, 0.24, "degC"),
        "memory_temperature": (rise * 1.1 + 22.6, 0.34, "degC"),
        "core_psi": (rise / power, 0.0009, "K/W"),
        "board_power": (power, 1.4, "W"),
        "core_clock": (2475 * (0.7 + 0.3 * share), 3.0, "MHz"),
        "ambient_temperature": (22.6, 0.1, "degC"),
        "fan_speed": (1450.0 * share, 9.0, "rpm"),
        "sound_level": (31.5, 0.4, "dBA"),
    }
    if point != "idle":
        values |= {"frame_rate": (118.0 * share**0.4, 0.8, "1/s"), "low_1pct": (88.0 * share**0.4, 1.9, "1/s")}
        values |= {"frames_per_joule": (118.0 * share**0.4 / power, 0.003, "1/J")}
    for missing in MISSING.get(key, ()):
        values.pop(missing, None)
    return {kind: _figure(kind, *numbers) for kind, numbers in values.items()}


MISSING = {
    "fold-on-740": ("memory_rise", "memory_temperature", "hotspot_rise", "frame_rate", "low_1pct", "frames_per_joule"),
    "slab-on-740": ("core_rise", "core_psi", "memory_rise", "ambient_temperature"),
}


def _figure(kind: str, value: float, u: float, unit: str) -> Figure:
    return Figure(
        kind=kind,
        estimate=Estimate(value=value, u=u, unit=unit, dof=24.0),
        samples=600,
        budget=_budget(u) if kind in ("core_rise", "core_temperature", "core_psi") else (),
        definition="the frame rate at the 99th percentile of frame times" if kind == "low_1pct" else "",
    )


def _budget(u: float) -> tuple[Component, ...]:
    return (
        Component(name="scatter of the readings", kind="A", u=0.4 * u, unit="K", dof=31.0),
        Component(name="mount to mount", kind="A", u=0.8 * u, unit="K", dof=4.0),
        Component(name="ambient sensor", kind="B", u=0.45 * u, unit="K", dof=math.inf, sensitivity=-1.0),
    )


def _with_changes(point: PointResult, stock: PointResult | None) -> PointResult:
    if stock is None or point.point in ("stock", "idle") or not point.figures:
        return point
    changes = {kind: _change(kind, figure, stock.figures[kind]) for kind, figure in point.figures.items()}
    return PointResult(
        point=point.point,
        name=point.name,
        runs=point.runs,
        figures=point.figures,
        changes=changes,
        verdict=point.verdict,
        mount_note=point.mount_note,
    )


def _change(kind: str, here: Figure, stock: Figure) -> Change:
    unit = "K" if here.estimate.unit == "degC" else here.estimate.unit
    difference = here.estimate.value - stock.estimate.value
    percent = Estimate(value=100 * difference / stock.estimate.value, u=0.6, unit="percent", dof=30.0)
    return Change(
        kind=kind,
        absolute=Estimate(value=difference, u=1.2 * here.estimate.u, unit=unit, dof=30.0),
        percent=None if unit == "K" and kind.endswith("temperature") else percent,
    )


def _line(rise: float, watts: float, *, fits: bool) -> PowerLine:
    slope = rise / watts
    return PowerLine(
        kind="core_rise",
        intercept=Estimate(value=0.4, u=0.3, unit="K", dof=3.0),
        slope=Estimate(value=slope, u=0.0012, unit="K/W", dof=3.0),
        covariance=-1e-4,
        low_w=0.6 * watts,
        high_w=1.12 * watts,
        points=("power-60", "power-80", "stock", "overclock"),
        fits=fits,
        chi2_p=0.4 if fits else 0.001,
    )
