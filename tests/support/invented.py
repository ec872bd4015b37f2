"""Small invented archives, put together from figures alone, for tests of comparison."""

from __future__ import annotations

import datetime as dt
import math
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field, replace

from builder.archive.bench import Bench, ColumnMeaning, Loop, Reader, Sensor
from builder.archive.bundle import Bundle, Mount, Run
from builder.archive.catalogue import Archive, Card, Catalogue, Cooler, CoolerKind
from builder.archive.protocol import PointRef, PointRole, Protocol, SettleLimits, SpreadByKind, TestPoint
from builder.comparison import Group, Tested, group_of
from builder.core.quantity import Estimate
from builder.core.results import (
    SENSORS,
    Bound,
    BundleResult,
    Component,
    Figure,
    PointResult,
    PowerLine,
    Quantity,
    Role,
    RunResult,
    Settlement,
    Verdict,
)
from builder.reduction.mounts import over_mounts
from builder.uncertainty import estimate_from_budget

LIMITS = SettleLimits(tau_s=150.0, window_s=300.0, soak_s=600.0)
ROLES = {
    "idle": PointRole.IDLE,
    "stock": PointRole.STOCK,
    "power-80": PointRole.POWER_LIMIT,
    "power-60": PointRole.POWER_LIMIT,
    "fan-30": PointRole.MATCHED_CLOCK,
    "fan-60": PointRole.MATCHED_CLOCK,
}
UNITS = {
    "core_rise": "K",
    "core_psi": "K/W",
    "core_coolant_psi": "K/W",
    "board_power": "W",
    "frame_rate": "1/s",
    "sound_level": "dBA",
}


@dataclass(frozen=True, kw_only=True)
class Shot:
    """What a bundle reads at one test point: for each figure, one value a mount, and the u of one run."""

    values: Mapping[str, Sequence[float]]
    u: float = 0.05
    dof: float = math.inf
    verdict: Verdict = Verdict.SETTLED
    allowance_k: float | None = None  # of the protocol, for runs read by hand
    in_band: bool | None = True
    accuracy: Mapping[str, float] = field(default_factory=dict)  # standard, by kind of figure, of an offset
    gain: Mapping[str, float] = field(default_factory=dict)  # standard, by kind of figure, at its reading
    bound: Bound = Bound.NONE
    definition: str = ""
    note: str = ""


@dataclass(frozen=True, kw_only=True)
class Given:
    """One bundle to put into an archive."""

    id: str
    shots: Mapping[str, Shot]
    cooler: str = ""  # its id where it is not the bundle's
    kind: CoolerKind = CoolerKind.AIR
    card: str = "orrery-780"
    sample: str = "a"
    bench: str = "open-frame"
    protocol: str = "soak-10"
    tested: dt.date = dt.date(2026, 4, 18)
    lines: Mapping[str, PowerLine] = field(default_factory=dict)
    loop: Loop | None = None  # of its bench, so one bench has one


def air(name: str, *rises: float, u: float = 0.05, **more: object) -> Given:
    """Return a bundle of an air cooler with one core rise at stock for each mount."""
    return Given(id=name, shots={"stock": Shot(values={"core_rise": rises}, u=u)}, **more)  # type: ignore[arg-type]


def archive_of(
    bundles: Iterable[Given],
    *,
    spread: SpreadByKind | None = None,
    sensors: tuple[Sensor, ...] = (),
    reference: str = "",
) -> Tested:
    """Return an archive of these bundles; soak-10 and brief-5 are equivalent at stock only."""
    given = tuple(bundles)
    protocols = {name: _protocol(name, spread or SpreadByKind()) for name in ("brief-5", "soak-10")}
    catalogue = Catalogue(
        archive=Archive(channel="Cold Lantern"),
        cards={g.card: Card(name=g.card.title(), board_power_w=285.0) for g in given},
        coolers={_cooler(g): Cooler(name=_cooler(g), kind=g.kind, reference=_cooler(g) == reference) for g in given},
        benches={g.bench: _bench(g.bench, sensors, g.loop) for g in given},
        protocols=protocols,
        bundles={g.id: _bundle(g) for g in given},
    )
    return Tested(catalogue=catalogue, results={g.id: _result(g, protocols[g.protocol]) for g in given})


def stock_group(archive: Tested, bundle: str = "") -> Group:
    """Return the group of stock runs that a bundle (or any) belongs to."""
    return group_of(archive, bundle or min(archive.results), "stock")


def power_line(
    intercept: float, slope: float, *, u: float = 0.1, span: tuple[float, float] = (170.0, 300.0), fits: bool = True
) -> PowerLine:
    """Return a line of core rise on power whose coefficients are uncorrelated about 235 W."""
    u_slope = u / 100
    middle = 235.0
    return PowerLine(
        kind="core_rise",
        intercept=Estimate(value=intercept, u=math.hypot(u, middle * u_slope), unit="K"),
        slope=Estimate(value=slope, u=u_slope, unit="K/W"),
        covariance=-middle * u_slope**2,
        low_w=span[0],
        high_w=span[1],
        points=("stock", "power-80", "power-60"),
        fits=fits,
    )


def _cooler(given: Given) -> str:
    return given.cooler or given.id


def _protocol(name: str, spread: SpreadByKind) -> Protocol:
    other = "brief-5" if name == "soak-10" else "soak-10"
    points = [
        TestPoint(
            id=point,
            name=point.replace("-", " ").capitalize(),
            role=role,
            equivalent=(PointRef(protocol=other, point="stock"),) if point == "stock" else (),
        )
        for point, role in ROLES.items()
    ]
    return Protocol(name=name, version=1, air=LIMITS, liquid=LIMITS, mount_spread_k=spread, points=tuple(points))


def _bench(name: str, sensors: tuple[Sensor, ...], loop: Loop | None) -> Bench:
    meaning = ColumnMeaning(quantity=Quantity.CORE_TEMPERATURE, unit="degC")
    return Bench(
        name=name, sensors=sensors, loop=loop, readers=(Reader(id="plain", match=("t",), columns={"t": meaning}),)
    )


def _bundle(given: Given) -> Bundle:
    return Bundle(
        card=given.card,
        card_sample=given.sample,
        cooler=_cooler(given),
        bench=given.bench,
        protocol=given.protocol,
        tested=given.tested,
        mounts=(Mount(runs=tuple(Run(point=p, log="x.csv") for p in given.shots)),),
    )


def _result(given: Given, protocol: Protocol) -> BundleResult:
    points = tuple(_point(p, given.shots[p.id], given, protocol) for p in protocol.points if p.id in given.shots)
    mounts = max(len(run.runs) for run in points)
    return BundleResult(bundle=given.id, points=points, lines=given.lines, mounts=mounts)


def _point(point: TestPoint, shot: Shot, given: Given, protocol: Protocol) -> PointResult:
    spread = protocol.mount_spread_k.liquid if given.kind.liquid else protocol.mount_spread_k.air
    count = max(len(values) for values in shot.values.values())
    runs = tuple(_run(point.id, shot, mount) for mount in range(count))
    kinds = {kind: [r.figures[kind] for r in runs if kind in r.figures] for kind in shot.values}
    figures = {k: over_mounts(f, spread if k.endswith("_rise") else None) for k, f in kinds.items()}
    return PointResult(point=point.id, name=point.name, runs=runs, figures=figures, changes={}, verdict=shot.verdict)


def _run(point: str, shot: Shot, mount: int) -> RunResult:
    figures = {k: _figure(k, v[mount], shot) for k, v in shot.values.items() if mount < len(v)}
    settlement = Settlement(verdict=shot.verdict, message="", tau_s=150.0, limit_k=0.5, allowance_k=shot.allowance_k)
    return RunResult(
        mount=mount + 1,
        point=point,
        log="x.csv",
        settlement=settlement,
        figures=figures,
        ambient_in_band=shot.in_band,
    )


def _figure(kind: str, value: float, shot: Shot) -> Figure:
    unit = UNITS.get(kind, "degC")
    budget = [Component(name="scatter within the run", kind="A", u=shot.u, unit=unit, dof=shot.dof)]
    sensor = next((str(s.quantity) for s in SENSORS if kind in (s.rise, s.psi)), kind)
    for role, stated in ((Role.OFFSET, shot.accuracy), (Role.GAIN, shot.gain)):
        if u := stated.get(kind):
            line = Component(name="sensor accuracy", kind="B", u=u, unit=unit, dof=math.inf, role=role)
            budget.append(replace(line, sensor=Quantity(sensor)))
    estimate = estimate_from_budget(value, unit, budget)
    return Figure(
        kind=kind, estimate=estimate, budget=tuple(budget), definition=shot.definition, note=shot.note, bound=shot.bound
    )
